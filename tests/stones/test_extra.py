"""What was worn or paid for one stone alone."""

from decimal import Decimal

import pytest

TYPED = {"kind": "wear", "amount": "6,50", "on": "2026-03-02"}


def url(stone):
    return f"/stones/{stone.code}/extra/"


def test_it_works(as_owner, stone):
    assert as_owner.post(url(stone), TYPED).status_code == 302
    as_owner.post(url(stone), {**TYPED, "kind": "laboratory", "amount": "120"})
    stone.refresh_from_db()
    assert (stone.wear_cost, stone.other_cost) == (Decimal("6.50"), Decimal("120"))


def test_a_minus_takes_an_earlier_sum_back(as_owner, stone):
    as_owner.post(url(stone), TYPED)
    as_owner.post(url(stone), {**TYPED, "amount": "-2.50"})
    stone.refresh_from_db()
    assert stone.wear_cost == Decimal("4")


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"amount": "0"}, "amount"),
        ({"amount": "-1"}, "amount"),
        ({"amount": "six"}, "amount"),
        ({"amount": "1.005"}, "amount"),
        ({"on": "2099-01-01"}, "on"),
        ({"on": ""}, "on"),
        ({"kind": "bribe"}, "kind"),
    ],
)
def test_slips_are_refused_whole(as_owner, stone, sent, field):
    answer = as_owner.post(url(stone), {**TYPED, **sent})
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert not stone.extras.exists()


def test_a_sold_stones_costs_are_closed(as_owner, stone):
    stone.cost_fixed = True
    stone.save()
    answer = as_owner.post(url(stone), TYPED)
    assert answer.status_code == 422
    assert "closed" in answer.content.decode()


def test_sent_twice_it_is_booked_once(as_owner, stone):
    for _ in range(2):
        as_owner.post(url(stone), {**TYPED, "once": "k"})
    assert stone.extras.count() == 1


def test_costs_are_the_owners(as_hand, as_reader, stone):
    for client in (as_hand, as_reader):
        assert client.get(url(stone)).status_code == 403
        assert client.post(url(stone), TYPED).status_code == 403
