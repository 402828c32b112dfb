"""Times day by day: what was forgotten is written down, what is doubtful is asked about."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from typing import Any

from django.contrib import messages
from django.db.models import QuerySet, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_POST, require_safe

from workshop.common import say
from workshop.common.access import hand_of, recorder_only
from workshop.common.deeds import DeedForm, posted, status_of, try_deed
from workshop.common.models import Hand, Role

from .. import actions
from ..access import AT_HAND, at_hand, time_of
from ..forms import AddTimeForm, CorrectTimeForm, StrikeForm, chosen_first
from ..models import BenchTime, DayHours
from .pages import tap

#: A hole in the day shorter than this is a cup of tea.
HOLE = timedelta(minutes=15)
DAYS_SHOWN = 14
MOST_DOUBTS = 30


@dataclass(frozen=True)
class Hole:
    """A stretch between two times of a day for which nothing is written."""

    start: datetime
    end: datetime

    @property
    def seconds(self) -> int:
        """How long it is."""
        return int((self.end - self.start).total_seconds())

    @property
    def add_url(self) -> str:
        """Where it can be filled, with both ends typed already."""
        ends = (timezone.localtime(moment).strftime("%Y-%m-%dT%H:%M") for moment in (self.start, self.end))
        return f"{reverse('stones:add_time')}?start={next(ends)}&end={next(ends)}"


@require_safe
def times(request: HttpRequest) -> HttpResponse:
    """One's times of a day, the doubtful ones of any day, and the hours of the last fortnight."""
    by = hand_of(request)
    day = _day_asked(request)
    hands = _hands_shown(by)
    whose = next((hand for hand in hands if hand.username == request.GET.get("hand")), None)
    whose = whose or (by if by.may_record else None)
    of_whom = [whose] if whose else hands
    rows = list(_on_day(day, of_whom))
    counted = [row for row in rows if row.counts]
    shown: dict[str, Any] = {
        "day": day,
        "is_today": day == timezone.localdate(),
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "rows": rows,
        "holes": _holes(counted) if len(of_whom) == 1 else [],
        "total": sum(row.seconds or 0 for row in counted),
        "bench_total": sum(row.seconds or 0 for row in counted if row.on_bench),
        "doubts": _read_times(BenchTime.objects.doubtful().filter(hand__in=of_whom))[:MOST_DOUBTS],
        "hands": hands if len(hands) > 1 else [],
        "whose": whose,
        "mine": whose is not None and whose.pk == by.pk,
        "may_change": by.may_record and whose is not None and (whose.pk == by.pk or by.runs_the_shop),
        "fortnight": _fortnight(of_whom),
    }
    return render(request, "stones/times.html", shown)


def _day_asked(request: HttpRequest) -> date:
    today = timezone.localdate()
    try:
        asked = parse_date(request.GET.get("day", ""))
    except ValueError:
        return today
    # The calendar's own ends have no day before or after them.
    return asked if asked and 1900 < asked.year < 2200 else today


def _hands_shown(by: Hand) -> list[Hand]:
    """Whose times this person may look at."""
    if by.role == Role.HAND:
        return [by]
    return list(Hand.objects.filter(role__in=[Role.OWNER, Role.HAND]))


def _read_times(rows: QuerySet[BenchTime]) -> QuerySet[BenchTime]:
    # ``corrected_by`` is the other end of a one-to-one link; asked row by row it would be a query each.
    return rows.select_related("hand", "lot", "corrects", "corrected_by").prefetch_related("shares__stone")


def _on_day(day: date, hands: Iterable[Hand]) -> QuerySet[BenchTime]:
    zone = timezone.get_current_timezone()
    first = datetime.combine(day, time.min, zone)
    last = datetime.combine(day + timedelta(days=1), time.min, zone)
    rows = BenchTime.objects.filter(hand__in=list(hands), started_at__gte=first, started_at__lt=last)
    return _read_times(rows).order_by("started_at", "pk")


def _holes(counted: list[BenchTime]) -> list[Hole]:
    holes = []
    for earlier, later in pairwise(counted):
        if earlier.ended_at is not None and later.started_at - earlier.ended_at >= HOLE:
            holes.append(Hole(earlier.ended_at, later.started_at))
    return holes


