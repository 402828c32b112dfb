"""The species table against X-ray densities of published unit cells.

rho = Z M / (N_A V): V from the printed cell, M from the atomic masses of ``periodictable``, and
N_A = 6.02214076e23 exactly (SI, 2019), so with V in cubic angstrom rho = Z M / (0.602214076 V) g/cm3. The cells
are mostly of the American Mineralogist Crystal Structure Database; each row names its paper or page.
"""

import math

import pytest
from periodictable import formula

from workshop.handbook.tables import material, rows

CELLS = [row for row in rows("materials_checks") if row["check"] == "density"]


def volume(row):
    """Cubic angstrom of a cell of any symmetry."""
    a, b, c = (float(row[edge]) for edge in "abc")
    cos = [math.cos(math.radians(float(row[angle]))) for angle in ("alpha", "beta", "gamma")]
    return a * b * c * math.sqrt(1 - sum(x * x for x in cos) + 2 * math.prod(cos))


def density(row):
    return int(row["z"]) * formula(row["formula"]).mass / (0.602214076 * volume(row))


def named(row):
    return f"{row['material_key']} {row['formula']} {row['a']}"


@pytest.mark.parametrize("row", CELLS, ids=named)
def test_density_of_the_cell(row):
    rho = density(row)
    assert rho == pytest.approx(float(row["value"]), abs=6e-4)
    stone = material(row["material_key"])
    # compared at the two decimals of the table
    inside = float(stone.sg_low) - 0.005 <= rho <= float(stone.sg_high) + 0.005
    assert inside == (row["inside"] == "yes"), row["comment"]
    if not inside:
        assert row["comment"], "a cell outside the table needs its reason"


def test_only_pure_end_members_fall_outside():
    """No gem is as pure: forsterite without iron, almandine without magnesium, beryl without water, topaz without
    fluorine, kornerupine without iron."""
    outside = {row["formula"] for row in CELLS if row["inside"] == "no"}
    assert outside == {"Mg2SiO4", "Fe3Al2Si3O12", "Be3Al2Si6O18", "Al2SiO6D2", "Mg4Al6Si4BO21H"}


@pytest.mark.parametrize(
    ("key", "tolerance"),
    [
        ("quartz-rock-crystal", 0.01),
        ("diamond-natural-or-synthetic", 0.01),
        ("calcite-gem-iceland-spar", 0.01),
        ("corundum-ruby", 0.02),
        ("spinel-natural", 0.035),
        ("garnet-spessartine", 0.06),
        ("sphalerite-gem", 0.02),
        ("cassiterite-gem", 0.02),
        ("moissanite-synthetic-6h-or-4h-sic", 0.01),
    ],
)
def test_the_typical_value_of_a_simple_stone_is_that_of_its_cell(key, tolerance):
    """Stones of one composition: the value used for weights must be the crystal's own.

    Wider for spinel, whose natural stones hold a little iron and zinc, and for spessartine.
    """
    for row in CELLS:
        if row["material_key"] == key:
            assert float(material(key).sg_typical) == pytest.approx(density(row), abs=tolerance)
