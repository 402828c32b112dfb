"""Specific gravity by weighing in air and in water, with the water's temperature and an honest uncertainty.

Weights are carats (any one unit would do: only ratios count), temperatures degrees Celsius, densities g/cm3.
"SG" here is the density in g/cm3, which differs from the ratio to water at 4 degrees by less than 0.003 per
cent.

Water: CIPM formula, Tanaka et al., Recommended table for the density of water between 0 and 40 C, Metrologia
38 (2001) 301 (the paper was only partly readable; coefficients from memory, results checked against two
printed tables, see ``tests/handbook/test_against_density.py``). Uncertainty: JCGM 100:2008, Guide to the
expression of uncertainty in measurement (GUM): a balance step d is a rectangular distribution, standard
uncertainty d / sqrt 12, once for the load and once for the zero of each weighing.

In practice bubbles and the drag of the wire, not the balance, limit what a step under 0.001 ct can tell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from workshop.handbook.errors import DoesNotAddUp, OutOfRange

Number = Decimal | float

COLDEST_C, WARMEST_C = 0.0, 40.0
"""Range of the CIPM formula."""
AIR_DENSITY = 0.0012
"""g/cm3, dry air at about 20 C and sea level (from memory; it shifts an SG of 4 by 0.0036)."""
PLAIN_WATER = 1.0
"""g/cm3, when no temperature is given: makes an SG of 4 read 0.01 high at 25 C."""
WATER_TENSION_N_M = 0.0728
"""Surface tension of clean water at 20 C, N/m (from memory)."""
GRAVITY_M_S2 = 9.80665
"""Standard gravity, exact by convention."""
CARAT_G = 0.2
"""Exact: the metric carat."""
COVERAGE_95 = 2.0
"""GUM: k = 2 for about 95 % of a normal distribution."""


@dataclass(frozen=True)
class SpecificGravity:
    """An SG with its standard uncertainty (k = 1), in g/cm3, and where that comes from."""

    value: float
    from_balance: float
    from_water: float
    water_density: float

    @property
    def standard_uncertainty(self) -> float:
        return math.hypot(self.from_balance, self.from_water)

    @property
    def expanded_uncertainty(self) -> float:
        """Half-width of the interval that holds the true value about 95 times in 100."""
        return COVERAGE_95 * self.standard_uncertainty

    @property
    def low(self) -> float:
        return self.value - self.expanded_uncertainty

    @property
    def high(self) -> float:
        return self.value + self.expanded_uncertainty


def water_density(temperature_c: float) -> float:
    """Density of clean air-free water at one atmosphere, g/cm3; 0 to 40 C, else ``OutOfRange``.

    >>> round(water_density(20) * 1000, 3)
    998.207
    """
    _check_temperature(temperature_c)
    t = temperature_c
    return 0.999974950 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def specific_gravity(
    in_air: Number,
    in_water: Number,
    *,
    wire: Number = 0,
    water_c: float | None = None,
    air_density: float = 0.0,
) -> float:
    """SG of a stone from its weight in air and in water.

    ``in_water``: the reading with the stone hanging in water, ``wire`` the reading of the empty wire or cage
    in the same water, taken off. ``water_c``: its temperature; None takes water as 1.000, which reads up to
    0.6 per cent high at 35 C. ``air_density``: give ``AIR_DENSITY`` to allow for the lift of the air: Wa
    (rho_w - rho_a)/(Wa - Ww) + rho_a. Raises ``DoesNotAddUp`` when the stone does not lose weight in water.

    >>> round(specific_gravity(4.02, 3.32, wire=0.30), 3)
    4.02
    """
    air, water = _checked_weights(in_air, in_water, wire)
    liquid = PLAIN_WATER if water_c is None else water_density(water_c)
    if not 0 <= air_density < liquid:
        raise OutOfRange(f"Air of {air_density:g} g/cm³ is not lighter than water.", air_density=air_density)
    return air * (liquid - air_density) / (air - water) + air_density


def specific_gravity_by_displacement(
    weight: Number, displaced: Number, *, water_c: float | None = None
) -> float:
    """SG from the weight of a stone and of the water it displaces, same unit (hanging it in a cup on the
    balance).
    """
    return specific_gravity(weight, float(weight) - float(displaced), water_c=water_c)


def weigh(
    in_air: Number,
    in_water: Number,
    *,
    balance_step: Number,
    water_c: float,
    water_c_within: float = 1.0,
    wire: Number = 0,
    air_density: float = 0.0,
) -> SpecificGravity:
    """SG with its uncertainty, from the step of the balance and how well the water's temperature is known.

    ``balance_step`` in the unit of the weights, above zero; ``water_c_within``: the true temperature lies
    within so many degrees of ``water_c`` (rectangular). Bubbles and wire drag are not in it.
    """
    value = specific_gravity(in_air, in_water, wire=wire, water_c=water_c, air_density=air_density)
    water = water_density(water_c)
    return SpecificGravity(
        value=value,
        from_balance=balance_uncertainty(in_air, value, balance_step=balance_step, water_density=water),
        from_water=value * water_uncertainty(water_c, water_c_within) / water,
        water_density=water,
    )


def balance_uncertainty(
    in_air: Number, sg: float, *, balance_step: Number, water_density: float = PLAIN_WATER
) -> float:
    """Standard uncertainty of SG from the balance step alone, two readings to a weighing (k = 1).

    u = SG^2/(W rho) sqrt((1 - rho/SG)^2 + 1) u_w with u_w = d sqrt(2/12): the air weight stands above and
    below the line, the water weight only below.
    """
    step = float(balance_step)
    if not 0 < step < math.inf:
        raise OutOfRange("The step of the balance must be more than zero.", balance_step=balance_step)
    one_weighing = step * math.sqrt(2 / 12)
    slope = sg_error(in_air, sg, 1.0, water_density=water_density)
    return slope * math.hypot(1 - water_density / sg, 1.0) * one_weighing


def sg_error(
    in_air: Number, sg: float, weighing_error: Number, *, water_density: float = PLAIN_WATER
) -> float:
    """How far SG moves when the weight in water is off by ``weighing_error``: SG^2/(W rho) x error.

    >>> round(sg_error(2, 4, 0.01), 3)
    0.08
    """
    weight = float(in_air)
    if not (0 < weight < math.inf and 0 < sg < math.inf):
        raise OutOfRange("Weight and SG must be more than zero.", in_air=in_air, sg=sg)
    return sg * sg / (weight * water_density) * float(weighing_error)


def water_uncertainty(temperature_c: float, within_c: float) -> float:
    """Standard uncertainty of the water's density, g/cm3, its temperature known to ± ``within_c``
    (rectangular).

    Half the difference of density across the span, over sqrt 3; the span is cut off at the ends of the
    formula.
    """
    _check_temperature(temperature_c)
    if not 0 <= within_c < math.inf:
        raise OutOfRange("The temperature is known to within zero degrees or more.", within_c=within_c)
    cold, warm = max(temperature_c - within_c, COLDEST_C), min(temperature_c + within_c, WARMEST_C)
    return abs(water_density(cold) - water_density(warm)) / 2 / math.sqrt(3)


def wire_drag_ct(wire_diameter_mm: float, *, tension_n_m: float = WATER_TENSION_N_M) -> float:
    """Greatest pull of the water's surface on a hanging wire, carats: pi x diameter x surface tension.

    A 0.1 mm wire is pulled by up to 2.3 mg (0.012 ct); a drop of detergent lowers it (common practice, no
    source).
    """
    if not 0 <= wire_diameter_mm <= 5:
        raise OutOfRange("A wire is 0 to 5 mm thick.", wire_diameter_mm=wire_diameter_mm)
    newtons = math.pi * wire_diameter_mm / 1000 * tension_n_m
    return newtons / GRAVITY_M_S2 * 1000 / CARAT_G


def _checked_weights(in_air: Number, in_water: Number, wire: Number) -> tuple[float, float]:
    air, hanging, empty = float(in_air), float(in_water), float(wire)
    if not (0 < air < math.inf and 0 <= empty < math.inf and math.isfinite(hanging)):
        raise OutOfRange(
            "Weights must be numbers: more than zero in air, not less than zero for the wire.", in_air=in_air
        )
    water = hanging - empty
    if water >= air:
        raise DoesNotAddUp(
            "The stone must weigh less in water than in air; check both weights.", lost=air - water
        )
    if water < 0:
        raise DoesNotAddUp(
            "The stone floats: it weighs less than nothing in water; this method cannot tell.", water=water
        )
    return air, water


def _check_temperature(temperature_c: float) -> None:
    if not COLDEST_C <= temperature_c <= WARMEST_C:
        raise OutOfRange(
            f"The water formula holds from {COLDEST_C:g} to {WARMEST_C:g} °C, not at {temperature_c:g} °C.",
            temperature_c=temperature_c,
        )
