"""What light does at one surface, and what follows for pavilion angles: Snell, Fresnel, windows, tilt,
tangent ratio.

Angles are degrees from the girdle plane (facets) or from the surface normal (rays). ``index`` is the
refractive index for sodium light against air; for a doubly refractive stone use the lower index, whose
critical angle is the larger and so the safer (derived). Range 1.3 to 3.5; outside it ``OutOfRange``. Angles
quoted in books differ by 0.1-0.2 degree with the index the author took.

Sources: M. Tolkowsky, Diamond Design, 1919 <http://www.gemology.ru/cut/english/tolkow/_tolk1.htm>; B.
Harding, Faceting Limits, Gems & Gemology, Fall 1975 <http://www.cutstudy.com/cut/english/faceting/f8.htm>;
Snell's and Fresnel's laws as in any textbook of optics. The tilt formula is derived from the same two hits
that Harding uses and was checked by brute-force rays (``light.first_window_tilt_deg``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from workshop.handbook.errors import OutOfRange

Floats = NDArray[np.float64]

LEAST_INDEX = 1.3
GREATEST_INDEX = 3.5
STEEPEST_FOR_TILT_DEG = 60.0
"""Past 60 degrees the second hit lies on the other side of the normal and the two-hit picture no longer
holds.
"""
VIEWER_HEAD_DEG = 10.0
"""Harding 1975: rays turned by less than 10 degrees are hidden by the viewer's own head."""
SAFE_SHIFT_DEG = 2.0
"""Moving mains by more than about 2 degrees usually spoils the optics (IGS, tangent ratioing; see
``carry_angles``).
"""

_CHOOSING = "Choosing angles for faceting <https://www.gemsociety.org/article/choosing-angles-for-faceting/>"
_RATIOING = "Tangent ratioing <https://www.gemsociety.org/article/tangent-ratioing/>"
_WASHINGTON = "C. Washington, transposition of faceting angles <http://ukfcg.org/clivewashinto.html>"
_TOLKOWSKY = "M. Tolkowsky, Diamond Design, 1919 <http://www.gemology.ru/cut/english/tolkow/_tolk1.htm>"
_HARDING = "B. Harding, Faceting Limits, 1975 <http://www.cutstudy.com/cut/english/faceting/f8.htm>"


@dataclass(frozen=True)
class WindowTilt:
    """Tilt from face-up, degrees in air, at which light entering the table first leaks below. None: at no
    tilt.

    ``first_deg``: through the first pavilion facet hit; ``second_deg``: through the second. 0 means face-up
    already.
    """

    first_deg: float | None
    second_deg: float | None

    @property
    def tilt_deg(self) -> float | None:
        known = [tilt for tilt in (self.first_deg, self.second_deg) if tilt is not None]
        return min(known, default=None)

    @property
    def face_up(self) -> bool:
        """True if the stone windows without being tilted at all."""
        return self.tilt_deg == 0


@dataclass(frozen=True)
class Zone:
    """A span of angles in degrees, both ends included."""

    low_deg: float
    high_deg: float

    def holds(self, angle_deg: float) -> bool:
        return self.low_deg <= angle_deg <= self.high_deg


@dataclass(frozen=True)
class Recommendation:
    """A pavilion main angle somebody recommends, with what the formulae say of it at this index."""

    angle_deg: float
    source: str
    over_critical_deg: float
    window_tilt_deg: float | None
    in_head_zone: bool


@dataclass(frozen=True)
class CarriedAngles:
    """Facet angles carried by the tangent ratio, with what to beware of.

    ``ratio`` is also the factor on the depth and the volume of that side: the method is a pure stretch
    along the axis.
    """

    ratio: float
    angles_deg: tuple[float, ...]
    warnings: tuple[str, ...]


def checked_index(index: float) -> float:
    """The index itself if it lies within 1.3 to 3.5, else ``OutOfRange``."""
    if not LEAST_INDEX <= index <= GREATEST_INDEX:
        raise OutOfRange(
            f"A refractive index of {index:g} is not one of a gem; give {LEAST_INDEX} to {GREATEST_INDEX}.",
            index=index,
        )
    return index


