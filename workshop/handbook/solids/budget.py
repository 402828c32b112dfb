"""Depth budget: the steepest angles of a cut that still fit a depth, found by halving on ``depth_of``.

Plane geometry only. Whether such angles are worth cutting is for ``optics``: a pavilion below the critical angle
windows face up.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from ..errors import OutOfRange
from ..outlines import Outline
from .cuts import Proportions, depth_of

Part = Literal["pavilion", "crown", "both"]
PARTS: tuple[Part, ...] = ("pavilion", "crown", "both")
LEAST_SLOPE, MOST_SLOPE = 0.02, 8.0
"""Factors on the tangents that are tried; beyond them no cutter's stone lies."""


def fitted_to_depth(
    style: str, outline: Outline, proportions: Proportions, depth: float, *, part: Part = "both"
) -> Proportions | None:
    """The proportions with the angles of ``part`` as steep as ``depth`` (mm, table to culet) allows.

    "pavilion" and "crown" leave the other side as it is; "both" stretches the two by one factor of the tangent, so
    that every meet stays (the tangent ratio; in step style, whose tiers keep their spread, very nearly). Table,
    girdle and culet keep their per cent of the width. None where no angle of that part fits.
    Raises ``OutOfRange`` for a depth that is not above zero or an unknown part.
    """
    if not (math.isfinite(depth) and depth > 0):
        raise OutOfRange("The depth must be a size above zero, in millimetres.", depth=depth)
    if part not in PARTS:
        raise OutOfRange(f"No part is called {part!r}; choose one of: {', '.join(PARTS)}.", known=PARTS)
    low, high = _factors(style, proportions, part)

    def over(factor: float) -> float:
        return depth_of(style, outline, _stretched(proportions, factor, part)) - depth

    if high <= low or over(low) > 0:
        return None
    if over(high) <= 0:
        return _stretched(proportions, high, part)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if over(middle) <= 0 else (low, middle)
    return _stretched(proportions, low, part)


def _stretched(said: Proportions, factor: float, part: Part) -> Proportions:
    crown = said.crown_angle if part == "pavilion" else _steeper(said.crown_angle, factor)
    pavilion = said.pavilion_angle if part == "crown" else _steeper(said.pavilion_angle, factor)
    return replace(said, crown_angle=crown, pavilion_angle=pavilion)


def _steeper(angle: float, factor: float) -> float:
    return math.degrees(math.atan(factor * math.tan(math.radians(angle))))


def _factors(style: str, said: Proportions, part: Part) -> tuple[float, float]:
    """Between which factors every tier still stands at an angle a facet can have."""
    low, high = LEAST_SLOPE, MOST_SLOPE
    span = (said.tiers - 1) * said.tier_spread
    if style == "step" and part != "pavilion":
        low = max(low, _factor(said.crown_angle, span / 2 + 0.5))
        high = min(high, _factor(said.crown_angle, 88 - span / 2))
    if style != "brilliant" and part != "crown":
        high = min(high, _factor(said.pavilion_angle, 88 - span))
    return low, high


def _factor(angle: float, to: float) -> float:
    return math.tan(math.radians(to)) / math.tan(math.radians(angle))
