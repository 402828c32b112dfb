"""Stock at cost: the shop's own by kind, others' goods apart at nil, and a foot that adds up to the last cent."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from tests.makers import (
    DAY,
    NOON,
    make_contact,
    make_gem,
    make_hand,
    make_lot,
    make_owner,
    make_shop,
    make_stone,
)
from workshop.books import questions
from workshop.gems import actions as gems
from workshop.rough.sharing import CostLine
from workshop.sales import actions as sales
from workshop.stones import actions as stones

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def owner(client):
    make_shop()
    owner = make_owner()
    client.force_login(owner)
    return owner


def lot_of(owner, weight="100 ct", price="1000.00", **said):
    return make_lot(weight, by=owner, price_basis="lot", unit_price=D(price), **said)


def lines(rows):
    return {line.word: (line.count, line.weight_ct, line.cost) for line in rows}


def test_it_works(client, owner):
    lot = lot_of(owner)
    make_stone("20 ct", lot=lot, by=owner)
    make_gem("4 ct", stone=make_stone("30 ct", lot=lot, by=owner), by=owner)
    told = lines(questions.own_stock())
    assert told["Rough in lots"] == (1, D("50.000"), D("500.000"))
    assert told["Unfinished stones"] == (1, D("20.000"), D("200.000"))
    assert told["Finished gems"] == (1, D("4.000"), D("300.000"))
    page = client.get(reverse("books:stock")).content.decode()
    assert "1,000.00" in page
    assert "It adds up to the last cent." in page


def test_goods_of_others_stand_apart_at_nil(owner):
    theirs = make_lot("50 ct", by=owner, came="left", ownership="client", owner=make_contact("A client"))
    make_gem("2 ct", stone=make_stone("10 ct", lot=theirs, by=owner), by=owner)
    assert all(line.cost == 0 for line in questions.goods_of_others())
    assert lines(questions.goods_of_others())["Finished gems"][0] == 1
    assert sum(line.count for line in questions.own_stock()) == 0


def test_a_gem_out_on_memo_is_still_the_shops(owner):
    gem = make_gem("4 ct", stone=make_stone("30 ct", lot=lot_of(owner), by=owner), by=owner)
    gems.move_gem(gem, place="memo", holder=make_contact("A jeweller"), since=DAY, by=owner, at=NOON)
    told = lines(questions.own_stock())
    assert told["Gems out on memo"] == (1, D("4.000"), D("300.000"))
    assert told["Finished gems"][0] == 0


def test_what_was_sold_broken_or_billed_late_keeps_the_foot_in_balance(owner):
    lot = lot_of(owner, price="999.99")
    gem = make_gem("4 ct", stone=make_stone("30 ct", lot=lot, by=owner), by=owner)
    sales.sell([sales.Asked(gem, D("500"))], buyer=make_contact("A buyer"), sold_on=DAY, by=owner, at=NOON)
    broken = make_stone("10 ct", lot=lot, by=owner)
    stones.break_stone(broken, reason="cleaved", by=owner, at=NOON)
    stones.charge_lot(lot, [CostLine("duty", D("33.33"), "EUR")], paid_on=DAY, by=owner, at=NOON)
    ties = questions.rough_cost_ties()
    assert ties.adds_up
    assert ties.landed == D("1033.32")
    assert ties.differences == D("10.00")  # three tenths of the late bill belong to the stone sold before it
    assert ties.gone == D("300.00")
    assert ties.ended == D("103.33")


def test_gems_priced_below_cost_are_listed_worst_first(owner):
    lot = lot_of(owner)
    for weight, price in (("10 ct", "90"), ("20 ct", "150"), ("30 ct", "400")):
        gem = make_gem("2 ct", stone=make_stone(weight, lot=lot, by=owner), by=owner)
        gems.set_price(gem, D(price), by=owner, at=NOON)
    assert [short for _, short in questions.below_cost()] == [D("50.000"), D("10.000")]


def test_a_hand_does_not_see_it(client, owner):
    client.force_login(make_hand())
    assert client.get(reverse("books:stock")).status_code == 403


def test_a_stone_has_its_account(client, owner):
    stone = make_stone("30 ct", lot=lot_of(owner), by=owner)
    stones.charge_stone(stone, kind="wear", amount=D("6.50"), on=date(2026, 3, 2), by=owner, at=NOON)
    gem = make_gem("4 ct", stone=stone, by=owner)
    gems.set_price(gem, D("500"), by=owner, at=NOON)
    answer = client.get(reverse("books:account", args=[stone.code]))
    told = answer.context["account"]
    assert (told.figures.cost, told.figures.margin, told.price_net) == (
        D("306.500"),
        D("193.500"),
        D("500.000"),
    )
    assert told.figures.earned_per_hour is None
    assert client.get(reverse("books:account", args=["S-9999"])).status_code == 404


def test_the_account_of_a_sold_stone_keeps_the_figures_of_its_sale(client, owner):
    stone = make_stone("30 ct", lot=lot_of(owner), by=owner)
    gem = make_gem("4 ct", stone=stone, by=owner)
    sales.sell([sales.Asked(gem, D("500"))], buyer=make_contact("A buyer"), sold_on=DAY, by=owner, at=NOON)
    start = NOON - timedelta(hours=3)
    stones.add_time(
        by=owner, at=NOON, start=start, end=start + timedelta(hours=1), activity="sell", stones=[stone]
    )
    stone.refresh_from_db()
    told = questions.account_of(stone, "EUR")
    assert stone.off_bench_labour == D("45.000")
    assert told.figures.cost == D("300.000")
