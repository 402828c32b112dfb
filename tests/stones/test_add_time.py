"""Time written down afterwards."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from tests.makers import NOON, make_hand, make_stone
from workshop.stones import actions

URL = "/stones/times/add/"
TYPED = {"start": "2026-07-06T09:00", "end": "2026-07-06T10:25", "activity": "preform"}


def test_it_works_in_the_shops_own_time(as_hand, hand, stone):
    answer = as_hand.post(URL, {**TYPED, "stones": [stone.code]})
    assert answer["Location"] == "/stones/times/?day=2026-07-06"
    time = hand.times.get()
    assert time.started_at == datetime(2026, 7, 6, 8, 0, tzinfo=UTC)
    stone.refresh_from_db()
    assert (stone.bench_seconds, stone.bench_labour) == (5100, Decimal("63.75"))


def test_several_stones_share_it_ticked_or_named(as_hand, hand, lot, stone):
    others = [make_stone("5 ct", lot=lot) for _ in range(2)]
    as_hand.post(
        URL, {**TYPED, "stones": [stone.code], "others": f"{others[0].code}, {others[1].code.lower()}"}
    )
    assert [share.seconds for share in hand.times.get().shares.all()] == [1700, 1700, 1700]


def test_a_lot_or_the_shop(as_hand, hand, lot):
    as_hand.post(URL, {**TYPED, "activity": "sort", "lot": lot.code})
    as_hand.post(URL, {"start": "2026-07-06T11:00", "end": "2026-07-06T11:30", "activity": "papers"})
    assert list(hand.times.order_by("pk").values_list("lot__code", "on_bench")) == [
        (lot.code, False),
        (None, False),
    ]


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"end": "2026-07-06T08:00"}, "end"),
        ({"end": "2026-07-06T09:00"}, "end"),
        ({"start": ""}, "start"),
        ({"end": "half past nine"}, "end"),
        ({"activity": "sleep"}, "activity"),
        ({"others": "S-9999"}, "others"),
        ({"lot": "L-9999"}, "lot"),
        ({"stones": ["S-9999"]}, "stones"),
        ({"others": "S-0001\x00"}, "others"),
    ],
)
def test_slips_are_refused_beside_their_field(as_hand, hand, stone, sent, field):
    answer = as_hand.post(URL, {**TYPED, **sent})
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert not hand.times.exists()


def test_the_future_is_refused(as_hand, hand, stone):
    tomorrow = timezone.now() + timedelta(days=1)
    sent = {
        "start": f"{tomorrow:%Y-%m-%dT09:00}",
        "end": f"{tomorrow:%Y-%m-%dT10:00}",
        "stones": [stone.code],
    }
    answer = as_hand.post(URL, {**TYPED, **sent})
    assert answer.status_code == 422
    assert "future" in answer.content.decode()


@pytest.mark.parametrize(
    ("start", "end"),
    [("08:00", "09:01"), ("10:24", "11:00"), ("09:10", "09:20"), ("08:00", "12:00"), ("09:00", "10:25")],
)
def test_an_overlap_is_refused_and_named_in_the_shops_own_time(as_hand, hand, stone, start, end):
    as_hand.post(URL, {**TYPED, "stones": [stone.code]})
    sent = {**TYPED, "start": f"2026-07-06T{start}", "end": f"2026-07-06T{end}", "stones": [stone.code]}
    answer = as_hand.post(URL, sent)
    assert answer.status_code == 422
    assert "from 6 Jul 2026, 09:00 to 6 Jul 2026, 10:25" in answer.content.decode()
    assert hand.times.count() == 1


def test_times_may_touch(as_hand, hand, stone):
    as_hand.post(URL, TYPED)
    assert (
        as_hand.post(URL, {**TYPED, "start": "2026-07-06T10:25", "end": "2026-07-06T10:30"}).status_code
        == 302
    )


def test_stones_and_a_lot_at_once_are_refused(as_hand, lot, stone):
    assert as_hand.post(URL, {**TYPED, "stones": [stone.code], "lot": lot.code}).status_code == 422


def test_after_its_end_a_stone_takes_no_time_but_before_it_does(as_hand, hand, stone):
    actions.end_stone(stone, "scrapped", reason="flawed", by=None, at=NOON)
    assert as_hand.post(URL, {**TYPED, "others": stone.code}).status_code == 422
    sent = {"start": "2026-03-02T10:00", "end": "2026-03-02T11:00", "others": stone.code}
    assert as_hand.post(URL, {**TYPED, **sent}).status_code == 302


def test_sent_twice_it_is_written_once(as_hand, hand, stone):
    for _ in range(2):
        assert as_hand.post(URL, {**TYPED, "stones": [stone.code], "once": "k"}).status_code == 302
    assert hand.times.count() == 1


def test_the_owner_may_write_for_another_hand_a_hand_may_not(as_owner, as_hand, hand, stone):
    as_owner.post(URL, {**TYPED, "hand": hand.pk})
    assert hand.times.count() == 1
    other = make_hand("hugo")
    as_hand.post(URL, {**TYPED, "start": "2026-07-07T09:00", "end": "2026-07-07T09:30", "hand": other.pk})
    assert not other.times.exists()


def test_a_long_one_is_asked_about(as_hand, hand, stone):
    as_hand.post(URL, {**TYPED, "end": "2026-07-06T13:00"})
    assert not hand.times.get().doubtful
    as_hand.post(URL, {**TYPED, "start": "2026-07-07T09:00", "end": "2026-07-07T13:01"})
    assert hand.times.latest("pk").doubtful


def test_the_stone_it_is_opened_for_is_ticked(as_hand, stone):
    page = as_hand.get(f"{URL}?stone={stone.code}").content.decode()
    assert f'value="{stone.code}"' in page
    assert "checked" in page


def test_an_hour_the_clock_leaps_over_is_refused(as_hand, hand):
    # Lisbon goes from 01:00 to 02:00 on 29 March 2026 (IANA time zone database).
    answer = as_hand.post(URL, {**TYPED, "start": "2026-03-29T01:30", "end": "2026-03-29T02:30"})
    assert answer.status_code == 422


def test_a_reader_writes_nothing(as_reader, shop):
    assert as_reader.post(URL, TYPED).status_code == 403
