"""Facet planes: an angle from the girdle plane, an azimuth, a distance, a side, and a name.

Frame: x along the width, y along the length, z up through the table; azimuth in degrees clockwise from +y
seen face up, as in ``outlines``. z = 0 is the middle of the girdle for the cuts this chapter builds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..errors import HandbookError, OutOfRange
from ..outlines import Array

Side = Literal["crown", "girdle", "pavilion"]
SIDES: tuple[Side, ...] = ("crown", "girdle", "pavilion")


class ImpossibleAngle(OutOfRange):
    """No facet of that side can stand at that angle."""


class CrownMeetsPavilion(HandbookError):
    """Crown and pavilion cut through each other, so that no girdle is left where one was asked for."""


@dataclass(frozen=True)
class Plane:
    """A facet plane; the stone lies on its inner side.

    ``angle_deg``: from the girdle plane, 0 (table, culet) to 90 (girdle wall). ``azimuth_deg``: where it
    faces. ``distance``: from the origin along the outward normal, mm; negative when the origin lies outside.
    ``side``: which way it faces; a girdle wall stands at 90. ``label``: its name on the drawing and in
    tables.
    """

    angle_deg: float
    azimuth_deg: float
    distance: float
    side: Side
    label: str = ""

    def __post_init__(self) -> None:
        if self.side not in SIDES:
            raise OutOfRange(f"A facet is on the crown, the girdle or the pavilion, not on {self.side!r}.")
        check_angle(self.angle_deg, self.side)
        for name in ("azimuth_deg", "distance"):
            if not math.isfinite(getattr(self, name)):
                raise OutOfRange(f"The {name} of facet {self.label or 'without a name'} is not a number.")

    @property
    def normal(self) -> tuple[float, float, float]:
        """Outward unit normal (x, y, z)."""
        angle, azimuth = math.radians(self.angle_deg), math.radians(self.azimuth_deg)
        flat, up = _sin_cos(angle)
        if self.side == "pavilion":
            up = -up
        return flat * math.sin(azimuth), flat * math.cos(azimuth), up


def check_angle(angle_deg: float, side: Side) -> None:
    """Raise ``ImpossibleAngle`` unless a facet of ``side`` can stand at ``angle_deg`` from the girdle plane."""
    if not (math.isfinite(angle_deg) and 0 <= angle_deg <= 90):
        raise ImpossibleAngle(
            f"A facet stands between 0 and 90 degrees from the girdle plane, not at {angle_deg:g}.",
            angle=angle_deg,
        )
    if side == "girdle" and angle_deg != 90:
        raise ImpossibleAngle(f"A girdle wall stands at 90 degrees, not at {angle_deg:g}.", angle=angle_deg)


def plane_arrays(planes: Sequence[Plane]) -> tuple[Array, Array]:
    """Outward unit normals, shape (F, 3), and distances, shape (F,), mm, of a list of planes."""
    return np.array([plane.normal for plane in planes]), np.array([plane.distance for plane in planes])


def plane_from(normal: Array, distance: float, label: str, side: Side | None = None) -> Plane:
    """The plane of an outward normal (any length above zero, with ``distance`` in the same measure)."""
    size = float(np.sqrt(normal @ normal))
    if not (size > 0 and math.isfinite(size)):
        raise OutOfRange(f"Facet {label or 'without a name'} has no direction.")
    x, y, z = (float(c) / size for c in normal)
    flat = math.hypot(x, y)
    upright = abs(z) < 1e-12
    facing: Side = side or ("girdle" if upright else "crown" if z > 0 else "pavilion")
    angle = 90.0 if upright else math.degrees(math.atan2(flat, abs(z)))
    return Plane(angle, math.degrees(math.atan2(x, y)) % 360, distance / size, facing, label)


def _sin_cos(angle: float) -> tuple[float, float]:
    """Exact at a right angle, so that a girdle wall is upright to the last bit."""
    return (1.0, 0.0) if angle == math.pi / 2 else (math.sin(angle), math.cos(angle))
