"""The page of times."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from tests.makers import make_hand
from workshop.stones import actions

LISBON = ZoneInfo("Europe/Lisbon")


def at(day, hour, minute=0):
    return datetime(2026, 7, day, hour, minute, tzinfo=LISBON)


def worked(by, start, end, **said):
    return actions.add_time(by=by, at=timezone.now(), start=start, end=end, **{"activity": "preform", **said})


def test_it_works(as_hand, hand, stone):
    worked(hand, at(6, 9), at(6, 10, 25), stones=[stone])
    page = as_hand.get("/stones/times/?day=2026-07-06").content.decode()
    assert "09:00" in page
    assert "1\u00a0h\u00a025" in page
    assert stone.code in page


def test_holes_of_a_day_can_be_filled_with_both_ends_typed(as_hand, hand, stone):
    worked(hand, at(6, 9), at(6, 10), stones=[stone])
    worked(hand, at(6, 11, 30), at(6, 12), stones=[stone])
    page = as_hand.get("/stones/times/?day=2026-07-06").content.decode()
    assert "?start=2026-07-06T10:00&amp;end=2026-07-06T11:30" in page
    form = as_hand.get("/stones/times/add/?start=2026-07-06T10:00&end=2026-07-06T11:30").content.decode()
    assert 'value="2026-07-06T10:00"' in form
    assert 'value="2026-07-06T11:30"' in form


def test_days_begin_at_the_shops_midnight(as_hand, hand, stone):
    worked(hand, at(6, 0, 5), at(6, 0, 35), stones=[stone])
    assert "00:05" in as_hand.get("/stones/times/?day=2026-07-06").content.decode()
    assert "00:05" not in as_hand.get("/stones/times/?day=2026-07-05").content.decode()


@pytest.mark.parametrize("day", ["", "yesterday", "2026-02-30", "0001-01-01", "9999-12-31", "\x00"])
def test_a_day_that_is_none_means_today(as_hand, hand, day):
    answer = as_hand.get("/stones/times/", {"day": day})
    assert answer.status_code == 200
    assert answer.context["is_today"]


def test_a_hand_sees_only_its_own(as_hand, hand, stone):
    other = make_hand("hugo")
    worked(other, at(6, 9), at(6, 10), stones=[stone])
    page = as_hand.get("/stones/times/?day=2026-07-06&hand=hugo").content.decode()
    assert "09:00" not in page


def test_the_owner_sees_anybodys_and_may_correct_them(as_owner, hand, stone):
    time = worked(hand, at(6, 9), at(6, 10), stones=[stone])
    page = as_owner.get("/stones/times/?day=2026-07-06&hand=hal").content.decode()
    assert f"/stones/times/{time.pk}/correct/" in page


def test_a_reader_sees_everybodys_and_corrects_none(as_reader, hand, owner, stone):
    worked(hand, at(6, 9), at(6, 10), stones=[stone])
    worked(owner, at(6, 14), at(6, 15))
    page = as_reader.get("/stones/times/?day=2026-07-06").content.decode()
    assert "09:00" in page
    assert "14:00" in page
    assert "Correct" not in page


def test_its_queries_do_not_grow(as_hand, hand, stone, django_assert_max_num_queries):
    as_hand.get("/stones/times/")  # the first page of a visit also writes the session
    counts = []
    for minutes in (range(0, 6, 2), range(6, 180, 2)):
        for minute in minutes:
            start = at(6, 9) + timedelta(minutes=minute)
            time = worked(hand, start, start + timedelta(minutes=1), stones=[stone])
        actions.correct_time(
            time, by=hand, at=timezone.now(), start=start, end=start + timedelta(seconds=50), reason="slip"
        )
        with django_assert_max_num_queries(20) as asked:
            as_hand.get("/stones/times/?day=2026-07-06")
        counts.append(len(asked))
    assert counts[0] == counts[1]
