"""A time put right, struck out, or kept as it ran."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from tests.makers import NOON, make_hand, make_stone
from workshop.stones import actions
from workshop.stones.models import BenchTime, DayHours


@pytest.fixture
def time(hand, stone):
    return actions.add_time(
        by=hand, at=NOON, start=NOON - timedelta(hours=2), end=NOON, activity="preform", stones=[stone]
    )


def typed(time, **said):
    there = {
        "start": "2026-03-02T10:00",
        "end": "2026-03-02T12:00",
        "activity": time.activity,
        "reason": "left running",
    }
    return {**there, "stones": [share.stone.code for share in time.shares.all()], **said}


class TestCorrect:
    def test_it_works_and_the_old_figure_stays(self, as_hand, hand, stone, time):
        answer = as_hand.post(f"/stones/times/{time.pk}/correct/", typed(time, end="2026-03-02T11:25"))
        assert answer.status_code == 302
        stone.refresh_from_db()
        assert (stone.bench_seconds, stone.bench_labour) == (5100, Decimal("63.75"))
        time.refresh_from_db()
        assert not time.counts
        assert time.seconds == 7200
        page = as_hand.get("/stones/times/?day=2026-03-02").content.decode()
        assert "Corrected from 2\u00a0h\u00a000: left running" in page
        assert DayHours.objects.get().seconds == 5100

    def test_the_form_begins_with_what_stands_there(self, as_hand, stone, time):
        page = as_hand.get(f"/stones/times/{time.pk}/correct/").content.decode()
        assert 'value="2026-03-02T10:00"' in page
        assert 'value="2026-03-02T12:00"' in page
        assert "checked" in page

    def test_it_may_go_to_another_stone(self, as_hand, hand, lot, stone, time):
        other = make_stone("5 ct", lot=lot)
        as_hand.post(f"/stones/times/{time.pk}/correct/", typed(time, stones=[other.code]))
        for row in (stone, other):
            row.refresh_from_db()
        assert (stone.bench_seconds, other.bench_seconds) == (0, 7200)

    def test_seconds_left_alone_stay(self, as_hand, hand, stone):
        start = NOON - timedelta(hours=5, seconds=20)
        clock = actions.start_clock(by=hand, at=start, stones=[stone])
        actions.stop_clock(by=hand, at=NOON - timedelta(hours=4, seconds=40))
        as_hand.post(
            f"/stones/times/{clock.pk}/correct/",
            typed(clock, start="2026-03-02T06:59", end="2026-03-02T07:30"),
        )
        fresh = BenchTime.objects.get(corrects=clock)
        assert fresh.started_at == start
        assert fresh.ended_at == NOON - timedelta(hours=4, minutes=30)

    def test_a_running_clock_may_be_ended_at_a_time(self, as_hand, hand, stone):
        clock = actions.start_clock(by=hand, at=NOON, stones=[stone])
        as_hand.post(
            f"/stones/times/{clock.pk}/correct/",
            typed(clock, start="2026-03-02T12:00", end="2026-03-02T13:00"),
        )
        assert not BenchTime.objects.running().exists()
        stone.refresh_from_db()
        assert stone.bench_seconds == 3600

    @pytest.mark.parametrize(
        ("sent", "field"),
        [
            ({"reason": " "}, "reason"),
            ({"end": "2026-03-02T09:00"}, "end"),
            ({"end": "2099-01-01T00:00"}, "end"),
        ],
    )
    def test_slips_are_refused_and_nothing_moves(self, as_hand, stone, time, sent, field):
        answer = as_hand.post(f"/stones/times/{time.pk}/correct/", typed(time, **sent))
        assert answer.status_code == 422
        assert answer.context["form"].errors[field]
        time.refresh_from_db()
        stone.refresh_from_db()
        assert time.counts
        assert stone.bench_seconds == 7200

    def test_into_another_time_it_is_refused(self, as_hand, hand, stone, time):
        actions.add_time(
            by=hand,
            at=NOON + timedelta(hours=2),
            start=NOON,
            end=NOON + timedelta(hours=1),
            activity="papers",
        )
        answer = as_hand.post(f"/stones/times/{time.pk}/correct/", typed(time, end="2026-03-02T12:30"))
        assert answer.status_code == 422
        assert "has another time then" in answer.content.decode()

    def test_twice_it_is_refused(self, as_hand, time):
        as_hand.post(f"/stones/times/{time.pk}/correct/", typed(time, end="2026-03-02T11:00"))
        answer = as_hand.post(f"/stones/times/{time.pk}/correct/", typed(time, end="2026-03-02T11:30"))
        assert answer.status_code == 422

    def test_another_hands_time_is_not_mine_to_correct(self, sign_in, time):
        client = sign_in(make_hand("hugo"))
        for deed in ("correct", "strike", "keep"):
            assert client.post(f"/stones/times/{time.pk}/{deed}/", typed(time)).status_code == 403

    def test_the_owner_may(self, as_owner, time):
        answer = as_owner.post(f"/stones/times/{time.pk}/correct/", typed(time, end="2026-03-02T11:00"))
        assert answer["Location"] == "/stones/times/?day=2026-03-02&hand=hal"


class TestStrike:
    def test_it_works_and_stays_readable(self, as_hand, stone, time):
        assert as_hand.post(f"/stones/times/{time.pk}/strike/", {"reason": "wrong day"}).status_code == 302
        stone.refresh_from_db()
        assert (stone.bench_seconds, stone.bench_labour) == (0, 0)
        assert "Struck out: wrong day" in as_hand.get("/stones/times/?day=2026-03-02").content.decode()
        assert DayHours.objects.get().seconds == 0

    @pytest.mark.parametrize("reason", ["", " ", "x" * 301])
    def test_the_reason_is_needed(self, as_hand, time, reason):
        assert as_hand.post(f"/stones/times/{time.pk}/strike/", {"reason": reason}).status_code == 422


class TestKeep:
    def test_it_works(self, as_hand, hand, stone):
        long = actions.add_time(
            by=hand,
            at=NOON,
            start=NOON - timedelta(hours=5),
            end=NOON,
            activity="polish_crown",
            stones=[stone],
        )
        assert as_hand.post(f"/stones/times/{long.pk}/keep/").status_code == 302
        long.refresh_from_db()
        assert not long.doubtful
        assert long.counts

    def test_nobody_asked(self, as_hand, time):
        assert as_hand.post(f"/stones/times/{time.pk}/keep/").status_code == 422

    def test_get_keeps_nothing(self, as_hand, time):
        assert as_hand.get(f"/stones/times/{time.pk}/keep/").status_code == 405


def test_no_such_time(as_hand, shop):
    assert as_hand.get("/stones/times/999999/correct/").status_code == 404
    assert timezone.now() > NOON
