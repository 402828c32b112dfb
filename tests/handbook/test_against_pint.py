"""Conversions against Pint, a units library made by others.

Its registry defines carat as 200 mg, grain as 64.79891 mg and the troy ounce as 480 grain. The momme it does not
know: 3.75 g, so 1 momme = 18.75 ct (Pearl weight conversions, Shima Pearl Co. data,
http://beads.how/details-Pearl-Weight--Pearl-Weight-Conversions-in-Wholesale-1517.html).
"""

from decimal import Decimal

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.handbook.units import CARATS_IN, MILLIMETRES_IN, from_carats, to_carats

registry = pint.UnitRegistry(non_int_type=Decimal)
PINT_NAME = {
    "ct": "carat",
    "g": "gram",
    "mg": "milligram",
    "kg": "kilogram",
    "grain": "grain",
    "ozt": "troy_ounce",
}


@pytest.mark.parametrize("unit", PINT_NAME)
def test_carats_in_one_unit(unit):
    ours, theirs = CARATS_IN[unit], registry.Quantity(Decimal(1), PINT_NAME[unit]).to("carat").magnitude
    assert abs(ours - theirs) <= Decimal("1e-20") * ours


@given(st.decimals(min_value="0.001", max_value=10**6, places=3), st.sampled_from(sorted(PINT_NAME)))
def test_any_weight_there_and_back(value, unit):
    theirs = registry.Quantity(value, PINT_NAME[unit])
    assert abs(to_carats(value, unit) - theirs.to("carat").magnitude) <= Decimal("1e-18") * value
    ours_back = from_carats(value, unit)
    assert (
        abs(ours_back - registry.Quantity(value, "carat").to(PINT_NAME[unit]).magnitude)
        <= Decimal("1e-18") * value
    )


@pytest.mark.parametrize(("unit", "name"), [("mm", "millimeter"), ("cm", "centimeter"), ("in", "inch")])
def test_millimetres_in_one_unit(unit, name):
    assert MILLIMETRES_IN[unit] == registry.Quantity(Decimal(1), name).to("millimeter").magnitude


def test_every_unit_of_ours_was_compared_or_is_the_momme():
    assert set(CARATS_IN) == {*PINT_NAME, "momme"}
    assert CARATS_IN["momme"] == Decimal("18.75")
