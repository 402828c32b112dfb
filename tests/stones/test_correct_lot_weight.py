"""A lot's mistyped weight is put right with a reason; the old one stays in the journal, and nothing is lost."""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.laws import laws
from tests.makers import NOON, make_hand, make_lot, make_owner, make_shop, make_stone
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import JournalEntry
from workshop.handbook.units import parse_weight
from workshop.stones import actions

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def owner(client):
    make_shop()
    owner = make_owner()
    client.force_login(owner)
    return owner


def priced_lot(owner, weight="62.4 ct"):
    return make_lot(weight, by=owner, price_basis="lot", unit_price=D("100.00"))


def correct(lot, weight, **said):
    return actions.correct_lot_weight(
        lot, parse_weight(weight), **{"reason": "the point slipped", "by": None, "at": NOON, **said}
    )


def test_it_works(client, owner):
    lot = priced_lot(owner)
    make_stone("3.12 ct", lot=lot, by=owner)
    page = reverse("stones:correct_lot", args=[lot.code])
    assert client.get(page).status_code == 200
    answer = client.post(page, {"weight": "6,24 ct", "reason": "the point slipped"})
    assert answer.status_code == 302
    lot.refresh_from_db()
    assert (lot.weight_ct, lot.left_ct, lot.cost_left) == (D("6.240"), D("3.120"), D("50.000"))
    entry = JournalEntry.objects.get(verb="corrected lot weight")
    assert (entry.before["weight_ct"], entry.after["weight_ct"]) == ("62.400", "6.240")
    laws.check_weights()
    laws.check_money()


def test_a_lot_never_held_less_than_was_taken_from_it(client, owner):
    lot = priced_lot(owner)
    make_stone("30 ct", lot=lot, by=owner)
    answer = client.post(
        reverse("stones:correct_lot", args=[lot.code]), {"weight": "6.24 ct", "reason": "the point slipped"}
    )
    assert answer.status_code == 422
    lot.refresh_from_db()
    assert lot.weight_ct == D("62.400")
    assert not JournalEntry.objects.filter(verb="corrected lot weight").exists()


def test_a_sorted_lot_shows_the_gap_and_asks_about_a_large_one(owner):
    lot = priced_lot(owner, "100 ct")
    lot = actions.sort_lot(
        lot, [actions.GroupSpec("all", D("99"))], rule="weight", by=owner, at=NOON, sure=True
    )
    with pytest.raises(PleaseConfirm):
        correct(lot, "120 ct")
    assert correct(lot, "120 ct", sure=True).weight_ct == D("120.000")
    with pytest.raises(DeedRefused, match="more than the lot"):
        correct(lot, "50 ct", sure=True)
    laws.check_weights()


def test_it_needs_a_reason_and_the_owner(client, owner):
    lot = priced_lot(owner)
    with pytest.raises(DeedRefused, match="why"):
        correct(lot, "60 ct", reason=" ")
    client.force_login(make_hand())
    assert client.get(reverse("stones:correct_lot", args=[lot.code])).status_code == 403
