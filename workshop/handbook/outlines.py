"""Girdle outlines: the plan shapes a cutter uses, at any length to width, and how each is measured.

Frame of every chapter that draws or cuts: x runs along the width, y along the length, millimetres; an azimuth
is counted in degrees clockwise from +y as seen face up, so azimuth 0 is twelve o'clock and 90 is three
o'clock. Measuring rules follow a Thai laboratory's page, http://aglthai.com/measurement.php (WT-14a of our
notes); regular polygons follow the closed forms of plane geometry. Shape constants (how far a cushion bulges,
where a pear is widest) are common practice, no source, and are named below.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .errors import HandbookError, OutOfRange

Array = NDArray[np.float64]
Point = tuple[float, float]

STEPS = 240
"""Points in each span of a curve; divisible by every count of facets between corners that is in use."""

CUSHION_POWER = 3.0  # superellipse exponent: 2 is an oval, infinity a rectangle; common practice, no source
CORNER_LEG = 0.17  # leg of a cut corner as a part of the width; common practice, no source
TRIANGLE_BOW = (
    0.07  # how far a side of the triangle bows out, as a part of the side; common practice, no source
)
KITE_SHOULDER = (
    0.35  # where a kite is widest, from its top, as a part of the length; common practice, no source
)
SHIELD_SHOULDER = (
    0.30  # straight part of a shield's sides as a part of the length; common practice, no source
)
HEART_LOBE_AT = 0.44  # centre of a lobe as a part of the half width; the rest is its radius; no source
HEART_LOBE_END = 1.95  # where a lobe passes into the side, radians from its top; no source
HEART_POINT = (0.0, -1.42)  # the heart's point in the same units; no source
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
class HalfPlane:
    """The inner side of one straight girdle facet: outward azimuth (deg), distance from the centre (mm)."""

    azimuth_deg: float
    distance: float


@dataclass(frozen=True)
class Measured:
    """Length and width (mm) as a gauge gives them, with the rule they were taken by."""

    length: float
    width: float
    rule: str


@dataclass(frozen=True)
class PolygonMeasures:
    """A regular polygon measured in every way that is called its diameter.

    ``circumscribed``: circle through the corners, 2R. ``inscribed``: circle inside the sides, 2r.
    ``flat_to_point``: what a gauge reads from a side to the opposite corner, R + r; None for an even count,
    where a side faces a side. ``flat_to_flat``: 2r for an even count; None for an odd count, which has no
    parallel sides. ``point_to_point``: the greatest reading, corner to the farthest corner. All mm; ``area``
    mm2.
    """

    sides: int
    side: float
    circumradius: float
    inradius: float
    area: float
    perimeter: float
    circumscribed: float
    inscribed: float
    flat_to_flat: float | None
    flat_to_point: float | None
    point_to_point: float


def regular_polygon(sides: int, side: float) -> PolygonMeasures:
    """Every measure of a regular polygon from its count of sides (3 or more) and the length of one (mm).

    R = s / (2 sin(pi/n)), r = s / (2 tan(pi/n)), area = n s^2 / (4 tan(pi/n)): plane geometry, exact.

    >>> round(regular_polygon(6, 1.0).area, 7)
    2.5980762
    """
    if sides < 3:
        raise OutOfRange("A polygon has at least three sides.", sides=sides)
    _positive("side", side)
    turn = math.pi / sides
    big, small = side / (2 * math.sin(turn)), side / (2 * math.tan(turn))
    odd = sides % 2 == 1
    return PolygonMeasures(
        sides=sides,
        side=side,
        circumradius=big,
        inradius=small,
        area=sides * side * side / (4 * math.tan(turn)),
        perimeter=sides * side,
        circumscribed=2 * big,
        inscribed=2 * small,
        flat_to_flat=None if odd else 2 * small,
        flat_to_point=big + small if odd else None,
        point_to_point=2 * big * math.cos(turn / 2) if odd else 2 * big,
    )


def regular_polygon_from_width(sides: int, width: float, *, across: str) -> PolygonMeasures:
    """The same from a reading: ``across`` names which, one of the diameter fields of ``PolygonMeasures``."""
    unit = regular_polygon(sides, 1.0)
    named = ("circumscribed", "inscribed", "flat_to_flat", "flat_to_point", "point_to_point")
    reading = getattr(unit, across) if across in named else None
    if reading is None:
        raise OutOfRange(
            f"A polygon of {sides} sides has no reading called {across!r}.", sides=sides, across=across
        )
    _positive("width", width)
    return regular_polygon(sides, width / float(reading))


def make_outline(key: str, *, length: float, width: float, sides: int = 8) -> Outline:
    """The outline ``key`` (one of ``KEYS``) at ``length`` by ``width`` mm; ``sides`` only for a polygon.

    Length lies along the axis of symmetry, so for triangles, hearts and odd polygons it may be less than the
    width. Raises ``UnknownOutline``; ``OutOfRange`` for sizes that are not positive, a length to width
    outside 1/8 to 8, a round or square that is clearly neither, or a polygon outside 3 to 24 sides.
    """
    if key not in LABELS:
        raise UnknownOutline(f"No outline is called {key!r}; choose one of: {', '.join(KEYS)}.", known=KEYS)
    length, width = _positive("length", length), _positive("width", width)
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
    spans = _regular(sides) if key == "polygon" else _BUILDERS[key](1 / ratio if lies else ratio)
    if lies:
        spans = tuple(np.column_stack([span[:, 1], -span[:, 0]]) for span in spans)
    label = f"{sides}-sided polygon" if key == "polygon" else LABELS[key]
    folds, mirrors = _symmetry(key, ratio, sides)
    points, corners = _joined(spans)
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
    x, y = np.asarray(_joined(_regular(sides))[0]).T
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
    points, corners = _joined(_heart_hull())
    fitted = _stretched(points, outline.length, outline.width)
    return replace(
        outline, label=f"{outline.label}, cleft bridged", points=fitted, corners=corners, convex=True
    )


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
    spans = _span_bounds(shape)
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


# Shapes, each at the given length to width as a tuple of spans, clockwise from the top.

Spans = tuple[Array, ...]


def _ellipse(_ratio: float) -> Spans:
    turn = np.linspace(0, 2 * math.pi, 4 * STEPS + 1)
    return (np.column_stack([np.sin(turn), np.cos(turn)]),)


def _cushion(_ratio: float) -> Spans:
    turn = np.linspace(0, 2 * math.pi, 4 * STEPS + 1)
    s, c = np.sin(turn), np.cos(turn)
    reach = (np.abs(s) ** CUSHION_POWER + np.abs(c) ** CUSHION_POWER) ** (-1 / CUSHION_POWER)
    return (np.column_stack([reach * s, reach * c]),)


def _marquise(ratio: float) -> Spans:
    right = _bow_right(half=max(ratio, 1.25), bulge=1.0)
    return right, -right


def _pear(ratio: float) -> Spans:
    """A half circle below the widest place and two arcs above it, upright where they meet."""
    tail = _bow_right(half=2 * max(ratio, 1.2) - 1, bulge=1.0)[: STEPS // 2 + 1]
    turn = np.linspace(math.pi / 2, 3 * math.pi / 2, STEPS + 1)
    head = np.column_stack([np.sin(turn), np.cos(turn)])
    back = tail[::-1] * [-1, 1]
    return (np.vstack([tail, head[1:], back[1:]]),)


def _rectangle(ratio: float) -> Spans:
    return _straight([(1, ratio), (1, -ratio), (-1, -ratio), (-1, ratio)])


def _square(_ratio: float) -> Spans:
    return _rectangle(1.0)


def _cut_corner_rectangle(ratio: float) -> Spans:
    leg = 2 * CORNER_LEG
    a, b = 1 - leg, ratio - leg
    return _straight([(a, ratio), (1, b), (1, -b), (a, -ratio), (-a, -ratio), (-1, -b), (-1, b), (-a, ratio)])


def _triangle(_ratio: float) -> Spans:
    side = _bow_right(half=1.0, bulge=2 * TRIANGLE_BOW)
    spans = []
    for turn in (math.pi / 3, math.pi, 5 * math.pi / 3):
        out = np.array([math.sin(turn), math.cos(turn)]) / math.sqrt(3)
        along = np.array([-math.cos(turn), math.sin(turn)])
        spans.append(out + side[:, :1] * out * math.sqrt(3) + side[:, 1:] * along)
    return tuple(spans)


def _kite(_ratio: float) -> Spans:
    return _straight([(0, 1), (1, 1 - 2 * KITE_SHOULDER), (0, -1), (-1, 1 - 2 * KITE_SHOULDER)])


def _shield(ratio: float) -> Spans:
    """Flat top, upright sides, then two arcs that leave the sides smoothly and meet in a point."""
    half = max(ratio, 1.0)
    shoulder = half * (1 - 2 * SHIELD_SHOULDER)
    arc = _bow_right(half=shoulder + half, bulge=1.0)[STEPS // 2 :] + np.array([0.0, shoulder])
    right = _resampled(arc, STEPS)
    left = right[::-1] * [-1, 1]
    top = [np.array([(-1.0, half), (1.0, half)]), np.array([(1.0, half), (1.0, shoulder)])]
    return top[0], top[1], right, left, np.array([(-1.0, shoulder), (-1.0, half)])


def _heart(_ratio: float) -> Spans:
    """Two round lobes, two bowed sides; because of the cleft no one convex solid can be it."""
    right = _heart_right(-math.asin(HEART_LOBE_AT / (1 - HEART_LOBE_AT)))
    return right, right[::-1] * np.array([-1.0, 1.0])


def _heart_hull() -> Spans:
    """The heart with its cleft bridged from the top of one lobe to the top of the other."""
    right = _heart_right(0.0)
    left = right[::-1] * [-1, 1]
    return np.array([left[-1], right[0]]), right, left


def _heart_right(start: float) -> Array:
    """The right half from ``start`` (radians around the lobe, 0 its top) down to the point."""
    turn = np.linspace(start, HEART_LOBE_END, STEPS + 1)
    radius = 1 - HEART_LOBE_AT
    lobe = np.column_stack([HEART_LOBE_AT + radius * np.sin(turn), radius * np.cos(turn)])
    end, leaving = lobe[-1], np.array([math.cos(turn[-1]), -math.sin(turn[-1])])
    t = np.linspace(0, 1, STEPS + 1)[:, None]
    side = (1 - t) ** 2 * end + 2 * t * (1 - t) * (end + 0.6 * leaving) + t**2 * np.array(HEART_POINT)
    return _resampled(np.vstack([lobe, side[1:]]), STEPS)


def _regular(sides: int) -> Spans:
    """Point up, unless the count divides by four: then flat up, so that the width is read flat to flat."""
    first = 0.5 if sides % 4 == 0 else 0.0
    turn = 2 * math.pi * (np.arange(sides) + first) / sides
    return _straight([(math.sin(t), math.cos(t)) for t in turn])


_BUILDERS: dict[str, Callable[[float], Spans]] = {
    "round": _ellipse,
    "oval": _ellipse,
    "cushion": _cushion,
    "pear": _pear,
    "marquise": _marquise,
    "rectangle": _rectangle,
    "cut_corner_rectangle": _cut_corner_rectangle,
    "square": _square,
    "triangle": _triangle,
    "kite": _kite,
    "shield": _shield,
    "heart": _heart,
}


def _bow_right(*, half: float, bulge: float) -> Array:
    """A circular arc from (0, half) by (bulge, 0) to (0, -half), in equal steps of its own angle."""
    radius = (half * half + bulge * bulge) / (2 * bulge)
    reach = math.atan2(half, radius - bulge)
    turn = np.linspace(-reach, reach, STEPS + 1)
    return np.column_stack([radius * np.cos(turn) - (radius - bulge), -radius * np.sin(turn)])


def _straight(corners: Sequence[Point]) -> Spans:
    p = np.asarray(corners, dtype=np.float64)
    return tuple(np.array([a, b]) for a, b in zip(p, np.roll(p, -1, axis=0), strict=True))


def _resampled(points: Array, steps: int) -> Array:
    """The same curve in ``steps`` equal steps of its own length."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0, run[-1], steps + 1)
    return np.column_stack([np.interp(at, run, points[:, 0]), np.interp(at, run, points[:, 1])])