def critical_angle_deg(index: float) -> float:
    """Least incidence inside the stone at which all light is reflected: asin(1/n).

    >>> round(critical_angle_deg(2.4175), 2)
    24.43
    """
    return math.degrees(math.asin(1 / checked_index(index)))


def into_stone_deg(incidence_deg: float, index: float) -> float:
    """Snell: direction inside the stone of a ray that meets the surface at ``incidence_deg`` (0 to 90) from
    air.
    """
    _checked_incidence(incidence_deg)
    return math.degrees(math.asin(math.sin(math.radians(incidence_deg)) / checked_index(index)))


def out_of_stone_deg(incidence_deg: float, index: float) -> float | None:
    """Snell: direction in air of a ray that meets the surface from inside; None where it is totally
    reflected.
    """
    _checked_incidence(incidence_deg)
    sine = math.sin(math.radians(incidence_deg)) * checked_index(index)
    return math.degrees(math.asin(sine)) if sine <= 1 else None


def brewster_deg(index: float) -> float:
    """Incidence from air at which the reflection is fully polarised: atan(n)."""
    return math.degrees(math.atan(checked_index(index)))


def normal_reflectance(index: float) -> float:
    """Share of light reflected at normal incidence, 0 to 1: ((n-1)/(n+1))^2.

    >>> round(normal_reflectance(1.544) * 100, 4)
    4.5726
    """
    return ((checked_index(index) - 1) / (index + 1)) ** 2


def reflectance(incidence_deg: ArrayLike, index: float, *, from_inside: bool = False) -> Floats:
    """Fresnel: share of unpolarised light reflected at each incidence, array of the shape given, 0 to 1.

    ``from_inside``: the light meets the surface from within the stone; beyond the critical angle the share
    is 1.
    """
    angles = np.asarray(incidence_deg, dtype=np.float64)
    if angles.size and not ((angles >= 0) & (angles <= 90)).all():
        raise OutOfRange("An angle of incidence lies between 0° and 90°.", incidence_deg=incidence_deg)
    ratio = checked_index(index) if from_inside else 1 / checked_index(index)
    return reflected_share(np.cos(np.radians(angles)), ratio)


def reflected_share(cosines: Floats, ratio: float) -> Floats:
    """Fresnel in cosines, for ray tracing: ``ratio`` is index on the near side over index on the far side.

    Mean of the two polarisations; 1 where nothing passes (sine on the far side over 1). No range check.
    """
    far_square = 1 - ratio * ratio * (1 - cosines * cosines)
    far = np.sqrt(np.maximum(far_square, 0.0))
    with np.errstate(invalid="ignore"):
        across = ((ratio * cosines - far) / (ratio * cosines + far)) ** 2
        along = ((cosines - ratio * far) / (cosines + ratio * far)) ** 2
    return np.where(far_square > 0, (across + along) / 2, 1.0)


def steepest_useful_pavilion_deg(index: float) -> float:
    """Pavilion above which the second facet leaks face-up: (180 - ic)/3 (two-hit picture, table view).

    >>> round(steepest_useful_pavilion_deg(1.544), 2)
    46.54
    """
    return (180 - critical_angle_deg(index)) / 3


def window_tilt(index: float, pavilion_deg: float) -> WindowTilt:
    """Tilt at which the table first windows, for each of the two pavilion hits.

    A tilt of t turns the ray inside by r = asin(sin t / n). It meets the first main at P - r and the second
    at 180 - 3P - r, and leaks where that falls below the critical angle ic; so tilt = asin(n sin(min(P, 180
    - 3P) - ic)). Limits: seen through the table only, mains in the plane of tilt, the crown left out.
    ``pavilion_deg`` above 0 and not over 60.

    >>> round(window_tilt(1.544, 43).tilt_deg, 4)
    4.0688
    """
    if not 0 < pavilion_deg <= STEEPEST_FOR_TILT_DEG:
        raise OutOfRange(
            f"The tilt formula holds for pavilion angles above 0° up to {STEEPEST_FOR_TILT_DEG:g}°,"
            f" not {pavilion_deg:g}°.",
            pavilion_deg=pavilion_deg,
        )
    critical = critical_angle_deg(index)
    first, second = pavilion_deg - critical, 180 - 3 * pavilion_deg - critical
    return WindowTilt(_tilt_outside(first, index), _tilt_outside(second, index))


