"""Goods of others go to their owner and to nobody else, and their owner is named on no card, also after a purchase."""

from decimal import Decimal

import pytest

from tests.makers import DAY, NOON, make_contact, make_gem, make_lot, make_owner, make_shop, make_stone
from workshop.common.errors import DeedRefused
from workshop.gems import actions as gems
from workshop.gems.papers import _owner_names
from workshop.rough import actions as rough
from workshop.stones import actions as stones

pytestmark = pytest.mark.django_db


@pytest.fixture
def client_of_ours():
    make_shop()
    return make_contact("Ottilie Brand", firm="Brand & Daughter")


@pytest.fixture
def their_lot(client_of_ours):
    return make_lot("50 ct", by=make_owner(), came="left", ownership="client", owner=client_of_ours)


@pytest.mark.parametrize("place", ["memo", "client"])
def test_their_gem_and_lot_go_to_nobody_else(their_lot, place):
    other = make_contact("Somebody else")
    gem = make_gem("2 ct", stone=make_stone("10 ct", lot=their_lot))
    with pytest.raises(DeedRefused, match="owner"):
        gems.move_gem(gem, place=place, holder=other, since=DAY, by=None, at=NOON)
    with pytest.raises(DeedRefused, match="owner"):
        rough.move_lot(their_lot, place=place, holder=other, since=DAY, by=None, at=NOON)


def test_they_may_have_it_and_a_laboratory_too(their_lot, client_of_ours):
    gem = make_gem("2 ct", stone=make_stone("10 ct", lot=their_lot))
    for place, holder in (("laboratory", make_contact("A laboratory")), ("client", client_of_ours)):
        assert gems.move_gem(gem, place=place, holder=holder, since=DAY, by=None, at=NOON).holder == holder


def test_a_former_owner_is_hidden_after_the_shop_bought_the_stone(their_lot):
    stone = make_stone("10 ct", lot=their_lot)
    stone = stones.buy_from_owner(stone, paid=Decimal(40), reason="sold to us", by=None, at=NOON)
    gem = make_gem("2 ct", stone=stone)
    assert gem.is_own
    assert _owner_names(gem) == ["Brand & Daughter", "Ottilie Brand"]
