"""The load of the bench: how many hours each week has, how many are promised, and which week could take more.

Hours of a promise are the middle estimate of the accepted quote for the pieces still open, less the time already
spent on their stones; a piece whose stones are all finished needs none. They stand in the week the commission is
promised for; what should have been done by now stands in this week. Work may be done before its week, so a week can
take more only if every later promise still fits.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

from workshop.stones.models import Stage, Stone

from .lines import stones_by_item
from .models import BenchHours, Outcome, Quote, QuoteLine, QuoteState, State

WEEK = timedelta(days=7)
SECONDS_IN_AN_HOUR = 3600
#: How far ahead a week is looked for: two years.
FARTHEST = 104


def monday_of(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())


@dataclass(frozen=True)
class Job:
    """Hours of one commission in a week."""

    code: str
    seconds: int
    pieces: int
    due_on: date | None
    late: bool = False


@dataclass
class Week:
    """One week of the bench. ``available`` is None where no hours were ever said."""

    monday: date
    available: int | None
    note: str = ""
    promised: list[Job] = field(default_factory=list)
    quoted: list[Job] = field(default_factory=list)
    #: Free hours from today to the end of this week, once all that is promised by then is done; below zero: short.
    free_by_then: int | None = None
    #: What a new promise for this week may hold without breaking a later one.
    room: int | None = None

    @property
    def sunday(self) -> date:
        """Its last day."""
        return self.monday + timedelta(days=6)

    @property
    def promised_seconds(self) -> int:
        """All promised hours of the week."""
        return sum(job.seconds for job in self.promised)

    @property
    def quoted_seconds(self) -> int:
        """All hours quoted for it and not accepted yet."""
        return sum(job.seconds for job in self.quoted)

    @property
    def free(self) -> int | None:
        """Hours of this week alone that are not promised; below zero: more is promised than it has."""
        return None if self.available is None else self.available - self.promised_seconds

    @property
    def is_overfull(self) -> bool:
        """Whether more is promised for the week than it has hours."""
        return self.free is not None and self.free < 0

    @property
    def is_short(self) -> bool:
        """Whether what is promised by then does not fit, even if all weeks before are used."""
        return self.free_by_then is not None and self.free_by_then < 0

    @property
    def would_be_overfull(self) -> bool:
        """Whether it would be, if everything quoted were accepted."""
        return self.free is not None and self.free < self.quoted_seconds and not self.is_overfull

    @property
    def verdict(self) -> tuple[str, str]:
        """How full it is: a word, and the tone of its badge."""
        if self.available is None:
            return "hours not said", "quiet"
        if self.is_short:
            return "cannot be done", "alert"
        if self.is_overfull:
            return "overfull", "alert"
        if self.would_be_overfull:
            return "full if all accept", "wait"
        if not self.available:
            return "no bench", "gone"
        return ("full", "wait") if self.free == 0 else ("room", "done")


def week_load(today: date, weeks: int = 12) -> list[Week]:
    """The next weeks, this one first, with what is promised and quoted for each.

    Of this week only the days that are left count. A constant number of queries.
    """
    found = _hours(today, weeks)
    _lay(found, _promised_jobs(), "promised", monday_of(today))
    _lay(found, _quoted_jobs(today), "quoted", monday_of(today))
    _add_up(found)
    return found


def without_a_week() -> list[Job]:
    """Promised work that no week was named for: it is missing from every week's load."""
    return [job for job in _promised_jobs() if job.due_on is None and job.seconds]


def first_week_with(seconds: int, today: date, *, weeks: int = FARTHEST) -> date | None:
    """The Monday of the first week for which so many more seconds can be promised; None where there is none.

    The work may be spread over the weeks before; nothing promised for a later week is pushed out.
    """
    return first_of(week_load(today, weeks), seconds)


