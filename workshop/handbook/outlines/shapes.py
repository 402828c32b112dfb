"""The plan shapes themselves, at any length to width, as spans of points clockwise from the top.

Each fits a box of its own; ``outline`` stretches it to millimetres. The constants are common practice, no
source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Point = tuple[float, float]
Spans = tuple[Array, ...]
"""Runs of points, each from one corner of an outline to the next."""

STEPS = 240
"""Points in each span of a curve; divisible by every count of facets between corners that is in use."""

# All of these are common practice, no source.
CUSHION_POWER = 3.0  # superellipse exponent: 2 is an oval, infinity a rectangle
CORNER_LEG = 0.17  # leg of a cut corner as a part of the width
TRIANGLE_BOW = 0.07  # how far a side of the triangle bows out, as a part of the side
KITE_SHOULDER = 0.35  # where a kite is widest, from its top, as a part of the length
SHIELD_SHOULDER = 0.30  # straight part of a shield's sides as a part of the length
HEART_LOBE_AT = 0.44  # centre of a lobe as a part of the half width; the rest is its radius
HEART_LOBE_END = 1.95  # where a lobe passes into the side, radians from its top
HEART_POINT = (0.0, -1.42)  # the heart's point, in the same units


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


def heart_hull() -> Spans:
    """The heart with its cleft bridged from the top of one lobe to the top of the other."""
    right = _heart_right(0.0)
    left = right[::-1] * [-1, 1]
    return np.array([left[-1], right[0]]), right, left


def regular(sides: int) -> Spans:
    """Point up, unless the count divides by four: then flat up, so that the width is read flat to flat."""
    first = 0.5 if sides % 4 == 0 else 0.0
    turn = 2 * math.pi * (np.arange(sides) + first) / sides
    return _straight([(math.sin(t), math.cos(t)) for t in turn])


BUILDERS: dict[str, Callable[[float], Spans]] = {
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


def _heart_right(start: float) -> Array:
    """The right half from ``start`` (radians around the lobe, 0 its top) down to the point."""
    turn = np.linspace(start, HEART_LOBE_END, STEPS + 1)
    radius = 1 - HEART_LOBE_AT
    lobe = np.column_stack([HEART_LOBE_AT + radius * np.sin(turn), radius * np.cos(turn)])
    end, leaving = lobe[-1], np.array([math.cos(turn[-1]), -math.sin(turn[-1])])
    t = np.linspace(0, 1, STEPS + 1)[:, None]
    side = (1 - t) ** 2 * end + 2 * t * (1 - t) * (end + 0.6 * leaving) + t**2 * np.array(HEART_POINT)
    return _resampled(np.vstack([lobe, side[1:]]), STEPS)


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


def joined(spans: Spans) -> tuple[Array, tuple[int, ...]]:
    starts = np.concatenate([[0], np.cumsum([len(span) - 1 for span in spans])])
    points = np.vstack([span[:-1] for span in spans])
    smooth = len(spans) == 1 and not _has_kink(points)
    return points, () if smooth else tuple(int(i) for i in starts[:-1])


def _has_kink(points: Array) -> bool:
    before, after = points[0] - points[-1], points[1] - points[0]
    turned = math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after))
    return abs(turned) > 0.1
