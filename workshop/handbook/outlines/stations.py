"""Where the girdle facets of an outline meet, and the straight facets between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import OutOfRange
from .outline import Outline, hull, span_bounds, usual_length_to_width
from .shapes import Array, Point


@dataclass(frozen=True)
class HalfPlane:
    """The inner side of one straight girdle facet: outward azimuth (deg), distance from the centre (mm)."""

    azimuth_deg: float
    distance: float


@dataclass(frozen=True)
class Stations:
    """Where the girdle facets meet, clockwise from the top.

    ``points``: shape (n, 2), mm. ``main``: shape (n,), true where a main facet comes down to the girdle:
    every corner, and every second point along a curve. Between two mains stands one junction on a curve, none
    on a straight side. ``index``: where each point stands in ``Outline.points`` of the convex outline.
    """

    points: Array
    main: NDArray[np.bool_]
    index: NDArray[np.int64]


def stations(outline: Outline, count: int) -> Stations:
    """About ``count`` stations around the outline (of its hull, if it is a heart).

    A curve is divided evenly between its corners, by fours where it has none, so that the ends and the widest
    points are stations; a straight side is never divided. So there are more or fewer than ``count`` where the
    outline asks.
    """
    if count < 3:
        raise OutOfRange("A girdle has at least three facets around.", count=count)
    shape = hull(outline)
    p = shape.array
    spans = span_bounds(shape)
    # At the usual length to width, so that a stretched outline keeps its stations and all its meets.
    upright = p * np.array([1.0, usual_length_to_width(shape.key) * shape.width / shape.length])
    bends = np.array([_bend(upright, start, stop) for start, stop in spans])
    share = 2 * np.round(count * bends / max(float(bends.sum()), 1e-9) / 2 - 1e-6)
    if len(spans) == 1:
        share = np.array([4 * max(1, round(count / 4))])
    parts = np.where(bends > 1e-6, np.maximum(share, 2), 1).astype(int)
    at = [
        (start + round((stop - start) * j / n), j % 2 == 0)
        for (start, stop), n in zip(spans, parts, strict=True)
        for j in range(n)
    ]
    index = np.array([i % len(p) for i, _ in at], dtype=np.int64)
    return Stations(np.asarray(p[index], dtype=np.float64), np.array([main for _, main in at]), index)


def places(outline: Outline, count: int) -> Array:
    """The points of ``stations``, shape (n, 2), mm."""
    return stations(outline, count).points


def half_planes(outline: Outline, count: int) -> tuple[HalfPlane, ...]:
    """The straight girdle facets between the ``places``: azimuth (deg, 0 to 360), distance (mm) of each."""
    p = places(outline, count)
    along = np.roll(p, -1, axis=0) - p
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    azimuth = np.degrees(np.arctan2(normal[:, 0], normal[:, 1])) % 360
    distance = (normal * p).sum(axis=1)
    return tuple(HalfPlane(float(a), float(d)) for a, d in zip(azimuth, distance, strict=True))


def side_lengths(points: Sequence[Point] | Array) -> Array:
    """Length of each side of a closed polygon, shape (n,), mm, in the order given."""
    p = np.asarray(points, dtype=np.float64)
    return np.asarray(np.hypot(*(np.roll(p, -1, axis=0) - p).T), dtype=np.float64)


def _bend(points: Array, start: int, stop: int) -> float:
    """How far the outline turns between two corners, radians."""
    p = points[np.arange(start, stop + 1) % len(points)]
    heading = np.unwrap(np.arctan2(*np.diff(p, axis=0).T))
    return float(heading.max() - heading.min())
