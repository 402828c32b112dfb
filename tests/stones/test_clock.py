"""The clock: started, switched and stopped with one tap."""

from datetime import timedelta

import pytest
from django.utils import timezone

from tests.makers import NOON, make_owner, make_stone
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.stones import actions
from workshop.stones.models import BenchTime, DayHours

START, STOP = "/stones/clock/start/", "/stones/clock/stop/"


def ago(**said):
    return timezone.now() - timedelta(**said)


class TestStart:
    def test_it_works(self, as_hand, hand, stone):
        answer = as_hand.post(START, {"stone": stone.code})
        assert answer["Location"] == f"/stones/bench/{stone.code}/"
        time = hand.times.get()
        assert (time.ended_at, time.activity, time.on_bench) == (None, "preform", True)

    def test_the_usual_activity_follows_stage_and_first_side(self, as_hand, hand, stone):
        actions.describe_stone(stone, {"first_side": "crown"}, by=None, at=NOON)
        actions.move_on(stone, "preformed", by=None, at=NOON)
        as_hand.post(START, {"stone": stone.code})
        assert hand.times.get().activity == "cut_crown"

    def test_a_second_clock_is_refused_and_a_switch_offered(self, as_hand, hand, lot, stone):
        other = make_stone("5 ct", lot=lot)
        as_hand.post(START, {"stone": stone.code})
        answer = as_hand.post(START, {"stone": other.code})
        assert answer.status_code == 422
        page = answer.content.decode()
        assert "running already" in page
        assert "Switch the clock over" in page
        assert hand.times.count() == 1

    def test_a_switch_stops_the_one_and_starts_the_other(self, as_hand, hand, lot, stone):
        other = make_stone("5 ct", lot=lot)
        actions.start_clock(by=hand, at=ago(minutes=25), stones=[stone])
        assert as_hand.post(START, {"stone": other.code, "switch": "on"}).status_code == 302
        first, second = hand.times.order_by("pk")
        assert first.ended_at == second.started_at
        assert second.ended_at is None
        stone.refresh_from_db()
        assert 1499 <= stone.bench_seconds <= 1505

    def test_two_switches_at_the_same_moment_are_no_overlap(self, hand, lot, stone):
        other = make_stone("5 ct", lot=lot)
        for target in (stone, other):
            actions.start_clock(by=hand, at=NOON, stones=[target], switch=True)
        actions.stop_clock(by=hand, at=NOON)
        assert [time.seconds for time in hand.times.order_by("pk")] == [1, 1]

    def test_stopped_and_started_again_at_once(self, hand, stone):
        actions.start_clock(by=hand, at=NOON, stones=[stone])
        actions.stop_clock(by=hand, at=NOON)
        actions.start_clock(by=hand, at=NOON, stones=[stone])
        assert BenchTime.objects.running().get().started_at == NOON + timedelta(seconds=1)

    def test_several_stones_share_one_clock_to_the_second(self, as_hand, hand, lot, stone):
        others = [make_stone("5 ct", lot=lot) for _ in range(2)]
        codes = [one.code for one in (stone, *others)]
        as_hand.post(START, {"stone": codes, "activity": "transfer"})
        time = hand.times.get()
        assert [share.stone.code for share in time.shares.all()] == codes
        time.started_at = ago(seconds=100)
        time.save()
        as_hand.post(STOP)
        time.refresh_from_db()
        assert sum(share.seconds for share in time.shares.all()) == time.seconds
        assert max(s.seconds for s in time.shares.all()) - min(s.seconds for s in time.shares.all()) <= 1

    def test_a_lot_or_the_shop_may_be_worked_for(self, as_owner, owner, lot):
        as_owner.post(START, {"lot": lot.code.lower()})
        as_owner.post(START, {"activity": "papers", "switch": "on"})
        assert list(owner.times.order_by("pk").values_list("activity", "lot__code")) == [
            ("sort", lot.code), ("papers", None),
        ]  # fmt: skip

    @pytest.mark.parametrize(
        "sent",
        [
            {"stone": "S-9999"},
            {"lot": "L-9999"},
            {"stone": "S-0001", "activity": "sleep"},
            {"stone": "S-0001\x00"},
        ],
    )
    def test_what_is_not_there_is_refused(self, as_hand, hand, stone, sent):
        assert as_hand.post(START, sent).status_code == 422
        assert not hand.times.exists()

    def test_stones_and_a_lot_at_once_are_refused(self, as_hand, hand, lot, stone):
        assert as_hand.post(START, {"stone": stone.code, "lot": lot.code}).status_code == 422

    def test_an_ended_stone_takes_no_more_time(self, as_hand, hand, stone):
        actions.end_stone(stone, "scrapped", reason="flawed", by=None, at=NOON)
        answer = as_hand.post(START, {"stone": stone.code})
        assert answer.status_code == 422
        assert not hand.times.exists()

    def test_tapped_twice_it_starts_once(self, as_hand, hand, stone):
        for _ in range(2):
            assert as_hand.post(START, {"stone": stone.code, "once": "tap"}).status_code == 302
        assert hand.times.count() == 1
        assert JournalEntry.objects.filter(verb="started clock").count() == 1

    def test_each_hand_has_a_clock_of_its_own(self, as_hand, hand, stone):
        actions.start_clock(by=make_owner("olaf"), at=ago(minutes=5), stones=[stone])
        assert as_hand.post(START, {"stone": stone.code}).status_code == 302
        assert BenchTime.objects.running().count() == 2

    def test_get_starts_nothing(self, as_hand, hand, stone):
        assert as_hand.get(START, {"stone": stone.code}).status_code == 405

    def test_a_reader_starts_nothing(self, as_reader, stone):
        assert as_reader.post(START, {"stone": stone.code}).status_code == 403
        assert not BenchTime.objects.exists()