def _fortnight(hands: Iterable[Hand]) -> list[Any]:
    since = timezone.localdate() - timedelta(days=DAYS_SHOWN - 1)
    return list(
        DayHours.objects.filter(hand__in=list(hands), day__gte=since, seconds__gt=0)
        .values("day")
        .annotate(total=Sum("seconds"))
        .order_by("-day")
    )


def _times_url(moment: datetime, hand: Hand, by: Hand) -> str:
    whose = f"&hand={hand.username}" if hand.pk != by.pk else ""
    return f"{reverse('stones:times')}?day={timezone.localdate(moment).isoformat()}{whose}"


@recorder_only
def add_time(request: HttpRequest) -> HttpResponse:
    """Write a time down afterwards, for one stone or several, a lot or the shop."""
    by, now = hand_of(request), timezone.now()
    first = {name: request.GET[name] for name in ("start", "end", "activity", "lot") if name in request.GET}
    bench = list(at_hand()[:AT_HAND])
    first |= chosen_first(request.GET.getlist("stone"), bench)
    form = AddTimeForm(posted(request), by=by, stones=bench, initial=first)

    def deed() -> str:
        typed = form.cleaned_data
        time = actions.add_time(
            by=by,
            at=now,
            start=typed["start"],
            end=typed["end"],
            activity=typed["activity"],
            hand=typed.get("hand"),
            stones=form.chosen,
            lot=typed["lot"],
            note=typed["note"],
        )
        messages.success(request, f"Written down: {say.hours(time.seconds)}, {time.get_activity_display()}.")
        return _times_url(time.started_at, time.hand, by)

    return _time_form(request, form, deed, "stones/add_time.html")


@recorder_only
def time_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a time right; the old figure and the reason stay."""
    by, now = hand_of(request), timezone.now()
    wrong = time_of(by, pk)
    bench = list(at_hand()[:AT_HAND])
    first = {"start": wrong.started_at, "end": wrong.ended_at, "activity": wrong.activity}
    first |= chosen_first([share.stone.code for share in wrong.shares.all()], bench)
    form = CorrectTimeForm(posted(request), stones=bench, initial=first)

    def deed() -> str:
        typed = form.cleaned_data
        fresh = actions.correct_time(
            wrong,
            by=by,
            at=now,
            start=_as_it_was(typed["start"], wrong.started_at),
            end=_as_it_was(typed["end"], wrong.ended_at),
            reason=typed["reason"],
            activity=typed["activity"],
            stones=form.chosen,
        )
        messages.success(request, f"It is {say.hours(fresh.seconds)} now; the old figure stays readable.")
        return _times_url(fresh.started_at, fresh.hand, by)

    return _time_form(request, form, deed, "stones/time_correct.html", wrong=wrong)


def _as_it_was(typed: datetime, was: datetime | None) -> datetime:
    """The field shows minutes; whoever leaves it alone means the second that stands there."""
    return was if was is not None and was.replace(second=0, microsecond=0) == typed else typed


@recorder_only
def time_strike(request: HttpRequest, pk: int) -> HttpResponse:
    """A time that never was: it stops counting and stays readable."""
    by, now = hand_of(request), timezone.now()
    wrong = time_of(by, pk)
    form = StrikeForm(posted(request))

    def deed() -> str:
        actions.strike_time(wrong, by=by, at=now, reason=form.cleaned_data["reason"])
        messages.success(request, "Struck out. It stays readable with the reason.")
        return _times_url(wrong.started_at, wrong.hand, by)

    return _time_form(request, form, deed, "stones/time_strike.html", wrong=wrong)


def _time_form(request: HttpRequest, form: DeedForm, deed: Any, template: str, **more: Any) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        led_to = try_deed(request, form, deed)
        if led_to:
            return redirect(led_to)
    shown = {"form": form, "back": reverse("stones:times"), **more}
    return render(request, template, shown, status=status_of(form))


@recorder_only
@require_POST
def time_keep(request: HttpRequest, pk: int) -> HttpResponse:
    """It really took that long."""
    by, now = hand_of(request), timezone.now()
    doubtful = time_of(by, pk)
    back = reverse("stones:times")

    def deed() -> str:
        actions.keep_time(doubtful, by=by, at=now)
        messages.success(request, f"Kept at {say.hours(doubtful.seconds)}.")
        return back

    return tap(request, DeedForm(request.POST), deed, back=back)