def _joined(spans: Spans) -> tuple[Array, tuple[int, ...]]:
    starts = np.concatenate([[0], np.cumsum([len(span) - 1 for span in spans])])
    points = np.vstack([span[:-1] for span in spans])
    smooth = len(spans) == 1 and not _has_kink(points)
    return points, () if smooth else tuple(int(i) for i in starts[:-1])


def _has_kink(points: Array) -> bool:
    before, after = points[0] - points[-1], points[1] - points[0]
    turned = math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after))
    return abs(turned) > 0.1


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


def _span_bounds(outline: Outline) -> list[tuple[int, int]]:
    n = len(outline.points)
    starts = outline.corners or (0,)
    stops = (*starts[1:], n + starts[0])
    return list(zip(starts, stops, strict=True))


def _bend(points: Array, start: int, stop: int) -> float:
    """How far the outline turns between two corners, radians."""
    p = points[np.arange(start, stop + 1) % len(points)]
    heading = np.unwrap(np.arctan2(*np.diff(p, axis=0).T))
    return float(heading.max() - heading.min())


def _shoelace(p: Array) -> float:
    q = np.roll(p, -1, axis=0)
    return abs(float((p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]).sum())) / 2


def _extrapolated(outline: Outline, figure: Callable[[Array], float]) -> float:
    """Richardson's step: chords err with the square of their step, so two step sizes cancel the error."""
    p = outline.array
    fine = figure(p)
    keep = np.zeros(len(p), dtype=bool)
    for start, stop in _span_bounds(outline):
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


def _positive(name: str, value: float) -> float:
    value = float(value)
    if not (math.isfinite(value) and value > 0):
        raise OutOfRange(f"The {name} must be a size above zero, in millimetres.", **{name: value})
    return value
