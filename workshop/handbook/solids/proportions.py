"""Heights from angles and back: the arithmetic of a cut in percentages of its width.

Crown = (100 - table) / 2 x tan(crown angle), pavilion = 50 x tan(pavilion angle), total = the sum and the
girdle: plane geometry, as used by Reinitz, Geurts and Gilbertson, "Weight ratio within the GIA diamond cut
grading system" (studylib.net/doc/8864652). Percentages are of the average diameter of a round, of the least
width of other outlines (lunns.portfoliooffinediamonds.com, glossary, "Depth percentage").
"""

from __future__ import annotations

import math

from ..errors import OutOfRange
from .planes import ImpossibleAngle


def crown_height_percent(table_percent: float, crown_angle_deg: float) -> float:
    """Height of the crown, % of width, from the table (0 to 100 %) and the angle of its mains (0 to 90 deg).

    >>> round(crown_height_percent(57, 34), 1)
    14.5
    """
    return (100 - _percent("table", table_percent)) / 2 * _slope(crown_angle_deg)


def pavilion_depth_percent(pavilion_angle_deg: float) -> float:
    """Depth of a pavilion that ends in a point, % of width, from the angle of its mains (0 to 90 deg)."""
    return 50 * _slope(pavilion_angle_deg)


def total_depth_percent(
    table_percent: float, crown_angle_deg: float, pavilion_angle_deg: float, girdle_percent: float
) -> float:
    """Depth from table to culet, % of width. The girdle counts where the mains meet it, its thick places."""
    crown = crown_height_percent(table_percent, crown_angle_deg)
    return crown + _percent("girdle", girdle_percent) + pavilion_depth_percent(pavilion_angle_deg)


def crown_angle_from(table_percent: float, crown_height_percent: float) -> float:
    """Angle of the crown mains, deg, from table and crown height, both % of width."""
    open_part = 100 - _percent("table", table_percent)
    if open_part == 0:
        raise OutOfRange("A table as wide as the stone leaves no crown.", table=table_percent)
    return math.degrees(math.atan2(2 * _percent("crown height", crown_height_percent), open_part))


def pavilion_angle_from(pavilion_depth_percent: float) -> float:
    """Angle of the pavilion mains, deg, from the depth of the pavilion, % of width."""
    if not pavilion_depth_percent >= 0:
        raise OutOfRange("The pavilion depth is a percentage of the width, 0 or more.")
    return math.degrees(math.atan2(pavilion_depth_percent, 50))


def scallop_percent(break_angle_deg: float, breaks: int = 16) -> float:
    """How far each break dips into a round girdle, % of width: D/2 tan(break) (1 - cos(180/breaks)).

    By this much, for crown and pavilion together, a girdle is thicker at the mains than in the middle of a
    break (B. Harding, "Scallops", pricescope.com/journal/scallops).
    """
    if breaks < 3:
        raise OutOfRange("A round has at least three breaks.", breaks=breaks)
    return 50 * _slope(break_angle_deg) * (1 - math.cos(math.pi / breaks))


def _slope(angle_deg: float) -> float:
    if not (math.isfinite(angle_deg) and 0 <= angle_deg < 90):
        raise ImpossibleAngle(
            f"A main stands between 0 and 90 degrees, not at {angle_deg:g}.", angle=angle_deg
        )
    return math.tan(math.radians(angle_deg))


def _percent(name: str, value: float) -> float:
    if not (math.isfinite(value) and 0 <= value <= 100):
        raise OutOfRange(
            f"The {name} is a percentage from 0 to 100, not {value:g}.", **{name.replace(" ", "_"): value}
        )
    return value
