"""Three people, an aquamarine drawn from a lot that cost something, and what is asked about it."""

from decimal import Decimal
from urllib.parse import urlencode

import pytest
from django.test import Client

from tests import makers
from workshop.materials.models import Material

#: What one types on the page of options: a block of 12 × 9 × 7 mm would weigh 10.28 ct at SG 2.72.
ASKED = {
    "weight": "9.6 ct", "length_mm": "12", "width_mm": "9", "height_mm": "7", "shape": "block", "crystal_sides": "",
    "skin_mm": "0", "sg": "2.72", "ri": "1.577", "mohs": "7.5", "style": "", "crown_angle": "34",
    "pavilion_angle": "43", "table": "57", "girdle": "3", "flats": "2",
    "kind_1": "flat", "way_1": "top", "at_1": "", "turn_1": "", "rise_1": "",
    "kind_2": "flat", "way_2": "top", "at_2": "", "turn_2": "", "rise_2": "",
}  # fmt: skip
MONEY = {
    "rate": "45", "off_percent": "30", "spent": "120.00", "asked": "80", "from_2": "", "asked_2": "", "from_3": "",
    "asked_3": "",
}  # fmt: skip


@pytest.fixture
def shop(db):
    return makers.make_shop(zone="Europe/Lisbon")


@pytest.fixture
def owner(shop):
    return makers.make_owner()


@pytest.fixture
def hand(shop):
    return makers.make_hand()


@pytest.fixture
def reader(shop):
    return makers.make_reader()


@pytest.fixture
def aquamarine(shop):
    return Material.objects.get(key="beryl-aquamarine")


@pytest.fixture
def lot(aquamarine):
    return makers.make_lot(
        "100 ct", unit_price=Decimal("777.77"), price_basis="lot", currency="EUR", material=aquamarine
    )


@pytest.fixture
def stone(lot, aquamarine):
    return makers.make_stone(
        "9.6 ct", lot=lot, material=aquamarine, length_mm=Decimal("12"), width_mm=Decimal("9"), depth_mm=Decimal("7")
    )  # fmt: skip


def _signed_in(person):
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def as_owner(owner):
    return _signed_in(owner)


@pytest.fixture
def as_hand(hand):
    return _signed_in(hand)


@pytest.fixture
def as_reader(reader):
    return _signed_in(reader)


@pytest.fixture
def asked():
    """The address of a question: the page, and what is typed otherwise."""

    def address(page, *, money=True, **said):
        return f"{page}?{urlencode(ASKED | (MONEY if money else {}) | said)}"

    return address


@pytest.fixture
def choose(asked):
    """Choose an outline for a stone, as a press of the button would."""

    def press(client, stone, outline="oval", *, once="key-1", **said):
        address = asked(f"/planning/stones/{stone.code}/choose/", **said)
        return client.post(address, {"outline": outline, "once": once})

    return press
