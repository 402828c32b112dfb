"""Today's page: the stones at hand, the bench by stage, what waits, what needs an answer."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.makers import (
    make_commission,
    make_gem,
    make_hand,
    make_lot,
    make_owner,
    make_reader,
    make_shop,
    make_stone,
)
from workshop.books import questions
from workshop.stones import actions as stones

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    make_shop(zone="Europe/Lisbon")
    owner = make_owner()
    client.force_login(owner)
    return owner


def long_ago(**back):
    return timezone.now() - timedelta(**back)


def test_it_works(client, owner):
    lot = make_lot("200 ct", by=owner)
    worked, waiting = make_stone("10 ct", lot=lot, by=owner), make_stone("12 ct", lot=lot, by=owner)
    now = timezone.now()
    stones.add_time(
        by=owner, at=now, start=now - timedelta(hours=1), end=now, activity="preform", stones=[worked]
    )
    stones.wait_for(waiting, "client", note="asked about the size", by=owner, at=now)
    answer = client.get("/")
    page = answer.content.decode()
    assert answer.status_code == 200
    assert [stone.code for stone in answer.context["at_hand"]] == [worked.code]
    assert "asked about the size" in page
    assert [(row.word, row.stones, row.waiting) for row in answer.context["stages"]] == [("selected", 2, 1)]
    assert answer.context["week_bench"] == 3600


def test_an_empty_shop_is_told_where_to_begin(client, owner):
    page = client.get("/").content.decode()
    assert "The bench is empty" in page
    assert reverse("rough:receive") in page


def test_a_forgotten_clock_is_asked_about_by_its_hand_and_the_owner_only(client, owner):
    hand, other = make_hand(), make_hand("hob")
    stone = make_stone(by=owner)
    stones.start_clock(by=hand, at=long_ago(hours=13), stones=[stone])
    stones.stop_clock(by=hand, at=long_ago(hours=2))
    for who, asked in ((owner, 1), (hand, 1), (other, 0)):
        told = questions.what_needs_an_answer(who, timezone.now(), "EUR")
        assert len(told.doubtful_times) == asked


def test_stones_nobody_touched_and_gems_without_card_are_listed(client, owner):
    idle = make_stone(by=owner, at=datetime(2026, 3, 3, tzinfo=UTC))
    gem = make_gem(by=owner)
    told = questions.what_needs_an_answer(owner, timezone.now(), "EUR")
    assert idle in told.idle
    assert gem in told.without_card
    assert told.without_card_count == 1


def test_the_last_stones_come_first_and_finished_ones_are_left_out(owner):
    lot, now = make_lot("200 ct", by=owner), long_ago(days=1)
    made = [make_stone("5 ct", lot=lot, by=owner) for _ in range(3)]
    for n, stone in enumerate(made):
        start = now + timedelta(hours=n)
        stones.add_time(
            by=owner, at=timezone.now(), start=start, end=start + timedelta(minutes=30), activity="preform", stones=[stone]
        )  # fmt: skip
    stones.end_stone(made[1], "scrapped", reason="cracked", by=owner, at=timezone.now())
    assert [stone.code for stone in questions.at_hand(owner)] == [made[2].code, made[0].code]


def test_a_hand_sees_own_hours_and_no_money(client, owner):
    hand = make_hand()
    make_gem(by=owner)
    now = timezone.now()
    stone = make_stone(by=owner)
    stones.add_time(
        by=owner, at=now, start=now - timedelta(hours=2), end=now, activity="preform", stones=[stone]
    )
    client.force_login(hand)
    answer = client.get("/")
    assert answer.context["week_bench"] == 0
    assert "EUR" not in answer.content.decode()
    client.force_login(make_reader())
    assert client.get("/").context["week_bench"] == 7200


def test_the_week_of_hours_comes_from_the_roll_up_and_equals_the_times(owner):
    stone, now = make_stone(by=owner), timezone.now()
    for hours in range(1, 60, 7):
        start = now - timedelta(hours=hours)
        stones.add_time(
            by=owner, at=now, start=start, end=start + timedelta(minutes=20),
            activity="papers" if hours % 2 else "cut_crown", stones=[stone],
        )  # fmt: skip
    shop_day = make_shop(zone="Europe/Lisbon").day_of(now)
    week = questions.hours_of_last_days(None, shop_day)
    assert sum(one.bench + one.off for one in week) == len(range(1, 60, 7)) * 1200
    assert len(week) == 7 and week[-1].day == shop_day


def test_it_costs_the_same_queries_however_much_there_is(client, owner, django_assert_max_num_queries):
    lot = make_lot("500 ct", by=owner)
    for _ in range(3):
        make_stone("1 ct", lot=lot, by=owner)
    make_commission(by=owner)
    # Session, hand, shop, clock (and its stones), week, answers (six lists, two counts), at hand (three), stages, and
    # promises: the commissions with all that hangs on them, their count, and what falls under a floor.
    with django_assert_max_num_queries(38):
        client.get("/")
    for _ in range(30):
        make_stone("1 ct", lot=lot, by=owner)
    for _ in range(7):
        make_commission(by=owner)
    with django_assert_max_num_queries(38):
        client.get("/")
    assert Decimal(lot.weight_ct) == 500
