"""Facets of one half of a stone, built over its girdle: brilliant style and step style.

A half is built in plan and height: ``h`` is the height above the girdle's edge on the crown, the depth below
it on the pavilion, always growing inwards. Which facet meets which follows the standard 57-facet round,
carried to every outline; for straight sides the mains are split at the corners, which is our own construction
(no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import OutOfRange
from ..outlines import Array

# how far a straight side bulges over a flat facet, as a part of the height; common practice, no source
RAISED = 0.12
OVER_KEEL = 1.1  # a main at a pointed end clears the middle of the keel by this factor; no source
TIP_BELOW_TABLE = 0.9  # a star's lower point stays below this part of the crown height


@dataclass(frozen=True)
class Facet:
    """A plane of a half: ``label``, and h = rise - (gx, gy) . (x, y); the stone is where h is less. A flat
    has g = 0.
    """

    label: str
    slope: tuple[float, float]
    rise: float


@dataclass(frozen=True)
class Girdle:
    """What both halves stand on: ``points`` (n, 2) where break meets break or main, mm, clockwise; ``main``
    (n,) true where a main comes down; ``centre`` (2,) below which the culet lies; ``room``: radius (mm) of
    the largest circle.
    """

    points: Array
    main: NDArray[np.bool_]
    centre: Array
    room: float

    @property
    def sides(self) -> tuple[Array, Array]:
        """Outward unit normals (n, 2) and distances (n,) of the chords, each from its point to the next."""
        along = np.roll(self.points, -1, axis=0) - self.points
        normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
        return normal, (normal * self.points).sum(axis=1)


def steps(
    girdle: Girdle, angles_deg: tuple[float, ...], inset: float, label: str
) -> tuple[list[Facet], float]:
    """Tiers of facets parallel to the girdle, steepest first, and the height they reach.

    ``angles_deg``: one for each tier from the girdle inwards; ``inset``: how far in the last one ends, mm,
    shared equally. All facets of a tier stand at the same angle, so a long outline ends in a keel.
    """
    normal, distance = girdle.sides
    facets, h, part = [], 0.0, inset / len(angles_deg)
    for tier, angle in enumerate(angles_deg):
        slope = math.tan(math.radians(angle))
        rises = h + slope * (distance - tier * part)
        facets += [
            Facet(f"{label} step {tier + 1}", (float(slope * n[0]), float(slope * n[1])), float(rise))
            for n, rise in zip(normal, rises, strict=True)
        ]
        h += slope * part
    return facets, h


def brilliant_crown(
    girdle: Girdle, *, angle_deg: float, table: float, star: float
) -> tuple[list[Facet], float]:
    """Mains, breaks and stars under a table, and the height of the table above the girdle.

    ``angle_deg``: of the steepest main. ``table``: part of the width, 0 to 1; the table is the girdle made
    smaller. ``star``: how far a star reaches from the table to the girdle, 0 to 1.
    """
    inner = girdle.centre + table * (girdle.points - girdle.centre)
    return _to_angle(_half(girdle, inner, 1.0, 1 - star, "crown"), angle_deg, "crown main")


def brilliant_pavilion(
    girdle: Girdle, *, angle_deg: float, breaks: float, keel: bool
) -> tuple[list[Facet], float]:
    """Mains and breaks down to a culet point, or to a keel, and the depth below the girdle.

    ``angle_deg``: of the steepest main; with a keel, of every main that does not come down to a corner.
    ``breaks``: how far a break reaches from the girdle to the culet, 0 to 1.
    """
    if keel:
        return _keel(girdle, math.tan(math.radians(angle_deg)), breaks)
    inner = np.broadcast_to(girdle.centre, girdle.points.shape)
    return _to_angle(_half(girdle, inner, 1.0, breaks, "pavilion"), angle_deg, "pavilion main")


def _to_angle(facets: list[Facet], angle_deg: float, label: str) -> tuple[list[Facet], float]:
    """A half of height 1 mm brought to the height at which its steepest main stands at the angle.

    Everything in a half goes with its height, so no meet moves in plan: the tangent ratio.
    """
    steepest = max(math.hypot(*facet.slope) for facet in facets if facet.label == label)
    height = math.tan(math.radians(angle_deg)) / steepest
    return [
        Facet(f.label, (f.slope[0] * height, f.slope[1] * height), f.rise * height) for f in facets
    ], height


def _half(girdle: Girdle, inner: Array, height: float, part: float, name: str) -> list[Facet]:
    """A brilliant half whose mains run from the girdle points to the ``inner`` points at ``height``."""
    normal = _outward(girdle)
    run = (normal * (girdle.points - inner)).sum(axis=1)
    slopes = height / run
    facets: list[Facet] = []
    gaps = list(_gaps(girdle))
    soft = {k for gap in gaps if gap[1] is not None for k in (gap[0], gap[2])}
    for k, junction, after in gaps:
        ends = (girdle.points[k], girdle.points[after])
        tops = (inner[k], inner[after])
        if junction is None:
            across = [slopes[j] * normal[j] for j in (k, after)]
            facets += _straight_gap(ends, tops, across, height, part, name)
            continue
        tip, h = _tip(girdle, normal, slopes, (k, junction, after), (tops[0] + tops[1]) / 2, part, height)
        facets += _breaks(girdle, (k, junction, after), tip, h, name)
        if name == "crown":
            facets.append(_through("crown star", (tops[0], height), (tops[1], height), (tip, h)))
    mains = [_main(girdle.points[k], normal[k], slopes[k], name) for k in sorted(soft)]
    return mains + facets


def _keel(girdle: Girdle, slope: float, part: float) -> tuple[list[Facet], float]:
    """Mains all at one slope; the pavilion ends in a keel where opposite mains meet."""
    normal = _outward(girdle)
    slopes = np.full(len(normal), slope)
    for k in map(int, np.flatnonzero(_corners(girdle, normal))):
        beside = [normal[(k - 2) % len(normal)], normal[(k + 2) % len(normal)]]
        along_ridge = slope * min(float(normal[k] @ n) for n in beside)
        to_middle = slope * _least_reach(girdle) / float(normal[k] @ (girdle.points[k] - girdle.centre))
        slopes[k] = max(along_ridge, OVER_KEEL * to_middle)
    mains = np.flatnonzero(girdle.main)
    facets = [_main(girdle.points[k], normal[k], slopes[k], "pavilion") for k in mains]
    for k, junction, after in _gaps(girdle):
        if junction is None:
            raise OutOfRange(
                "A keel is built here for curved outlines only; take the step style for straight sides."
            )
        end = _ridge_end(girdle, normal, slopes, k, after)
        tip, h = _tip(girdle, normal, slopes, (k, junction, after), end, part, math.inf)
        facets += _breaks(girdle, (k, junction, after), tip, h, "pavilion")
    return facets, _deepest(facets, girdle.centre)


def _deepest(facets: list[Facet], centre: Array) -> float:
    return min(f.rise - f.slope[0] * float(centre[0]) - f.slope[1] * float(centre[1]) for f in facets)


def _gaps(girdle: Girdle) -> Iterator[tuple[int, int | None, int]]:
    """Each main, the junction of two breaks after it if there is one, and the next main."""
    n = len(girdle.points)
    for k in np.flatnonzero(girdle.main):
        after = (int(k) + 1) % n
        if girdle.main[after]:
            yield int(k), None, after
        else:
            yield int(k), after, (after + 1) % n


def _outward(girdle: Girdle) -> Array:
    """Outward direction at each girdle point: square to the chord between its neighbours."""
    chord = np.roll(girdle.points, -1, axis=0) - np.roll(girdle.points, 1, axis=0)
    outward = np.column_stack([-chord[:, 1], chord[:, 0]]) / np.hypot(*chord.T)[:, None]
    return np.asarray(outward, dtype=np.float64)


def _corners(girdle: Girdle, normal: Array) -> NDArray[np.bool_]:
    """Mains at a true corner of the outline, where it turns more than it does at the points beside it."""
    side, _ = girdle.sides
    turn = np.arccos(np.clip((side * np.roll(side, 1, axis=0)).sum(axis=1), -1, 1))
    beside = np.maximum(np.roll(turn, 1), np.roll(turn, -1))
    return np.asarray(girdle.main & (turn > 2 * beside))


def _least_reach(girdle: Girdle) -> float:
    """Distance from the centre to the nearest main's foot line, or to the nearest straight side, mm."""
    side, distance = girdle.sides
    tangent = _outward(girdle)
    reaches = []
    for k, junction, after in _gaps(girdle):
        if junction is None:
            reaches.append(float(distance[k] - side[k] @ girdle.centre))
        else:
            reaches += [float(tangent[j] @ (girdle.points[j] - girdle.centre)) for j in (k, after)]
    return min(reaches)