class TestStop:
    def test_it_works(self, as_hand, hand, stone):
        actions.start_clock(by=hand, at=ago(minutes=85), stones=[stone])
        answer = as_hand.post(STOP, follow=True)
        assert "1\u00a0h\u00a025: preform." in answer.content.decode()
        stone.refresh_from_db()
        assert 5100 <= stone.bench_seconds <= 5105
        assert DayHours.objects.get().seconds == stone.bench_seconds

    def test_it_leads_back_to_the_page_it_was_pressed_on(self, as_hand, hand, stone):
        actions.start_clock(by=hand, at=ago(minutes=5), stones=[stone])
        page = f"/stones/bench/{stone.code}/"
        answer = as_hand.post(STOP, headers={"referer": f"http://testserver{page}"})
        assert answer["Location"] == page

    @pytest.mark.parametrize(
        "page",
        [
            "https://elsewhere.example/stones/",
            "http://testserver/stones/clock/start/",
            "nonsense",
            "//testserver",
        ],
    )
    def test_but_only_to_pages_of_ours_that_can_be_shown(self, as_hand, hand, stone, page):
        actions.start_clock(by=hand, at=ago(minutes=5), stones=[stone])
        assert as_hand.post(STOP, headers={"referer": page})["Location"] == "/stones/times/"

    def test_a_stop_without_a_start_is_refused(self, as_hand):
        answer = as_hand.post(STOP)
        assert answer.status_code == 422
        assert "No clock of yours is running" in answer.content.decode()

    def test_a_long_time_is_asked_about(self, as_hand, hand, stone):
        actions.start_clock(by=hand, at=ago(hours=4, minutes=1), stones=[stone])
        answer = as_hand.post(STOP, follow=True)
        page = answer.content.decode()
        assert "Did it really take that long?" in page
        assert "Yes, keep it" in page
        assert hand.times.get().doubtful

    def test_backwards_it_is_refused(self, hand, stone):
        actions.start_clock(by=hand, at=NOON, stones=[stone])
        with pytest.raises(DeedRefused, match="before it started"):
            actions.stop_clock(by=hand, at=NOON - timedelta(seconds=2))

    def test_the_strip_stands_on_every_page(self, as_hand, hand, stone):
        actions.start_clock(by=hand, at=ago(minutes=5), stones=[stone])
        assert 'class="clock-strip"' in as_hand.get("/stones/").content.decode()
        as_hand.post(STOP)
        assert 'class="clock-strip"' not in as_hand.get("/stones/").content.decode()


def test_stopping_on_a_list_with_a_long_filter_leads_back_to_the_list(as_hand):
    """The address a deed led to has a column of 300 characters, which PostgreSQL keeps to."""
    as_hand.post(START, {"activity": "other"})
    answer = as_hand.post(STOP, headers={"referer": f"http://testserver/stones/?q={'x' * 400}"})
    assert (answer.status_code, answer["Location"]) == (302, "/stones/")
