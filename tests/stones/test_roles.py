"""Every address of the room as stranger, hand and reader: no price for a hand, no change by a reader."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest

from tests.makers import DAY, NOON, make_contact, make_lot, make_stone
from workshop.common.models import JournalEntry
from workshop.handbook.units import parse_weight
from workshop.stones import actions
from workshop.stones.urls import urlpatterns

DEEDS_OF_A_STONE = (
    "weigh", "move", "back", "wait", "resume", "stop-note-done", "split", "break", "end", "again", "note", "plan",
    "statement", "photo", "extra", "buy",
)  # fmt: skip
OWNERS = {"statement", "extra", "buy"}


@pytest.fixture
def busy(owner, lot, stone):
    """A stone with every sort of record on it; whatever is money in it is a figure found nowhere else."""
    actions.record_weight(stone, parse_weight("9 ct"), by=owner, at=NOON)
    actions.move_on(stone, "preformed", by=owner, at=NOON)
    actions.charge_stone(stone, kind="wear", amount=Decimal("6.53"), on=DAY, by=owner, at=NOON)
    actions.add_time(
        by=owner, at=NOON, start=NOON - timedelta(hours=5), end=NOON, activity="preform", stones=[stone]
    )
    stone.declared_value = Decimal("8642.11")
    stone.save(update_fields=["declared_value"])
    client = make_contact("Ada Invented", is_client=True)
    bought = make_stone("3 ct", lot=make_lot("3 ct", ownership="client", owner=client, came="left"))
    actions.buy_from_owner(bought, paid=Decimal("151.37"), reason="bought for 151.37", by=owner, at=NOON)
    return stone


def pages(stone):
    time, weighing = stone.time_shares.get().time_id, stone.weighings.last().pk
    listed = [
        "/stones/", "/stones/?sort=rough", "/stones/bench/", f"/stones/bench/{stone.code}/", f"/stones/{stone.code}/",
        "/stones/S-0002/", "/stones/times/?day=2026-03-02", "/stones/times/add/", f"/stones/times/{time}/correct/",
        f"/stones/times/{time}/strike/", f"/stones/times/{time}/keep/", f"/stones/weighings/{weighing}/correct/",
        f"/stones/steps/{stone.stage_changes.get().pk}/take-back/", "/stones/clock/start/", "/stones/clock/stop/",
    ]  # fmt: skip
    return [*listed, *(f"/stones/{stone.code}/{deed}/" for deed in DEEDS_OF_A_STONE)]


def money_of(stone):
    stone.refresh_from_db()
    sums = [
        stone.rough_cost,
        stone.bench_labour,
        stone.cost_to_date,
        Decimal("6.53"),
        Decimal("151.37"),
        Decimal("777.77"),
    ]
    return [f"{amount:.2f}" for amount in sums]


def test_every_address_of_the_room_is_walked_here(busy):
    """A page that is added has to be added to the walk."""
    named = {str(one.pattern) for one in urlpatterns if hasattr(one, "name")}
    walked = {
        re.sub(r"S-\d+", "<str:code>", re.sub(r"/\d+/", "/<int:pk>/", url.partition("?")[0]))
        for url in pages(busy)
    }
    assert named == {url.removeprefix("/stones/") for url in walked}


def test_a_stranger_is_sent_to_sign_in(client, busy):
    for url in pages(busy):
        for answer in (client.get(url), client.post(url, {"weight": "8"})):
            assert answer.status_code == 302, url
            assert answer["Location"].startswith("/sign-in/"), url


def test_a_hand_sees_no_price_anywhere(as_hand, busy):
    # A hand may look at the owner's stone and at the forms of its own deeds.
    seen = 0
    for url in pages(busy):
        answer = as_hand.get(url)
        page = answer.content.decode()
        seen += answer.status_code == 200
        shown = [sum_ for sum_ in [*money_of(busy), "8,642.11", "8642.11"] if sum_ in page]
        assert not shown, url
        assert "EUR" not in page, url
        assert "Cost to date" not in page, url
    assert seen >= 15


def test_the_same_pages_do_show_prices_to_who_may_see_them(as_reader, busy):
    page = as_reader.get(f"/stones/{busy.code}/").content.decode()
    assert all(sum_ in page for sum_ in money_of(busy)[:4])
    assert "151.37" in as_reader.get("/stones/S-0002/").content.decode()
    assert "Cost to date" in as_reader.get("/stones/").content.decode()


def test_a_hand_does_not_do_the_owners_deeds(as_hand, busy):
    for deed in OWNERS:
        assert as_hand.get(f"/stones/{busy.code}/{deed}/").status_code == 403, deed
        assert as_hand.post(f"/stones/{busy.code}/{deed}/", {}).status_code == 403, deed


def test_a_reader_changes_nothing(as_reader, busy):
    before = JournalEntry.objects.count()
    looked = 0
    for url in pages(busy):
        answer = as_reader.get(url)
        assert answer.status_code in {200, 403, 405}, url
        looked += answer.status_code == 200
        if answer.status_code == 200:
            main = re.search(r"<main.*</main>", answer.content.decode(), re.S)[0]
            assert 'method="post"' not in main, url
            continue
        assert (
            as_reader.post(url, {"weight": "8", "to": "first_cut", "kind": "note", "text": "x"}).status_code
            == 403
        ), url
    assert looked == 7
    assert JournalEntry.objects.count() == before


def test_the_clock_is_not_a_readers(as_reader, busy):
    assert as_reader.post("/stones/clock/stop/").status_code == 403
