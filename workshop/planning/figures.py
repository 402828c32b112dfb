"""The one door in this room from the handbook's floats to the Decimals that are kept."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

SECONDS_IN_AN_HOUR = 3600


def decimal_of(value: float, places: int) -> Decimal:
    """A computed figure at so many places, half up."""
    return Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def carats(value: float) -> Decimal:
    """Carats to 0.001."""
    return decimal_of(value, 3)


def millimetres(value: float) -> Decimal:
    """Millimetres to 0.01."""
    return decimal_of(value, 2)


def degrees(value: float) -> Decimal:
    """Degrees to 0.001."""
    return decimal_of(value, 3)


def per_cent(share: float) -> Decimal:
    """A share of 0 to 1 as per cent, to 0.1."""
    return decimal_of(100 * share, 1)


def seconds(hours: float) -> int:
    """Hours as whole seconds."""
    return int(decimal_of(hours * SECONDS_IN_AN_HOUR, 0))
