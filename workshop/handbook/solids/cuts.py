"""A cut from its proportions: an outline, a style and a handful of angles and percentages, closed into a
solid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations
from typing import Any

import numpy as np

from .. import outlines
from ..errors import EmptySolid, HandbookError, OpenSolid, OutOfRange
from ..outlines import Array, Outline, Stations
from .planes import CrownMeetsPavilion, ImpossibleAngle, Plane, Side
from .solid import Solid, solid_from_arrays
from .styles import Facet, Girdle, brilliant_crown, brilliant_pavilion, steps

STYLES = ("brilliant", "step", "mixed")
STATIONS = {"triangle": 18, "shield": 14}
"""Breaks around a brilliant where the sixteen of a standard round would crowd the outline; no source."""

ROUND_GIRDLE = 4  # walls under each break of a smooth girdle; common practice, no source
LEVEL_GIRDLE = ("cushion", "shield")
STEP_STATIONS = 12  # sides of a step cut with a curved outline; common practice, no source


class UnknownStyle(HandbookError):
    """No style of that name; ``said['known']`` lists them."""


@dataclass(frozen=True)
class Proportions:
    """How a cut is proportioned. Percentages are of the width, which is where the girdle is narrowest.

    ``crown_angle``, ``pavilion_angle``: degrees from the girdle plane, of the steepest mains; in step style
    of the middle crown tier and of the pavilion tier at the culet or keel. ``table_percent``: width of the
    table. ``girdle_percent``: thickness where the mains meet the girdle, its thick places. ``culet_percent``:
    width of a flat culet. ``star_percent``: star from table to girdle. ``break_percent``: pavilion break from
    girdle to culet. ``keel``: mains at one angle down to a keel, instead of all to one point; for curved
    brilliants only, step style always keels when long. ``tiers``, ``tier_spread``: tiers in step style and
    how many degrees apart. ``girdle_facets``: walls under each break of a curved outline; 1 gives a level
    girdle of as many flats as breaks, more a round one with scallops; None for the usual: ``ROUND_GIRDLE``
    for brilliants of a curved outline (not cushion and shield, whose tight corners would dip too far), else
    1.

    Defaults: 57 % table, 34 deg crown and star 50 % are the reference round of the GIA weight-ratio article
    (there 2.5 % girdle, lower breaks 80 %); 42 deg is what gemsociety.org, "Choosing angles for faceting",
    gives for almost everything (43 below RI 1.6, 41 near RI 2); 3 % girdle is the cutters' 2-3 % of width
    (facetorsguild.com.au/forum/4925138). Tiers and their spread: common practice, no source.
    """

    crown_angle: float = 34.0
    pavilion_angle: float = 42.0
    table_percent: float = 57.0
    girdle_percent: float = 3.0
    culet_percent: float = 0.0
    star_percent: float = 50.0
    break_percent: float = 80.0
    keel: bool = False
    tiers: int = 3
    tier_spread: float = 5.0
    girdle_facets: int | None = None

    def __post_init__(self) -> None:
        for name in ("crown_angle", "pavilion_angle"):
            angle = getattr(self, name)
            if not (math.isfinite(angle) and 0 < angle < 90):
                side = name.removesuffix("_angle")
                raise ImpossibleAngle(f"The {side} angle lies between 0 and 90 degrees, not at {angle:g}.")
        for name, low, high in _LIMITS:
            value = getattr(self, name)
            if value is None:
                continue
            if not (math.isfinite(value) and low <= value <= high):
                words = name.replace("_", " ").replace(" percent", "")
                raise OutOfRange(f"The {words} must lie between {low:g} and {high:g}, not at {value:g}.")


_LIMITS = (
    ("table_percent", 5, 95),
    ("girdle_percent", 0.1, 50),
    ("culet_percent", 0, 50),
    ("star_percent", 5, 95),
    ("break_percent", 5, 95),
    ("tiers", 1, 8),
    ("tier_spread", 0, 20),
    ("girdle_facets", 1, 12),
)


def usual_style(outline_key: str) -> str:
    """The style an outline is mostly cut in (common practice, no source)."""
    return "step" if outline_key in ("rectangle", "cut_corner_rectangle", "square", "kite") else "brilliant"


def make_cut(
    outline_key: str,
    style: str | None = None,
    *,
    width: float = 1.0,
    length_to_width: float | None = None,
    sides: int = 8,
    proportions: Proportions | None = None,
    **changes: Any,
) -> Solid:
    """A solid of ``width`` mm with the outline, style and proportions asked for.

    ``outline_key``: one of ``outlines.KEYS``; a heart is cut as its convex hull, so its cleft is not taken
    off the weight. ``style``: "brilliant", "step", "mixed" (brilliant crown over a step pavilion), or None
    for the usual one. ``length_to_width``: None for the ratio in favour. ``changes``: fields of
    ``Proportions`` by name.

    Raises ``UnknownOutline``, ``UnknownStyle``, ``ImpossibleAngle``, ``OutOfRange``, and
    ``CrownMeetsPavilion`` when no girdle wall is left somewhere.

    >>> round(make_cut("round", width=6.5, pavilion_angle=41.0).weight_ct(3.99), 2)
    1.15
    """
    ratio = outlines.usual_length_to_width(outline_key, sides) if length_to_width is None else length_to_width
    outline = outlines.make_outline(outline_key, length=width * ratio, width=width, sides=sides)
    said = proportions or Proportions()
    return cut(style or usual_style(outline_key), outline, replace(said, **changes) if changes else said)


def cut(style: str, outline: Outline, proportions: Proportions) -> Solid:
    """The solid of a style over an outline already made; see ``make_cut``."""
    if style not in STYLES:
        raise UnknownStyle(f"No style is called {style!r}; choose one of: {', '.join(STYLES)}.", known=STYLES)
    girdle, walls = _stand(style, outline, proportions)
    crown, height = _crown(style, girdle, proportions)
    pavilion, depth = _pavilion(style, girdle, proportions)
    crown.append(Facet("table", (0.0, 0.0), height))
    if proportions.culet_percent:
        pavilion.append(Facet("culet", (0.0, 0.0), depth * (1 - proportions.culet_percent / 100)))
    edge = proportions.girdle_percent / 100 * outline.width / 2
    try:
        solid = _closed(crown, pavilion, walls, edge)
    except (EmptySolid, OpenSolid) as error:
        raise CrownMeetsPavilion("These proportions leave no stone between crown and pavilion.") from error
    _check_girdle(solid, outline)
    return solid


def depth_of(style: str, outline: Outline, proportions: Proportions) -> float:
    """Depth from table to culet, mm, of the cut that ``cut`` would give, without closing the solid."""
    girdle, _ = _stand(style, outline, proportions)
    depth = _pavilion(style, girdle, proportions)[1] * (1 - proportions.culet_percent / 100)
    return _crown(style, girdle, proportions)[1] + proportions.girdle_percent / 100 * outline.width + depth


def _stand(style: str, outline: Outline, said: Proportions) -> tuple[Girdle, Array]:
    usual = 1 if style != "brilliant" or outline.key in LEVEL_GIRDLE else ROUND_GIRDLE
    count = STEP_STATIONS if style == "step" else STATIONS.get(outline.key, 16)
    return _girdle(outline, count, said.girdle_facets or usual)


def _crown(style: str, girdle: Girdle, said: Proportions) -> tuple[list[Facet], float]:
    table = said.table_percent / 100
    if style != "step":
        return brilliant_crown(girdle, angle_deg=said.crown_angle, table=table, star=said.star_percent / 100)
    middle = (said.tiers - 1) / 2
    angles = tuple(said.crown_angle + said.tier_spread * (middle - tier) for tier in range(said.tiers))
    return steps(girdle, _checked(angles, "crown"), (1 - table) * girdle.room, "crown")


def _pavilion(style: str, girdle: Girdle, said: Proportions) -> tuple[list[Facet], float]:
    if style == "brilliant":
        return brilliant_pavilion(
            girdle, angle_deg=said.pavilion_angle, breaks=said.break_percent / 100, keel=said.keel
        )
    angles = tuple(said.pavilion_angle + said.tier_spread * tier for tier in reversed(range(said.tiers)))
    return steps(girdle, _checked(angles, "pavilion"), girdle.room, "pavilion")


def _checked(angles: tuple[float, ...], side: str) -> tuple[float, ...]:
    if not all(0 < angle < 89 for angle in angles):
        raise ImpossibleAngle(
            f"With these tiers the {side} would stand at {', '.join(f'{a:g}' for a in angles)} degrees; "
            "each must lie between 0 and 89. Take fewer tiers, a smaller spread or another angle."
        )
    return angles


@lru_cache(maxsize=128)
def _girdle(outline: Outline, count: int, finer: int) -> tuple[Girdle, Array]:
    """The points both halves stand on, and the corners of the girdle walls, shape (m, 2), clockwise."""
    shape = outlines.hull(outline)
    stations = outlines.stations(shape, count)
    rim = _rim(shape, stations, finer)
    size = np.array([outline.width, outline.length])
    low, high = rim.min(axis=0), rim.max(axis=0)
    fit = size / (high - low)
    points, rim = ((p - (low + high) / 2) * fit for p in (stations.points, rim))
    centre, room = _incircle(points)
    return Girdle(points, stations.main, centre, room), rim


def _rim(shape: Outline, stations: Stations, finer: int) -> Array:
    whole = len(shape.points)
    index: list[int] = []
    for start, stop in zip(stations.index, np.roll(stations.index, -1), strict=True):
        run = (int(stop) - int(start)) % whole or whole
        parts = min(finer, run)
        index += [(int(start) + round(run * j / parts)) % whole for j in range(parts)]
    return shape.array[index]


def _incircle(points: Array) -> tuple[Array, float]:
    """Middle and radius of the largest circle in a convex polygon; the middle of them all where there are
    several.
    """
    normal, distance = Girdle(points, np.ones(len(points), dtype=np.bool_), points[0], 0.0).sides
    triples = np.array(list(combinations(range(len(points)), 3)))
    system = np.concatenate([normal[triples], np.ones((len(triples), 3, 1))], axis=2)
    usable = np.abs(np.linalg.det(system)) > 1e-9
    found = np.linalg.solve(system[usable], distance[triples[usable]][:, :, None])[:, :, 0]
    room = (distance - found[:, :2] @ normal.T).min(axis=1)
    inside = room >= found[:, 2] - 1e-9 * np.abs(distance).max()
    best = float(found[inside, 2].max())
    widest = found[inside & (found[:, 2] > best * (1 - 1e-6))][:, :2]
    return (widest.min(axis=0) + widest.max(axis=0)) / 2, best


def _closed(crown: list[Facet], pavilion: list[Facet], rim: Array, edge: float) -> Solid:
    """Crown, girdle walls and pavilion as one solid, the middle of the girdle at z = 0."""
    along = np.roll(rim, -1, axis=0) - rim
    wall = np.column_stack([-along[:, 1], along[:, 0], np.zeros(len(rim))])
    facets = [*crown, *pavilion]
    half = np.array([1.0] * len(crown) + [-1.0] * len(pavilion))
    slope = np.column_stack([np.array([f.slope for f in facets]), half])
    reach = np.array([f.rise for f in facets]) + edge
    normals = np.vstack([slope, wall])
    offsets = np.concatenate([reach, (wall[:, :2] * rim).sum(axis=1)])
    size = np.sqrt((normals * normals).sum(axis=1))
    normals, offsets = normals / size[:, None], offsets / size
    angles = np.degrees(np.arctan2(np.hypot(normals[:, 0], normals[:, 1]), np.abs(normals[:, 2])))
    angles[len(facets) :] = 90.0
    azimuths = np.degrees(np.arctan2(normals[:, 0], normals[:, 1])) % 360
    labels = [f.label for f in facets] + ["girdle"] * len(rim)
    parts: tuple[tuple[Side, int], ...] = (
        ("crown", len(crown)),
        ("pavilion", len(pavilion)),
        ("girdle", len(rim)),
    )
    sides = [side for side, count in parts for _ in range(count)]
    said = zip(angles.tolist(), azimuths.tolist(), offsets.tolist(), sides, labels, strict=True)
    planes = tuple(Plane(*words) for words in said)
    return solid_from_arrays(planes, normals, offsets, interior=(*rim.mean(axis=0), 0.0))


def _check_girdle(solid: Solid, outline: Outline) -> None:
    """A wall that runs out at an end has only three corners; one that is gone altogether leaves the outline
    short.
    """
    corners = np.diff(solid.starts)[[plane.side == "girdle" for plane in solid.planes]]
    size = math.isclose(solid.width, outline.width, rel_tol=1e-6)
    if corners.min() < 4 or not size or not math.isclose(solid.length, outline.length, rel_tol=1e-6):
        raise CrownMeetsPavilion(
            "Crown and pavilion cut through each other at the girdle: give a thicker girdle or flatter breaks."
        )
