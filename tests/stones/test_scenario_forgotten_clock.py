"""A clock left running over night: kept as it ran, asked about, corrected with the reason; the cost falls.

Worked example of our own: 22:05 to 09:25 is 11 h 20; put right to 1 h 25 it is 9 h 55 less, 446.25 at 45.00 an hour.
"""

from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from workshop.common.models import JournalEntry
from workshop.stones import actions
from workshop.stones.models import BenchTime, DayHours

LISBON = ZoneInfo("Europe/Lisbon")
EVENING, MORNING = datetime(2026, 3, 9, 22, 5, tzinfo=LISBON), datetime(2026, 3, 10, 9, 25, tzinfo=LISBON)


@pytest.fixture
def forgotten(owner, stone):
    actions.start_clock(by=owner, at=EVENING, stones=[stone], activity="polish_pavilion")
    return actions.stop_clock(by=owner, at=MORNING)


def test_it_is_kept_as_it_ran_and_asked_about(as_owner, owner, stone, forgotten):
    assert forgotten.seconds == 11 * 3600 + 20 * 60
    assert forgotten.doubtful
    stone.refresh_from_db()
    assert stone.bench_labour == Decimal("510.00")
    page = as_owner.get("/stones/times/").content.decode()
    assert "Did it really take that long?" in page
    assert "11\u00a0h\u00a020" in page


def test_put_right_the_cost_falls_by_446_25_and_the_old_figure_stays(as_owner, owner, stone, forgotten):
    stone.refresh_from_db()
    before = stone.cost_to_date
    answer = as_owner.post(
        f"/stones/times/{forgotten.pk}/correct/",
        {
            "start": "2026-03-09T22:05",
            "end": "2026-03-09T23:30",
            "activity": "polish_pavilion",
            "stones": [stone.code],
            "reason": "left running",
        },
    )
    assert answer.status_code == 302
    stone.refresh_from_db()
    assert before - stone.cost_to_date == Decimal("446.25")
    assert stone.bench_seconds == 85 * 60
    forgotten.refresh_from_db()
    assert (forgotten.counts, forgotten.seconds) == (False, 40800)
    assert BenchTime.objects.get(corrects=forgotten).reason == "left running"
    page = as_owner.get("/stones/times/?day=2026-03-09").content.decode()
    assert "Did it really take that long?" not in page
    assert "Corrected from 11\u00a0h\u00a020: left running" in page
    assert [row.seconds for row in DayHours.objects.filter(seconds__gt=0)] == [85 * 60]
    assert JournalEntry.objects.get(verb="corrected time").reason == "left running"


def test_it_may_also_have_been_true(as_owner, stone, forgotten):
    as_owner.post(f"/stones/times/{forgotten.pk}/keep/")
    stone.refresh_from_db()
    assert stone.bench_labour == Decimal("510.00")
    assert "Did it really" not in as_owner.get("/stones/times/").content.decode()


def test_or_never_have_been(as_owner, stone, forgotten):
    as_owner.post(f"/stones/times/{forgotten.pk}/strike/", {"reason": "went to bed"})
    stone.refresh_from_db()
    assert stone.bench_labour == 0


def test_over_midnight_is_asked_about_even_when_short(owner, stone):
    actions.start_clock(by=owner, at=EVENING.replace(hour=23, minute=50), stones=[stone])
    time = actions.stop_clock(by=owner, at=MORNING.replace(hour=0, minute=10))
    assert time.seconds == 20 * 60
    assert time.doubtful
