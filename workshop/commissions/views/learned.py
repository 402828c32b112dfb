"""What was said and what it took: of one commission, and of a year by kind of work."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common import say
from workshop.common.access import money_only
from workshop.common.charts import Held, earned_chart, ranges_chart
from workshop.common.deeds import status_of
from workshop.common.spreadsheet import csv_file

from .. import learned as lessons
from ..access import commission_of
from ..forms.learned import YearForm
from ..learned import Kind
from ..took import Side
from .pages import shop_of, today_of

HOUR = Decimal(3600)
COLUMNS = (
    "work", "species", "pieces", "outcomes", "weight ranges told", "weight ranges hit", "hour ranges told",
    "hour ranges hit", "hours said", "hours taken", "hours over", "bench hours", "off-bench hours", "rework hours",
    "charged net", "cost besides hours", "earned per hour", "currency", "in another currency",
)  # fmt: skip


@money_only
@require_safe
def learned(request: HttpRequest, code: str) -> HttpResponse:
    """One commission: what its accepted version said, and what it took."""
    shown = commission_of(code)
    told = lessons.side_by_side(shown)
    worked = [side for side in told.pieces if side.took.seconds]
    context = {
        "commission": shown,
        "told": told,
        "several": len(told.pieces) > 1,
        "version": next((side.line.quote for side in told.pieces if side.line), None),
        "chart": _hours_chart(worked) if worked else "",
    }
    return render(request, "commissions/learned.html", context)


def _hours_chart(sides: Sequence[Side]) -> str:
    rows = [
        Held(
            f"Piece {side.item.number}" if side.item else "All",
            side.seconds.low / HOUR if side.seconds else None,
            side.seconds.high / HOUR if side.seconds else None,
            Decimal(side.took.seconds) / HOUR,
        )
        for side in sides
    ]
    return ranges_chart(rows, title="Hours, said and taken")


@money_only
@require_safe
def kinds(request: HttpRequest) -> HttpResponse:
    """A year by kind of work and species: ranges hit, hours over, what an hour earned."""
    form, year, found = _asked(request)
    currency = shop_of(request).currency
    earned = [(_name(kind), kind.earned) for kind in found if kind.earned is not None]
    context = {
        "form": form,
        "year": year,
        "years": lessons.years(),
        "kinds": found,
        "pieces": sum(kind.pieces for kind in found),
        "chart": earned_chart(
            [(name, sum_) for name, sum_ in earned if sum_ is not None],
            say=lambda sum_: say.money(sum_, currency),
            title="What an hour earned, by kind of work",
        )
        if earned
        else "",
    }
    return render(request, "commissions/kinds.html", context, status=status_of(form))


@money_only
@require_safe
def kinds_csv(request: HttpRequest) -> HttpResponse:
    """The same year as a file for a spreadsheet."""
    form, year, found = _asked(request)
    if form.errors:
        return HttpResponse("Give a year, such as 2026.", status=422, content_type="text/plain")
    return csv_file(f"kinds-of-work-{year}", COLUMNS, [_row(kind) for kind in found])


def _asked(request: HttpRequest) -> tuple[YearForm, int, list[Kind]]:
    today: date = today_of(request, timezone.now())
    form = YearForm(request.GET if "year" in request.GET else None)
    if not form.is_bound:
        return form, today.year, lessons.by_kind(today.year)
    if not form.is_valid():
        return form, today.year, []
    year: int = form.cleaned_data["year"]
    return form, year, lessons.by_kind(year)


def _name(kind: Kind) -> str:
    return f"{kind.work_word}, {kind.species}"


def _row(kind: Kind) -> list[Any]:
    took = kind.took
    return [
        kind.work_word, kind.species, kind.pieces, kind.outcome_words, kind.weight_told, kind.weight_hit,
        kind.hours_told, kind.hours_hit, _hours(kind.seconds_said), _hours(kind.seconds_told),
        _hours(kind.over_seconds), _hours(took.bench_seconds), _hours(took.off_bench_seconds),
        _hours(took.rework_seconds), took.net, took.material + took.wear + took.other, kind.earned, kind.currency,
        kind.foreign,
    ]  # fmt: skip


def _hours(seconds: int) -> Decimal:
    return (Decimal(seconds) / HOUR).quantize(Decimal("0.01"))
