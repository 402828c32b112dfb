"""Index wheels: what a wheel of so many teeth divides, how far off it is where it does not, and moving
settings.

Settings are counted from 0; a wheel of 96 has settings 0 to 95, and most wheels print the last tooth
instead of 0 (``setting_label``; common practice, no source). Angles are degrees round the girdle (azimuth),
turning with the numbers of the wheel.

Arithmetic is exact (whole numbers and fractions) until the last step, so "fits" never depends on rounding.

Sources: The Gemology Project, "Faceting equipment: index gears"
<https://gemologyproject.com/wiki/index.php?title=Faceting_Equipment>; B. Harding, "Scallops"
<https://www.pricescope.com/journal/scallops>; the rest is whole-number arithmetic.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from workshop.handbook.errors import OutOfRange

LEAST_TEETH = 3
MOST_TEETH = 720
ROUND_MAINS = 8
"""A standard round has 8 mains and 16 breaks, each break a quarter of the step between two mains away from
a main.
"""

_GEARS = 'The Gemology Project, "Faceting equipment: index gears"'
_SCALLOPS = 'B. Harding, "Scallops"'
_NO_SOURCE = "no source read; sold by makers of machines (from memory)"


@dataclass(frozen=True)
class Wheel:
    """An index wheel that can be bought, and who says so."""

    teeth: int
    source: str
    designs_percent: float | None = None
    """Share of 4,307 published designs that use this wheel, where the source gives one."""


COMMON_WHEELS: tuple[Wheel, ...] = (
    Wheel(32, f"{_GEARS}; {_SCALLOPS}"),
    Wheel(48, _SCALLOPS),
    Wheel(60, _GEARS),
    Wheel(64, f"{_GEARS}; {_SCALLOPS}", 17.9),
    Wheel(72, f"{_GEARS}; {_SCALLOPS}"),
    Wheel(77, _GEARS),
    Wheel(80, f"{_GEARS}; {_SCALLOPS}", 7.4),
    Wheel(84, _GEARS),
    Wheel(88, _GEARS),
    Wheel(96, f"{_GEARS}; {_SCALLOPS}", 65.3),
    Wheel(99, _NO_SOURCE),
    Wheel(104, _NO_SOURCE),
    Wheel(108, _GEARS),
    Wheel(112, _NO_SOURCE),
    Wheel(120, f"{_GEARS}; {_SCALLOPS}", 3.1),
)


@dataclass(frozen=True)
class Division:
    """``fold`` facets set on the nearest teeth of a wheel. ``errors_deg`` is wanted azimuth minus tooth
    azimuth.
    """

    teeth: int
    fold: int
    settings: tuple[int, ...]
    errors_teeth: tuple[Fraction, ...]

    @property
    def exact(self) -> bool:
        return not any(self.errors_teeth)

    @property
    def errors_deg(self) -> tuple[float, ...]:
        return tuple(float(error * 360 / self.teeth) for error in self.errors_teeth)

    @property
    def greatest_error_deg(self) -> float:
        return max(abs(error) for error in self.errors_deg)

    @property
    def steps_deg(self) -> tuple[float, ...]:
        """Azimuth from each facet to the next, in the order of ``settings``; they add up to 360."""
        following = (*self.settings[1:], self.settings[0] + self.teeth)
        pairs = zip(self.settings, following, strict=True)
        return tuple((later - sooner) * 360 / self.teeth for sooner, later in pairs)

    @property
    def side_lengths(self) -> tuple[float, ...]:
        """Sides of the girdle these settings cut when every facet lies at distance 1 from the axis.

        Side i is ``tan(step before / 2) + tan(step after / 2)``; needs every step under 180 degrees.
        """
        after = [math.radians(step) for step in self.steps_deg]
        before = [after[-1], *after[:-1]]
        if max(after) >= math.pi:
            raise OutOfRange(
                "Two facets in a row stand 180° or more apart: they close no outline.", steps=self.steps_deg
            )
        return tuple(math.tan(a / 2) + math.tan(b / 2) for a, b in zip(before, after, strict=True))


@dataclass(frozen=True)
class MovedSetting:
    """A setting carried to another wheel: ``wanted`` may fall between teeth, ``nearest`` is the tooth to
    use.
    """

    old: int
    wanted: Fraction
    nearest: int
    error_deg: float

    @property
    def exact(self) -> bool:
        return self.wanted.denominator == 1


@dataclass(frozen=True)
class WheelReport:
    """One row of the wheel table: which folds fit, which also with facets midway, and the breaks of a
    round.
    """

    teeth: int
    degrees_per_tooth: float
    folds: tuple[int, ...]
    midway_folds: tuple[int, ...]
    round_breaks: bool


@dataclass(frozen=True)
class Side:
    """One side of an outline against the mean of all: ``off`` in the unit that was read, ``off_percent`` of
    the mean.
    """

    number: int
    length: Decimal
    off: Decimal
    off_percent: Decimal
    verdict: str
    """``long``, ``short`` or ``even`` (within tolerance)."""


@dataclass(frozen=True)
class GirdleBalance:
    """Sides read around an outline: their mean, the tolerance asked for and each side against it."""

    mean: Decimal
    tolerance: Decimal
    sides: tuple[Side, ...]

    @property
    def balanced(self) -> bool:
        return all(side.verdict == "even" for side in self.sides)

    @property
    def spread_percent(self) -> Decimal:
        """Longest minus shortest side, in per cent of the mean."""
        lengths = [side.length for side in self.sides]
        return (max(lengths) - min(lengths)) * 100 / self.mean


def degrees_per_tooth(teeth: int) -> float:
    """Azimuth of one tooth, degrees: 360 / teeth.

    >>> degrees_per_tooth(96)
    3.75
    """
    return 360 / _checked_teeth(teeth)


def divides(teeth: int, fold: int) -> bool:
    """True if ``fold`` equally spaced facets all fall on teeth."""
    return _checked_teeth(teeth) % _checked_fold(fold) == 0


def divides_midway(teeth: int, fold: int) -> bool:
    """True if facets midway between ``fold`` mains fall on teeth too: 2 x fold divides the wheel."""
    return divides(teeth, 2 * fold)


def divides_breaks(teeth: int, mains: int = ROUND_MAINS) -> bool:
    """True if the breaks of a round with ``mains`` mains fall on teeth: 4 x mains divides the wheel.

    Two breaks stand between neighbouring mains, at a quarter and three quarters of the step; for the
    standard 8 mains that is 11.25 degrees, so the wheel must divide by 32 (Harding, "Scallops").
    """
    return divides(teeth, 4 * mains)


def report(teeth: int, *, least_fold: int = 2, most_fold: int = 16) -> WheelReport:
    """The row of the wheel table for one wheel, folds from ``least_fold`` to ``most_fold``."""
    folds = tuple(n for n in range(least_fold, most_fold + 1) if divides(teeth, n))
    midway = tuple(n for n in folds if divides_midway(teeth, n))
    return WheelReport(teeth, degrees_per_tooth(teeth), folds, midway, divides_breaks(teeth))


def nearest_settings(teeth: int, fold: int, *, start: Fraction | int = 0) -> Division:
    """Put ``fold`` equally spaced facets on the nearest teeth, the first wanted at ``start`` (teeth, may be
    a fraction).

    A facet exactly half-way between two teeth goes to the higher one. The error never exceeds half a tooth,
    180/teeth degrees. Raises ``OutOfRange`` when two facets would share a tooth (more facets than the wheel
    can tell apart).

    >>> division = nearest_settings(96, 7)
    >>> division.settings
    (0, 14, 27, 41, 55, 69, 82)
    >>> round(division.greatest_error_deg, 3)
    1.607
    """
    _checked_teeth(teeth)
    _checked_fold(fold)
    wanted = [Fraction(start) + Fraction(k * teeth, fold) for k in range(fold)]
    nearest = [math.floor(at + Fraction(1, 2)) for at in wanted]
    settings = [tooth % teeth for tooth in nearest]
    if len(set(settings)) < fold:
        raise OutOfRange(
            f"A wheel of {teeth} teeth cannot hold {fold} facets apart; use a finer wheel.", teeth=teeth
        )
    errors = [at - tooth for at, tooth in zip(wanted, nearest, strict=True)]
    turn = settings.index(min(settings))
    ordered_settings = (*settings[turn:], *settings[:turn])
    return Division(teeth, fold, ordered_settings, (*errors[turn:], *errors[:turn]))


def wheels_for(fold: int, *, midway: bool = False, breaks: bool = False) -> tuple[Wheel, ...]:
    """The common wheels that divide ``fold``, if wanted also with midway facets or with a pair of breaks
    between mains.
    """
    need = _checked_fold(fold) * (4 if breaks else 2 if midway else 1)
    return tuple(wheel for wheel in COMMON_WHEELS if wheel.teeth % need == 0)


def move_settings(settings: Sequence[int], old_teeth: int, new_teeth: int) -> tuple[MovedSetting, ...]:
    """Carry settings from one wheel to another: setting x new / old; what falls between teeth says by how
    much.

    ``error_deg`` is wanted azimuth minus tooth azimuth. The old wheel's last number and 0 are the same
    tooth.

    >>> [moved.nearest for moved in move_settings([10, 64], 64, 96)]
    [15, 0]
    """
    _checked_teeth(old_teeth)
    _checked_teeth(new_teeth)
    return tuple(_moved(setting, old_teeth, new_teeth) for setting in settings)


def _moved(setting: int, old_teeth: int, new_teeth: int) -> MovedSetting:
    if not 0 <= setting <= old_teeth:
        raise OutOfRange(
            f"A wheel of {old_teeth} teeth has no setting {setting}; give 0 to {old_teeth}.", setting=setting
        )
    wanted = Fraction((setting % old_teeth) * new_teeth, old_teeth)
    tooth = math.floor(wanted + Fraction(1, 2))
    return MovedSetting(setting, wanted, tooth % new_teeth, float((wanted - tooth) * 360 / new_teeth))


def setting_label(setting: int, teeth: int) -> str:
    """The number as it stands on the wheel: tooth 0 bears the count of teeth (common practice, no source).

    >>> setting_label(0, 96)
    '96'
    """
    return str(setting % _checked_teeth(teeth) or teeth)


def girdle_balance(side_lengths: Sequence[Decimal], tolerance: Decimal) -> GirdleBalance:
    """Say which sides of a girdle that should be even are long or short against their mean, and by how
    much.

    ``side_lengths`` in order round the stone, any one unit (mm, or divisions of an eyepiece); ``tolerance``
    in the same unit, on each side of the mean. A side that differs by exactly the tolerance is even. At
    least three sides, all above zero, and a tolerance not below zero, else ``OutOfRange``.
    """
    if len(side_lengths) < LEAST_TEETH:
        raise OutOfRange("Give at least three sides, read in order round the stone.", sides=len(side_lengths))
    if not all(length.is_finite() and length > 0 for length in side_lengths):
        raise OutOfRange("Every side must be longer than zero.", sides=tuple(side_lengths))
    if not tolerance.is_finite() or tolerance < 0:
        raise OutOfRange("The tolerance cannot be less than zero.", tolerance=tolerance)
    mean = sum(side_lengths, Decimal(0)) / len(side_lengths)
    numbered = enumerate(side_lengths, start=1)
    return GirdleBalance(
        mean, tolerance, tuple(_side(number, length, mean, tolerance) for number, length in numbered)
    )


def _side(number: int, length: Decimal, mean: Decimal, tolerance: Decimal) -> Side:
    off = length - mean
    verdict = "even" if abs(off) <= tolerance else "long" if off > 0 else "short"
    return Side(number, length, off, off * 100 / mean, verdict)


def _checked_teeth(teeth: int) -> int:
    if not LEAST_TEETH <= teeth <= MOST_TEETH:
        raise OutOfRange(f"An index wheel has {LEAST_TEETH} to {MOST_TEETH} teeth, not {teeth}.", teeth=teeth)
    return teeth


def _checked_fold(fold: int) -> int:
    if fold < 1:
        raise OutOfRange(f"A symmetry is 1-fold or more, not {fold}.", fold=fold)
    return fold