def window_tilt_deg(index: float, pavilion_deg: float) -> float | None:
    """The smaller of the two tilts of ``window_tilt``: 0 if the stone windows face-up, None if at no
    tilt.
    """
    return window_tilt(index, pavilion_deg).tilt_deg


def table_to_table_divergence_deg(pavilion_deg: float) -> float:
    """Harding 1975: angle inside the stone between a ray in through the table and out again: 4(45 - P)."""
    return 4 * (45 - pavilion_deg)


def divergence_outside_deg(divergence_deg: float, index: float) -> float | None:
    """Harding 1975: the same divergence seen in air, sin(D'/2) = n sin(D/2); None where it cannot come
    out.
    """
    sine = checked_index(index) * math.sin(math.radians(abs(divergence_deg) / 2))
    return 2 * math.degrees(math.asin(sine)) if sine <= 1 else None


def viewer_head_zone(index: float, *, divergence_deg: float = VIEWER_HEAD_DEG) -> Zone:
    """Harding 1975: pavilion angles that send the viewer's own dark head back to him, to both sides of 45
    degrees.
    """
    if not 0 <= divergence_deg <= 180:
        raise OutOfRange("A divergence lies between 0° and 180°.", divergence_deg=divergence_deg)
    inside = 2 * into_stone_deg(divergence_deg / 2, index)
    return Zone(45 - inside / 4, 45 + inside / 4)


def table_limits(index: float, pavilion_deg: float, crown_deg: float) -> tuple[float, float]:
    """Harding 1975: least and greatest useful table / width for this pavilion and crown break-free main
    angle.

    Greatest: the ray from culet to table edge stands at the critical angle, tan ic (tan P + tan B)/(tan ic
    tan B + 1). Least: the same with B - asin(sin B / n) for ic. Both are shares of the width, 0 to 1;
    angles above 0 and under 90.
    """
    for angle in (pavilion_deg, crown_deg):
        if not 0 < angle < 90:
            raise OutOfRange(
                f"A facet angle of {angle:g}° cannot be a main; give more than 0° and less than 90°."
            )
    bent = crown_deg - into_stone_deg(crown_deg, index)
    least = _table_seen_at(bent, pavilion_deg, crown_deg)
    return least, _table_seen_at(critical_angle_deg(index), pavilion_deg, crown_deg)


def tolkowsky_limits(index: float) -> tuple[float, float]:
    """Tolkowsky 1919: least pavilion for which every ray is totally reflected at the first facet, 2 ic, and
    greatest at the second, (180 - 2 ic)/3. For diamond the first is the larger: both cannot be had, as he
    says.
    """
    critical = critical_angle_deg(index)
    return 2 * critical, (180 - 2 * critical) / 3


def recommended_pavilions(index: float) -> tuple[Recommendation, ...]:
    """Pavilion mains recommended for this index, every source we read, lowest first; they differ by up to 6
    degrees.

    The article behind 41 degrees says "near RI 2"; that it begins at 1.9 here is our reading. The last
    entry is not published: it is the edge of the viewer-head zone, the greatest tilt one can have without
    seeing one's own head.
    """
    checked_index(index)
    said = [(angle, source) for low, high, angle, source in _RECOMMENDED if low <= index < high]
    said.append(
        (viewer_head_zone(index).low_deg, "derived: lower edge of the viewer-head zone, Harding 1975")
    )
    return tuple(_judged(index, angle, source) for angle, source in sorted(said))


_RECOMMENDED: tuple[tuple[float, float, float, str], ...] = (
    (LEAST_INDEX, 1.6, 43.0, _CHOOSING),
    (1.6, 1.9, 42.0, _CHOOSING),
    (1.9, GREATEST_INDEX + 1, 41.0, _CHOOSING),
    (1.54, 1.56, 43.0, f"{_WASHINGTON}, quartz"),
    (1.60, 1.64, 39.0, f"{_WASHINGTON}, topaz"),
    (1.755, 1.78, 36.0, f"{_RATIOING}, sapphire as a target"),
    (2.40, 2.43, 40.75, f"{_TOLKOWSKY}, diamond"),
)
"""Index from, index below, angle, source."""


