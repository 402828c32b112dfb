"""The shop buys a client's stone."""

from decimal import Decimal

import pytest

from tests.makers import NOON, make_contact, make_lot, make_stone
from workshop.stones import actions


@pytest.fixture
def clients(shop):
    client = make_contact("Ada Invented", is_client=True)
    return make_stone("3 ct", lot=make_lot("3 ct", ownership="client", owner=client, came="left"))


def url(stone):
    return f"/stones/{stone.code}/buy/"


def test_it_works(as_owner, clients):
    assert as_owner.post(url(clients), {"paid": "150", "reason": "given up by the client"}).status_code == 302
    clients.refresh_from_db()
    assert (clients.ownership, clients.owner, clients.cost_to_date) == ("shop", None, Decimal("150"))


def test_it_may_be_a_gift(as_owner, clients):
    assert as_owner.post(url(clients), {"paid": "0", "reason": "instead of the fee"}).status_code == 302
    clients.refresh_from_db()
    assert (clients.ownership, clients.other_cost) == ("shop", 0)


def test_what_comes_back_is_as_it_stands(owner, clients):
    bought = actions.buy_from_owner(clients, paid=Decimal("150"), reason="given up", by=owner, at=NOON)
    assert bought.other_cost == Decimal("150")


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"paid": "-1", "reason": "x"}, "paid"),
        ({"paid": "", "reason": "x"}, "paid"),
        ({"paid": "10", "reason": " "}, "reason"),
        ({"paid": "10", "reason": "x" * 201}, "reason"),
    ],
)
def test_slips_are_refused_whole(as_owner, clients, sent, field):
    answer = as_owner.post(url(clients), sent)
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    clients.refresh_from_db()
    assert clients.ownership == "client"


def test_ones_own_is_not_bought(as_owner, stone):
    assert as_owner.post(url(stone), {"paid": "1", "reason": "x"}).status_code == 422


def test_a_finished_stone_changes_hands_as_a_gem(as_owner, clients):
    clients.stage = "finished"
    clients.save()
    assert as_owner.post(url(clients), {"paid": "1", "reason": "x"}).status_code == 422


def test_what_went_back_is_not_bought(as_owner, clients):
    actions.end_stone(clients, "unworked", reason="too included", by=None, at=NOON)
    assert as_owner.post(url(clients), {"paid": "1", "reason": "x"}).status_code == 422


def test_buying_is_the_owners(as_hand, as_reader, clients):
    for client in (as_hand, as_reader):
        assert client.post(url(clients), {"paid": "1", "reason": "x"}).status_code == 403