def _main(foot: Array, normal: Array, slope: float, name: str) -> Facet:
    return Facet(
        f"{name} main", (float(slope * normal[0]), float(slope * normal[1])), float(slope * (normal @ foot))
    )


def _tip(
    girdle: Girdle,
    normal: Array,
    slopes: Array,
    gap: tuple[int, int, int],
    inner: Array,
    part: float,
    height: float,
) -> tuple[Array, float]:
    """Where two breaks (and a star) meet on the ridge between two mains: ``part`` of the way to ``inner``."""
    k, junction, after = gap
    origin, along = _ridge(girdle, normal, slopes, k, after)
    outer_at = float((girdle.points[junction] - origin) @ along)
    inner_at = float((inner - origin) @ along)
    rise = -float(slopes[k] * (normal[k] @ along))
    at = outer_at + part * (inner_at - outer_at)
    if math.isfinite(height) and rise > 0:
        at = min(at, TIP_BELOW_TABLE * height / rise) if outer_at * rise < TIP_BELOW_TABLE * height else at
    return origin + at * along, rise * at


def _ridge(girdle: Girdle, normal: Array, slopes: Array, k: int, after: int) -> tuple[Array, Array]:
    """The line in plan above which two mains meet: where it starts at h = 0, and its unit direction inwards."""
    pair = np.array([normal[k], normal[after]])
    feet = np.array([normal[k] @ girdle.points[k], normal[after] @ girdle.points[after]])
    across = slopes[k] * normal[k] - slopes[after] * normal[after]
    along = np.array([-across[1], across[0]]) / math.hypot(*across)
    if normal[k] @ along > 0:
        along = -along
    return np.linalg.solve(pair, feet), along


