"""What a species' page says of angles and of what it is confused with."""

from decimal import Decimal

import pytest
from django.test import Client

from tests import makers
from workshop.handbook import tables
from workshop.materials import reference


@pytest.fixture
def client(db):
    makers.make_shop()
    client = Client()
    client.force_login(makers.make_hand())
    return client


@pytest.mark.parametrize(
    ("key", "critical"),
    # Handbook values of the critical angle (asia-gems.com/gemology/light.php): at the index given there.
    [("quartz-amethyst", 40.37), ("diamond-natural-or-synthetic", 24.44), ("cubic-zirconia-man-made", 27.58)],
)
def test_the_critical_angle_is_the_published_one(key, critical):
    assert reference.angles(tables.material(key))["critical"] == pytest.approx(critical, abs=0.35)


def test_the_lowest_index_is_taken_because_its_critical_angle_is_the_larger():
    row = tables.material("olivine-peridot")
    assert reference.angles(row)["index"] == row.ri_low < row.ri_high


def test_topaz_names_both_schools():
    """39 (Washington, ukfcg.org) and 42 (gemsociety.org, Choosing angles): sources disagree, both stand."""
    advised = {
        one.angle_deg for one, _ in reference.angles(tables.material("topaz-colourless-and-blue"))["advised"]
    }
    assert {39.0, 42.0} <= advised


def test_what_cannot_be_parted_is_named_from_both_sides():
    for row in tables.materials():
        for other in reference.confused_with(row):
            back = {one.species for one in reference.confused_with(tables.material(other.key))}
            assert row.species in back, (row.key, other.key)


def test_ruby_is_not_confused_with_quartz_and_never_with_itself():
    named = {one.species for one in reference.confused_with(tables.material("corundum-ruby"))}
    assert "quartz" not in named and "corundum" not in named


def test_the_confusions_of_the_bench():
    """Index and gravity overlap: quartz and iolite, spinel and grossular (spans of the table itself)."""
    quartz = {one.species for one in reference.confused_with(tables.material("quartz-amethyst"))}
    assert {"cordierite", "scapolite"} & quartz
    for one in reference.confused_with(tables.material("spinel-natural")):
        other = tables.material(one.key)
        assert other.ri_low <= Decimal("1.740") and other.sg_high >= tables.material("spinel-natural").sg_low


def test_the_page_shows_both(client):
    text = client.get("/materials/topaz-colourless-and-blue/").content.decode()
    assert "Confused with" in text and "Critical angle" in text
    assert "/planning/calculators/window/?ri=1.606" in text


@pytest.mark.parametrize("row", tables.materials(), ids=lambda row: row.key)
def test_every_species_has_its_angles(row):
    found = reference.angles(row)
    assert found["advised"] and len(found["tilts"]) == len(reference.PAVILIONS_SHOWN)
