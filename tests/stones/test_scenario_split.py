"""An own sapphire crystal comes apart on the saw: through the deeds and through the pages.

The trade sheet's worked case (invented, worked out by hand): 38.50 ct at 1,155.00; pieces 15.20, 12.65 and 6.10,
kerf and chips 4.55 (11.8 %). Usable 33.95 ct bear 1,155.00 / 33.95 = 34.0206 a carat: 517.11, 430.36, 207.53. The
first two weigh 4.88 (32.1 %) and 3.61 ct (28.5 %) in the end, so the crystal gave 8.49 / 38.50 = 22.1 % so far.
"""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.makers import DAY, NOON, make_lot, make_owner, make_shop
from workshop.common.errors import DeedRefused
from workshop.handbook.units import parse_weight
from workshop.handbook.weights import loss_percent, recovery_percent
from workshop.rough.figures import money_account, weight_account
from workshop.rough.models import RoughLot
from workshop.stones import actions
from workshop.stones.models import Ending, LossCause, Stone

pytestmark = pytest.mark.django_db
D = Decimal


def ct(text):
    return parse_weight(f"{text} ct")


@pytest.fixture(autouse=True)
def shop():
    return make_shop()


@pytest.fixture
def crystal():
    lot = make_lot("38.50 ct", sold_as="sapphire crystal", price_basis="lot", unit_price=D("1155"), pieces=1)
    return actions.draw_stone(lot, ct("38.50"), plan="two ovals", by=None, at=NOON)


def split(crystal):
    return actions.split_stone(
        crystal,
        [ct("15.20"), ct("12.65"), ct("6.10")],
        kerf_ct=D("3.05"),
        chips_ct=D("1.50"),
        reason="came apart along a flaw",
        by=None,
        at=NOON,
    )


def test_the_crystal_carries_the_whole_cost_of_its_lot(crystal):
    assert (crystal.start_ct, crystal.rough_cost) == (D("38.500"), D("1155.00"))


def test_shares_by_usable_weight_and_every_carat_accounted_for(crystal):
    pieces = split(crystal)
    assert [piece.rough_cost for piece in pieces] == [D("517.11"), D("430.36"), D("207.53")]
    assert sum(piece.rough_cost for piece in pieces) == D("1155.00")
    usable = sum(piece.start_ct for piece in pieces)
    assert (D("1155") / usable).quantize(D("0.0001")) == D("34.0206")
    crystal.refresh_from_db()
    lost = {loss.cause: loss.weight_ct for loss in crystal.losses.all()}
    assert lost == {LossCause.KERF: D("3.05"), LossCause.CHIPS: D("1.50")}
    assert loss_percent(usable, crystal.weight_ct) == D("11.8")
    assert crystal.gap_ct == 0
    assert crystal.weight_ct == usable + sum(lost.values()) + crystal.gap_ct
    assert crystal.rough_cost == 0
    assert {piece.parent for piece in pieces} == {crystal}


def test_what_the_pieces_gave_and_that_the_crystal_is_closed(crystal):
    first, second, third = split(crystal)
    for piece, weight, gave in ((first, "4.88", "32.1"), (second, "3.61", "28.5")):
        actions.record_weight(piece, ct(weight), by=None, at=NOON)
        piece.refresh_from_db()
        assert recovery_percent(piece.weight_ct, piece.start_ct) == D(gave)
    actions.end_stone(third, Ending.PUT_BY, reason="low grade", by=None, at=NOON)
    assert recovery_percent(first.weight_ct + second.weight_ct, crystal.start_ct) == D("22.1")
    crystal.refresh_from_db()
    assert crystal.ending == Ending.SPLIT
    with pytest.raises(DeedRefused):
        split(crystal)
    with pytest.raises(DeedRefused):
        actions.record_weight(crystal, ct("5"), by=None, at=NOON)
    lot = RoughLot.objects.get()
    draws = list(lot.draws.all())
    assert weight_account(lot, [], draws, []).adds_up
    assert money_account(lot, draws).adds_up
    assert sum(stone.rough_cost for stone in Stone.objects.all()) == lot.landed_cost == D("1155.00")


def test_pieces_may_not_weigh_more_than_the_crystal(crystal):
    with pytest.raises(DeedRefused):
        actions.split_stone(crystal, [ct("30"), ct("9")], by=None, at=NOON)
    assert Stone.objects.count() == 1


def test_the_same_through_the_pages(client):
    client.force_login(make_owner())
    receipt = {
        "way_in": "bought", "received_on": DAY.isoformat(), "weight": "7.7 g", "sold_as": "sapphire crystal",
        "evidence": "1", "price_basis": "lot", "unit_price": "1155", "currency": "EUR",
    }  # fmt: skip
    lot_url = client.post(reverse("rough:receive"), receipt).url
    drawn = {"weight": "38,50 ct", "first_side": "pavilion", "drawn_on": DAY.isoformat()}
    stone_url = client.post(reverse("stones:draw", args=["L-0001"]), drawn).url
    assert stone_url == reverse("stones:stone", args=["S-0001"])
    sent = {
        "rows": "3", "piece_1": "15.20 ct", "piece_2": "12.65ct", "piece_3": "1.22 g",
        "kerf": "3.05 ct", "chips": "1.5 ct", "reason": "came apart",
    }  # fmt: skip
    assert client.post(reverse("stones:split", args=["S-0001"]), sent).status_code == 302
    pieces = Stone.objects.exclude(parent=None).order_by("pk")
    assert [piece.rough_cost for piece in pieces] == [D("517.11"), D("430.36"), D("207.53")]
    page = client.get(lot_url).content.decode().replace("\xa0", " ")
    assert "made into several" in page
    assert "does not add up" not in page
    assert "1,155.00" in page
