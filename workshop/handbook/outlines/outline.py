"""An outline at its size: made, measured, and its convex hull where it is not convex."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ..errors import HandbookError, OutOfRange
from .polygons import positive
from .shapes import BUILDERS, Array, Point, heart_hull, joined, regular

NEARLY_EQUAL = 1.05  # greatest length to width still called round or square (trade: square cuts 1.00-1.05)
LIES_DOWN = ("oval", "cushion", "marquise", "rectangle", "cut_corner_rectangle")
"""Outlines that simply lie on their side when the length is given as less than the width."""

MOST_ELONGATED = 8.0  # beyond this no cutter's outline is known; the tables below would be guesswork

LABELS = {
    "round": "round",
    "oval": "oval",
    "cushion": "cushion",
    "pear": "pear",
    "marquise": "marquise",
    "rectangle": "rectangle",
    "cut_corner_rectangle": "cut-corner rectangle",
    "square": "square",
    "triangle": "triangle",
    "kite": "kite",
    "shield": "shield",
    "heart": "heart",
    "polygon": "regular polygon",
}
KEYS = tuple(LABELS)

USUAL_LENGTH_TO_WIDTH = {
    # Near the middle of the ratios in favour listed at brilliantearth.com/popup-l-w-ratio (taste, not a
    # standard): cushion 1.00-1.05, heart .90-1.10, emerald 1.30-1.40, oval 1.30-1.70, pear 1.45-1.75,
    # marquise 1.75-2.30.
    "round": 1.0,
    "oval": 1.35,
    "cushion": 1.05,
    "pear": 1.5,
    "marquise": 2.0,
    "rectangle": 1.35,
    "cut_corner_rectangle": 1.35,
    "square": 1.0,
    "heart": 1.0,
    # No published figure for these four: common practice, no source.
    "triangle": 0.98,
    "kite": 1.5,
    "shield": 1.15,
    "polygon": 1.0,
}


class UnknownOutline(HandbookError):
    """No outline of that name; ``said['known']`` lists the names."""


@dataclass(frozen=True)
class Outline:
    """A girdle outline in plan, centred so that its bounding box has its middle at the origin.

    ``points``: clockwise from the top (from the right where it lies on its side), millimetres; a curve is
    held as spans of ``STEPS`` equal steps of its own parameter. ``corners``: indices into ``points`` where
    two spans meet at an angle (empty for smooth outlines). ``length``: extent along y; ``width``: extent
    along x. ``folds``: how many turns bring it onto itself, None for any turn at all; ``mirrors``: how many
    mirror lines, None for any.
    """

    key: str
    label: str
    points: tuple[Point, ...]
    corners: tuple[int, ...]
    length: float
    width: float
    convex: bool
    curved: bool
    folds: int | None
    mirrors: int | None

    @property
    def array(self) -> Array:
        """The points as an array of shape (n, 2), millimetres."""
        return np.asarray(self.points, dtype=np.float64)

    @property
    def length_to_width(self) -> float:
        """Length divided by width."""
        return self.length / self.width


@dataclass(frozen=True)
class Measured:
    """Length and width (mm) as a gauge gives them, with the rule they were taken by."""

    length: float
    width: float
    rule: str


def make_outline(key: str, *, length: float, width: float, sides: int = 8) -> Outline:
    """The outline ``key`` (one of ``KEYS``) at ``length`` by ``width`` mm; ``sides`` only for a polygon.

    Length lies along the axis of symmetry, so for triangles, hearts and odd polygons it may be less than the
    width. Raises ``UnknownOutline``; ``OutOfRange`` for sizes that are not positive, a length to width
    outside 1/8 to 8, a round or square that is clearly neither, or a polygon outside 3 to 24 sides.
    """
    if key not in LABELS:
        raise UnknownOutline(f"No outline is called {key!r}; choose one of: {', '.join(KEYS)}.", known=KEYS)
    length, width = positive("length", length), positive("width", width)
    ratio = length / width
    if not 1 / MOST_ELONGATED <= ratio <= MOST_ELONGATED:
        raise OutOfRange(f"A length {ratio:.3g} times the width is outside 1/8 to 8; check the two sizes.")
    if key in ("round", "square") and not 1 / NEARLY_EQUAL <= ratio <= NEARLY_EQUAL:
        other = "oval" if key == "round" else "rectangle"
        raise OutOfRange(f"{length:g} x {width:g} mm is not {key}: more than 5 % apart; call it {other}.")
    if key == "polygon" and not 3 <= sides <= 24:
        raise OutOfRange("A regular polygon here has 3 to 24 sides.", sides=sides)
    return _made(key, length, width, sides)


@lru_cache(maxsize=256)
def _made(key: str, length: float, width: float, sides: int) -> Outline:
    ratio = length / width
    lies = ratio < 1 and key in LIES_DOWN
    spans = regular(sides) if key == "polygon" else BUILDERS[key](1 / ratio if lies else ratio)
    if lies:
        spans = tuple(np.column_stack([span[:, 1], -span[:, 0]]) for span in spans)
    label = f"{sides}-sided polygon" if key == "polygon" else LABELS[key]
    folds, mirrors = _symmetry(key, ratio, sides)
    points, corners = joined(spans)
    return Outline(
        key=key,
        label=label,
        points=_stretched(points, length, width),
        corners=corners,
        length=length,
        width=width,
        convex=key != "heart",
        curved=any(len(span) > 2 for span in spans),
        folds=folds,
        mirrors=mirrors,
    )


def usual_length_to_width(key: str, sides: int = 8) -> float:
    """The length to width in favour (taste, not a standard); for a polygon, that of the regular one."""
    if key not in LABELS:
        raise UnknownOutline(f"No outline is called {key!r}; choose one of: {', '.join(KEYS)}.", known=KEYS)
    if key != "polygon":
        return USUAL_LENGTH_TO_WIDTH[key]
    x, y = np.asarray(joined(regular(sides))[0]).T
    return float(np.ptp(y) / np.ptp(x))


def area(outline: Outline) -> float:
    """Area inside the outline, mm2; curves to about 1e-8 of the value."""
    return _extrapolated(outline, _shoelace)


def perimeter(outline: Outline) -> float:
    """Length around the outline, mm; curves to about 1e-8 of the value."""
    return _extrapolated(outline, lambda p: float(np.hypot(*(np.roll(p, -1, axis=0) - p).T).sum()))


def centroid(outline: Outline) -> Point:
    """Centre of area of the outline, mm."""
    p = outline.array
    q = np.roll(p, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    cx, cy = ((p + q) * cross[:, None]).sum(axis=0) / (3 * cross.sum())
    return float(cx), float(cy)


def hull(outline: Outline) -> Outline:
    """The nearest convex outline: itself when convex; a heart has its cleft bridged."""
    if outline.convex:
        return outline
    points, corners = joined(heart_hull())
    fitted = _stretched(points, outline.length, outline.width)
    return replace(
        outline, label=f"{outline.label}, cleft bridged", points=fitted, corners=corners, convex=True
    )


def measure(outline: Outline) -> Measured:
    """Length and width by the rule for the shape (WT-14a), mm.

    Round: the mean of the least and greatest diameter, given for both. Square: the mean of the two
    side-to-side readings. Rectangle: along the longest side, not the diagonal. Heart: width across the lobes,
    length from the point to the line over the lobes. Triangle: width corner to corner on a side, length from
    the middle of that side to the far point. Polygon: the greatest and the least reading (our rule, no
    source). Others: the longest dimension, and the widest at right angles to it.
    """
    key, x, y = outline.key, outline.width, outline.length
    if key in ("round", "square"):
        mean = (x + y) / 2
        rule = (
            "mean of least and greatest diameter"
            if key == "round"
            else "mean of the two side-to-side readings"
        )
        return Measured(mean, mean, rule)
    if key in ("rectangle", "cut_corner_rectangle", "cushion", "shield"):
        return Measured(max(x, y), min(x, y), "along the longest side, not the diagonal, and at right angles")
    if key == "polygon":
        extent = _calipers(outline.array)
        return Measured(
            float(extent.max()), float(extent.min()), "greatest and least reading across the polygon"
        )
    if key == "heart":
        return Measured(y, x, "width across the lobes, length from the point to the line over the lobes")
    if key == "triangle":
        base = outline.array[list(outline.corners[1:3])]
        across = float(np.hypot(*(base[0] - base[1])))
        return Measured(
            y, across, "width corner to corner on a side, length from that side's middle to the point"
        )
    longest, widest = _longest_and_across(outline.array)
    return Measured(longest, widest, "longest dimension, and the widest at right angles")


def _stretched(points: Array, length: float, width: float) -> tuple[Point, ...]:
    low, high = points.min(axis=0), points.max(axis=0)
    fitted = (points - (low + high) / 2) * (np.array([width, length]) / (high - low))
    return tuple(map(tuple, fitted.tolist()))


def _symmetry(key: str, ratio: float, sides: int) -> tuple[int | None, int | None]:
    equal = math.isclose(ratio, 1.0, rel_tol=1e-9)
    if key in ("round", "oval") and equal:
        return None, None
    if key == "polygon" and math.isclose(ratio, usual_length_to_width("polygon", sides), rel_tol=1e-9):
        return sides, sides
    if key in ("square", "rectangle", "cut_corner_rectangle", "cushion") and equal:
        return 4, 4
    if key in ("pear", "triangle", "kite", "shield", "heart") or (key == "polygon" and sides % 2):
        return 1, 1
    return 2, 2


def span_bounds(outline: Outline) -> list[tuple[int, int]]:
    n = len(outline.points)
    starts = outline.corners or (0,)
    stops = (*starts[1:], n + starts[0])
    return list(zip(starts, stops, strict=True))


def _shoelace(p: Array) -> float:
    q = np.roll(p, -1, axis=0)
    return abs(float((p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]).sum())) / 2


def _extrapolated(outline: Outline, figure: Callable[[Array], float]) -> float:
    """Richardson's step: chords err with the square of their step, so two step sizes cancel the error."""
    p = outline.array
    fine = figure(p)
    keep = np.zeros(len(p), dtype=bool)
    for start, stop in span_bounds(outline):
        run = np.arange(start, stop, 2 if (stop - start) % 2 == 0 else 1) % len(p)
        keep[run] = True
    return fine + (fine - figure(p[keep])) / 3


@lru_cache(maxsize=1)
def _caliper_turns() -> Array:
    turn = np.radians(np.arange(0, 180, 0.25))
    return np.vstack([np.sin(turn), np.cos(turn)])


def _calipers(p: Array) -> Array:
    """What a gauge reads across the outline at every quarter degree of half a turn, mm."""
    reach = p @ _caliper_turns()
    return np.asarray(reach.max(axis=0) - reach.min(axis=0), dtype=np.float64)


def _longest_and_across(p: Array) -> tuple[float, float]:
    extent = _calipers(p)
    at = int(extent.argmax())
    return float(extent[at]), float(extent[(at + extent.size // 2) % extent.size])