def _ridge_end(girdle: Girdle, normal: Array, slopes: Array, k: int, after: int) -> Array:
    """Where the ridge between two mains first meets a third main."""
    origin, along = _ridge(girdle, normal, slopes, k, after)
    others = [int(j) for j in np.flatnonzero(girdle.main) if j not in (k, after)]
    climb = -float(slopes[k] * (normal[k] @ along))
    ends = []
    for j in others:
        start = float(slopes[j] * (normal[j] @ (girdle.points[j] - origin)))
        closing = climb + float(slopes[j] * (normal[j] @ along))
        if closing > 1e-9 and start > 0:
            ends.append(start / closing)
    return np.asarray(origin + min(ends) * along, dtype=np.float64)


def _breaks(girdle: Girdle, gap: tuple[int, int, int], tip: Array, h: float, name: str) -> list[Facet]:
    k, junction, after = gap
    feet = [girdle.points[j] for j in (k, junction, after)]
    return [_through(f"{name} break", (feet[i], 0.0), (feet[i + 1], 0.0), (tip, h)) for i in (0, 1)]


def _straight_gap(
    ends: tuple[Array, Array],
    tops: tuple[Array, Array],
    across: list[Array],
    height: float,
    part: float,
    name: str,
) -> list[Facet]:
    """A straight side: a break on the girdle, a main to each corner, and a star where there is a table's
    edge.

    The tip is raised over a flat side, but stays under the facets laid ``across`` the corners (their slopes),
    so that the corners stay corners.
    """
    foot, top = (ends[0] + ends[1]) / 2, (tops[0] + tops[1]) / 2
    tip = foot + part * (top - foot)
    flat = part * height
    ridge = min(float(slope @ (end - tip)) for slope, end in zip(across, ends, strict=True))
    h = flat + min(RAISED * height, 0.6 * (ridge - flat), 0.6 * (height - flat))
    facets = [_through(f"{name} break", (ends[0], 0.0), (ends[1], 0.0), (tip, h))]
    facets += [
        _through(f"{name} main", (end, 0.0), (inner, height), (tip, h))
        for end, inner in zip(ends, tops, strict=True)
    ]
    if float(np.hypot(*(tops[0] - tops[1]))) > 1e-9 * height:
        facets.append(_through(f"{name} star", (tops[0], height), (tops[1], height), (tip, h)))
    return facets


def _through(label: str, *points: tuple[Array, float]) -> Facet:
    """The facet through three points given as (plan, height)."""
    (a, ha), (b, hb), (c, hc) = points
    (px, py), (qx, qy) = b - a, c - a
    cross = float(px * qy - py * qx)
    if cross == 0:
        raise OutOfRange("Three points of a facet lie on one line; choose another table or star size.")
    gx = float((hb - ha) * qy - (hc - ha) * py) / cross
    gy = float((hc - ha) * px - (hb - ha) * qx) / cross
    return Facet(label, (-gx, -gy), float(ha - gx * a[0] - gy * a[1]))
