"""Put by, lost, scrapped, back unworked; and found again."""

from datetime import timedelta
from decimal import Decimal

import pytest

from tests.makers import NOON, make_contact, make_hand, make_lot, make_shop, make_stone
from workshop.common.models import JournalEntry
from workshop.handbook.units import parse_weight
from workshop.stones import actions
from workshop.stones.models import BenchTime


def url(stone):
    return f"/stones/{stone.code}/end/"


@pytest.mark.parametrize(("ending", "place"), [("lost", "gone"), ("scrapped", "gone"), ("put_by", "safe")])
def test_it_works(as_hand, stone, ending, place):
    answer = as_hand.post(url(stone), {"ending": ending, "reason": "last seen by the bin, 12 Nov"})
    assert answer.status_code == 302
    stone.refresh_from_db()
    assert (stone.ending, stone.place) == (ending, place)


def test_a_clients_stone_goes_back_to_its_owner(as_owner, shop):
    client = make_contact("Ada Invented", is_client=True)
    stone = make_stone("3 ct", lot=make_lot("3 ct", ownership="client", owner=client, came="left"))
    as_owner.post(url(stone), {"ending": "unworked", "reason": "too included"})
    stone.refresh_from_db()
    assert (stone.ending, stone.place, stone.holder) == ("unworked", "client", client)


def test_the_shops_own_has_nobody_to_go_back_to(as_owner, stone):
    assert "unworked" not in as_owner.get(url(stone)).content.decode()
    assert as_owner.post(url(stone), {"ending": "unworked", "reason": "x"}).status_code == 422


@pytest.mark.parametrize("ending", ["broken", "split", "", "eaten"])
def test_other_endings_have_deeds_of_their_own(as_owner, stone, ending):
    assert as_owner.post(url(stone), {"ending": ending, "reason": "x"}).status_code == 422
    stone.refresh_from_db()
    assert stone.ending == ""


def test_all_but_putting_by_needs_a_reason(as_owner, stone):
    answer = as_owner.post(url(stone), {"ending": "lost", "reason": " "})
    assert answer.status_code == 422
    assert answer.context["form"].errors["reason"]
    assert as_owner.post(url(stone), {"ending": "put_by", "reason": ""}).status_code == 302


def test_a_lost_stone_is_found_and_the_journal_keeps_the_loss(as_hand, stone):
    actions.end_stone(stone, "lost", reason="pinged off the lap", by=None, at=NOON)
    assert "It was found" in as_hand.get(f"/stones/{stone.code}/").content.decode()
    answer = as_hand.post(f"/stones/{stone.code}/again/", {"reason": "behind the tank"})
    assert answer.status_code == 302
    stone.refresh_from_db()
    assert (stone.ending, stone.place) == ("", "bench")
    assert JournalEntry.objects.get(verb="taken up again").before["why"] == "pinged off the lap"


@pytest.mark.parametrize("reason", ["", "  "])
def test_found_where_has_to_be_said(as_hand, stone, reason):
    actions.end_stone(stone, "lost", reason="pinged off the lap", by=None, at=NOON)
    assert as_hand.post(f"/stones/{stone.code}/again/", {"reason": reason}).status_code == 422


def test_an_open_stone_is_not_taken_up(as_hand, stone):
    assert as_hand.post(f"/stones/{stone.code}/again/", {"reason": "x"}).status_code == 422


# --- The clock that runs on what ends ---------------------------------------------------------------------------------


@pytest.fixture
def hour():
    return NOON + timedelta(hours=1)


def test_a_clock_on_a_stone_that_ends_stops_with_it(db, hour):
    make_shop(hourly_rate=Decimal("45.00"))
    stone, hand = make_stone("4 ct"), make_hand()
    actions.start_clock(by=hand, at=NOON, stones=[stone])
    stone = actions.end_stone(stone, "scrapped", reason="too included", by=hand, at=hour)
    assert not BenchTime.objects.running().exists()
    assert stone.bench_seconds == 3600
    assert stone.bench_labour == Decimal("45.00")


def test_what_is_made_of_a_stone_carries_the_hour_its_clock_still_ran(db, hour):
    make_shop(hourly_rate=Decimal("45.00"))
    stone, hand = make_stone("4 ct"), make_hand()
    actions.start_clock(by=hand, at=NOON, stones=[stone])
    pieces = actions.split_stone(
        stone, [parse_weight("3 ct"), parse_weight("1 ct")], by=hand, at=hour, reason="sawn"
    )
    assert not BenchTime.objects.running().exists()
    assert [piece.other_cost for piece in pieces] == [Decimal("33.75"), Decimal("11.25")]


def test_a_clock_on_several_goes_on_for_the_others(db, hour):
    make_shop()
    lot = make_lot("20 ct")
    one, two, hand = make_stone("4 ct", lot=lot), make_stone("4 ct", lot=lot), make_hand()
    actions.start_clock(by=hand, at=NOON, stones=[one, two])
    actions.end_stone(one, "scrapped", reason="too included", by=hand, at=hour)
    assert BenchTime.objects.running().count() == 1
    actions.stop_clock(by=hand, at=hour + timedelta(hours=1))
    two.refresh_from_db()
    assert two.bench_seconds == 3600
