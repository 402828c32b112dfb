"""A shop with its owner signed in, and a tourmaline off the dop."""

from decimal import Decimal

import pytest

from tests.makers import NOON, make_lot, make_owner, make_shop
from workshop.handbook.units import parse_weight
from workshop.materials.models import Material
from workshop.stones import actions as stones


@pytest.fixture
def owner(client, db):
    make_shop(cutter="Oona Vale")
    person = make_owner()
    client.force_login(person)
    return person


@pytest.fixture
def stone(owner):
    """10 ct of tourmaline that cost 250.00, off the dop, clean and loose."""
    lot = make_lot("40 ct", by=owner, price_basis="lot", unit_price=Decimal("1000.00"))
    drawn = stones.draw_stone(lot, parse_weight("10 ct"), by=owner, at=NOON)
    elbaite = Material.objects.get(key="tourmaline-elbaite")
    stones.describe_stone(drawn, {"material": elbaite}, by=owner, at=NOON)
    return stones.move_on(drawn, "off_dop", by=owner, at=NOON)
