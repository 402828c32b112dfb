"""A cutter's own cut as a table of tiers: side, angle, settings of the wheel, and how deep each is cut.

How deep is said in one of two ways: the distance of the facet from the middle of the stone, or a point it
must meet. The meet is where three facets already cut cross, or a point given in millimetres. Tiers are read
in the order cut, as at the machine: a meet may only name tiers above it in the table. Plane geometry; our own
plain fields, no file format.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import HandbookError, OutOfRange
from ..outlines import Array
from .planes import ImpossibleAngle, Plane, Side, check_angle
from .solid import Solid, solid_from_planes

FacetName = tuple[str, float]
"""One facet of a tier: the label of the tier and the setting it was cut at."""


class NoMeet(HandbookError):
    """The meet a tier asks for does not exist: facets unknown, not yet cut, or not crossing in one point."""


@dataclass(frozen=True)
class Tier:
    """All facets of one angle on one side.

    ``label``: our name for it, each once in a table. ``side``: crown, girdle or pavilion. ``angle_deg``: from
    the girdle plane, 0 (table, culet) to 90 (girdle). ``settings``: teeth of the wheel, counted from 0,
    fractions allowed for a fine offset. Exactly one of: ``distance`` (mm, from the origin along the facet's
    normal), ``meets`` (three facets already in the table), ``through`` (a point x, y, z in mm). A meet is
    asked of the first setting; the other settings of the tier are cut to the same distance, as the machine's
    depth stop does.
    """

    label: str
    side: Side
    angle_deg: float
    settings: tuple[float, ...]
    distance: float | None = None
    meets: tuple[FacetName, FacetName, FacetName] | None = None
    through: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        check_angle(self.angle_deg, self.side)
        if not self.settings:
            raise OutOfRange(f"Tier {self.label} has no setting; a flat facet takes setting 0.")
        if not all(map(math.isfinite, self.settings)):
            raise OutOfRange(f"Tier {self.label} has a setting that is not a number.")
        said = [self.distance is not None, self.meets is not None, self.through is not None]
        if sum(said) != 1:
            raise OutOfRange(
                f"Tier {self.label}: give a distance, or three facets to meet, or a point; one of them."
            )


@dataclass(frozen=True)
class CutTable:
    """A table worked out: the tiers, the distance of each (mm), their planes, and the solid they close."""

    tiers: tuple[Tier, ...]
    distances: tuple[float, ...]
    planes: tuple[Plane, ...]
    solid: Solid


def azimuth_of(setting: float, teeth: int) -> float:
    """Azimuth in degrees, 0 to 360, of a setting of a wheel of ``teeth`` (3 or more)."""
    if teeth < 3:
        raise OutOfRange("An index wheel has at least three teeth.", teeth=teeth)
    return 360.0 * (setting % teeth) / teeth


def facet_name(label: str, setting: float) -> str:
    """What a facet is called on the solid: the tier and the setting.

    >>> facet_name("break", 3.0)
    'break 3'
    """
    return f"{label} {setting:g}"


def solve_tiers(tiers: Sequence[Tier], teeth: int) -> tuple[tuple[float, ...], tuple[Plane, ...]]:
    """Distance of each tier (mm) and the planes of all facets, in the order of the table.

    Raises ``NoMeet`` for a meet that is not there, ``OutOfRange`` for a label used twice or a setting cut
    twice.
    """
    cut: dict[FacetName, Plane] = {}
    distances = []
    for tier in tiers:
        if any(label == tier.label for label, _ in cut):
            raise OutOfRange(f"Two tiers are called {tier.label}; give each its own name.", label=tier.label)
        distance = _distance(tier, cut, teeth)
        distances.append(distance)
        for setting in tier.settings:
            name = (tier.label, setting % teeth)
            if name in cut:
                raise OutOfRange(f"Tier {tier.label} cuts setting {setting:g} twice.", setting=setting)
            azimuth = azimuth_of(setting, teeth)
            cut[name] = Plane(tier.angle_deg, azimuth, distance, tier.side, facet_name(tier.label, setting))
    return tuple(distances), tuple(cut.values())


def cut_table(tiers: Sequence[Tier], teeth: int) -> CutTable:
    """The solid of a table of tiers; raises also ``OpenSolid`` and ``EmptySolid``."""
    distances, planes = solve_tiers(tiers, teeth)
    return CutTable(tuple(tiers), distances, planes, solid_from_planes(planes))


def meet_point(planes: Sequence[Plane]) -> Array:
    """The point, shape (3,), mm, where three planes cross. Raises ``NoMeet`` when they do not."""
    if len(planes) != 3:
        raise NoMeet("A meet is where three facets cross.")
    normals = np.array([plane.normal for plane in planes])
    if abs(float(np.linalg.det(normals))) < 1e-9:
        names = ", ".join(plane.label for plane in planes)
        raise NoMeet(f"{names} do not cross in one point: two of them, or their edges, run alongside.")
    return np.asarray(np.linalg.solve(normals, [plane.distance for plane in planes]), dtype=np.float64)


def angle_through(point: Sequence[float], edge: Sequence[Sequence[float]]) -> float:
    """Angle in degrees from the girdle plane of the facet through an edge (two points) and a third point, all
    mm.

    What a cutter asks when a star must run from one table corner to the next and down to a meet.
    """
    a, b, c = (np.asarray(p, dtype=np.float64) for p in (*edge, point))
    normal = np.cross(b - a, c - a)
    flat, up = math.hypot(float(normal[0]), float(normal[1])), abs(float(normal[2]))
    if flat == up == 0:
        raise ImpossibleAngle("Three points on one line make no facet.")
    return math.degrees(math.atan2(flat, up))


def _distance(tier: Tier, cut: dict[FacetName, Plane], teeth: int) -> float:
    if tier.distance is not None:
        if not math.isfinite(tier.distance):
            raise OutOfRange(f"The distance of tier {tier.label} is not a number.")
        return tier.distance
    if tier.through is not None:
        point = np.asarray(tier.through, dtype=np.float64)
    else:
        assert tier.meets is not None
        point = meet_point([_named(tier, (label, setting % teeth), cut) for label, setting in tier.meets])
    first = Plane(tier.angle_deg, azimuth_of(tier.settings[0], teeth), 0.0, tier.side)
    return float(np.dot(first.normal, point))


def _named(tier: Tier, name: FacetName, cut: dict[FacetName, Plane]) -> Plane:
    if name not in cut:
        label, setting = name
        raise NoMeet(f"Tier {tier.label} is to meet {facet_name(label, setting)}, which is not cut above it.")
    return cut[name]
