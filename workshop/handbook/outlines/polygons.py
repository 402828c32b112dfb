"""Regular polygons and every reading that is called their diameter: closed forms of plane geometry."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import OutOfRange


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
    positive("side", side)
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
    positive("width", width)
    return regular_polygon(sides, width / float(reading))


def positive(name: str, value: float) -> float:
    value = float(value)
    if not (math.isfinite(value) and value > 0):
        raise OutOfRange(f"The {name} must be a size above zero, in millimetres.", **{name: value})
    return value