def carry_angles(
    angles_deg: Sequence[float],
    old_main_deg: float,
    new_main_deg: float,
    *,
    pavilion_index: float | None = None,
) -> CarriedAngles:
    """Carry the facet angles of one side to a new main angle by the tangent ratio.

    new = atan(tan(old) x tan(new main)/tan(old main)), for all tiers of one side together; 0 and 90 stay,
    the plan view stays, depth and volume of the side take the ratio. Source: B. Keller, Gemstone design
    conversion using the tangent ratio method
    <https://usfacetersguild.org/gemstone-design-conversion-using-the-tangent-ratio-method/>. Give
    ``pavilion_index``, the index of the new material, for a pavilion: every tier is then held against the
    critical angle and the window. Mains above 0 and under 90, tiers 0 to 90.

    >>> round(carry_angles([57], 43, 39).angles_deg[0], 2)
    53.21
    """
    for main in (old_main_deg, new_main_deg):
        if not 0 < main < 90:
            raise OutOfRange(
                f"A main of {main:g}° has no tangent ratio; give more than 0° and less than 90°.", main=main
            )
    ratio = math.tan(math.radians(new_main_deg)) / math.tan(math.radians(old_main_deg))
    carried = tuple(_stretched(angle, ratio) for angle in angles_deg)
    warnings = _shift_warnings(old_main_deg, new_main_deg)
    if pavilion_index is not None:
        warnings += _pavilion_warnings((*carried, new_main_deg), pavilion_index)
    return CarriedAngles(ratio, carried, tuple(dict.fromkeys(warnings)))


def _stretched(angle_deg: float, ratio: float) -> float:
    if not 0 <= angle_deg <= 90:
        raise OutOfRange(f"A facet angle lies between 0° and 90°, not {angle_deg:g}°.", angle_deg=angle_deg)
    if angle_deg == 90:
        return 90.0
    return math.degrees(math.atan(math.tan(math.radians(angle_deg)) * ratio))


def _shift_warnings(old_main_deg: float, new_main_deg: float) -> list[str]:
    shift = new_main_deg - old_main_deg
    if abs(shift) <= SAFE_SHIFT_DEG:
        return []
    warnings = [
        f"The mains move by {shift:+.2f}°; more than about {SAFE_SHIFT_DEG:g}° either way usually spoils"
        f" the optics ({_RATIOING})."
    ]
    if shift < 0:
        warnings.append(f"Lowering the angles is the worse direction ({_RATIOING}).")
    return warnings


def _pavilion_warnings(angles_deg: Sequence[float], index: float) -> list[str]:
    critical, steepest = critical_angle_deg(index), steepest_useful_pavilion_deg(index)
    warnings = []
    for angle in angles_deg:
        if angle < critical:
            warnings.append(
                f"{angle:.2f}° lies below the critical angle {critical:.2f}°: it windows face-up."
            )
    main = angles_deg[-1]
    if main > steepest:
        warnings.append(f"Mains at {main:.2f}° are over {steepest:.2f}°: the second facet leaks face-up.")
    elif critical <= main and (tilt := window_tilt_deg(index, main)) is not None:
        warnings.append(f"Mains at {main:.2f}° window from {tilt:.1f}° of tilt.")
    return warnings


def _judged(index: float, angle_deg: float, source: str) -> Recommendation:
    return Recommendation(
        angle_deg=angle_deg,
        source=source,
        over_critical_deg=angle_deg - critical_angle_deg(index),
        window_tilt_deg=window_tilt_deg(index, angle_deg),
        in_head_zone=viewer_head_zone(index).holds(angle_deg),
    )


def _table_seen_at(ray_deg: float, pavilion_deg: float, crown_deg: float) -> float:
    ray, pavilion, crown = (math.tan(math.radians(angle)) for angle in (ray_deg, pavilion_deg, crown_deg))
    return ray * (pavilion + crown) / (ray * crown + 1)


def _tilt_outside(inside_deg: float, index: float) -> float | None:
    if inside_deg <= 0:
        return 0.0
    return out_of_stone_deg(inside_deg, index)


def _checked_incidence(incidence_deg: float) -> None:
    if not 0 <= incidence_deg <= 90:
        raise OutOfRange(f"An angle of incidence lies between 0° and 90°, not {incidence_deg:g}°.")