def first_of(weeks: Iterable[Week], seconds: int) -> date | None:
    """The same of weeks that were worked out already; they should reach past the last promise."""
    fitting = (week.monday for week in weeks if week.room is not None and week.room >= seconds)
    return next(fitting, None)


def _hours(today: date, weeks: int) -> list[Week]:
    rows = list(BenchHours.objects.all())
    ever = sorted((row for row in rows if not row.one_week), key=lambda row: row.from_on)
    alone = {row.from_on: row for row in rows if row.one_week}
    first = monday_of(today)
    found = []
    for place in range(weeks):
        monday = first + place * WEEK
        row = alone.get(monday) or next((one for one in reversed(ever) if one.from_on <= monday), None)
        seconds = None if row is None else int(row.hours * SECONDS_IN_AN_HOUR)
        if seconds is not None and not place:
            seconds = seconds * (7 - today.weekday()) // 7
        found.append(Week(monday, seconds, row.note if row is not None and row.one_week else ""))
    return found


def _lay(weeks: list[Week], jobs: Iterable[Job], column: str, this_week: date) -> None:
    by_monday = {week.monday: week for week in weeks}
    for job in jobs:
        if job.due_on is None or not job.seconds:
            continue
        monday = monday_of(job.due_on)
        week = by_monday.get(max(monday, this_week))
        if week is not None:
            jobs_there: list[Job] = getattr(week, column)
            jobs_there.append(Job(job.code, job.seconds, job.pieces, job.due_on, late=monday < this_week))


def _add_up(weeks: list[Week]) -> None:
    left = 0
    for week in weeks:
        if week.available is None:
            continue
        left += week.available - week.promised_seconds
        week.free_by_then = left
    room: int | None = None
    for week in reversed(weeks):
        if week.free_by_then is not None:
            room = week.free_by_then if room is None else min(room, week.free_by_then)
            week.room = room


def _promised_jobs() -> list[Job]:
    lines = QuoteLine.objects.filter(
        quote__state=QuoteState.ACCEPTED,
        quote__commission__state__in=[State.ACCEPTED, State.IN_WORK],
        item__outcome=Outcome.OPEN,
    )
    return _jobs(lines, spent=True)


def _quoted_jobs(today: date) -> list[Job]:
    """Open quotes of commissions not accepted yet; a change to an accepted one would count its hours twice."""
    quotes = Quote.objects.open_on(today).filter(commission__state=State.QUOTED)
    return _jobs(QuoteLine.objects.filter(quote__in=quotes, item__outcome=Outcome.OPEN), spent=False)


def _jobs(lines: Iterable[QuoteLine], *, spent: bool) -> list[Job]:
    rows = list(lines.select_related("quote__commission", "item").order_by("quote__commission_id", "pk"))  # type: ignore[attr-defined]
    stones = stones_by_item([row.item for row in rows]) if spent else {}
    by_commission: dict[int, list[QuoteLine]] = defaultdict(list)
    for row in rows:
        by_commission[row.quote.commission_id].append(row)
    jobs = []
    for group in by_commission.values():
        quote = group[0].quote
        jobs.append(
            Job(
                code=quote.commission.code,
                seconds=sum(_left(row.seconds, stones.get(row.item_id, ())) for row in group),
                pieces=len(group),
                due_on=quote.commission.due_on if spent else quote.expected_week,
            )
        )
    return jobs


def _left(seconds: int, stones: Sequence[Stone]) -> int:
    """What is left to do of so many seconds: nothing more once a stone is finished and none is at work."""
    if any(stone.stage == Stage.FINISHED for stone in stones) and not any(stone.is_open for stone in stones):
        return 0
    return max(0, seconds - sum(stone.bench_seconds + stone.off_bench_seconds for stone in stones))


def hours_of(seconds: int) -> Decimal:
    """Seconds as hours, to a hundredth."""
    return (Decimal(seconds) / SECONDS_IN_AN_HOUR).quantize(Decimal("0.01"))
