"""The list of stones."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db.models import Count, Q, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of
from workshop.common.paging import page_of

from ..filters import StoneFilter
from ..models import Ending, Stone

SORTS = {
    "code": "pk",
    "touched": "touched_at",
    "material": "material__species",
    "stage": "stage",
    "weight": "weight_ct",
    "start": "start_ct",
    "hours": "bench_seconds",
}
#: An order by cost tells costs, so it is only there for whoever sees them.
MONEY_SORTS = {"rough": "rough_cost"}

#: The columns that make up ``Stone.cost_to_date``.
COST_PARTS = {
    "rough": "rough_cost",
    "bench_cost": "bench_labour",
    "off_bench_cost": "off_bench_labour",
    "wear": "wear_cost",
    "other": "other_cost",
}
ZERO = Decimal(0)
NOT_SPLIT = ~Q(ending=Ending.SPLIT)


@require_safe
def stones(request: HttpRequest) -> HttpResponse:
    """Every stone, newest in hand first, with what they weigh, took and cost together."""
    by = hand_of(request)
    found = StoneFilter(request.GET, queryset=Stone.objects.select_related("lot", "material", "owner"))
    totals = _totals(found.qs, money=by.sees_money)
    sorts = SORTS | MONEY_SORTS if by.sees_money else SORTS
    page = page_of(request, found.qs, sorts=sorts, default="-touched", total=totals["count"])
    shown = {
        "filter": found,
        "page": page,
        "totals": totals,
        "sort": "-touched",
        "any": totals["count"] or request.GET,
    }
    return render(request, "stones/stones.html", shown)


def _totals(rows: Any, *, money: bool) -> dict[str, Any]:
    """Sums over the whole filter. A stone made into several has no weight and no cost of its own: its pieces do."""
    sums: dict[str, Any] = {
        "count": Count("pk"),
        "weight": Sum("weight_ct", filter=NOT_SPLIT),
        "bench": Sum("bench_seconds"),
        "off_bench": Sum("off_bench_seconds"),
    }
    if money:
        sums |= {part: Sum(column, filter=NOT_SPLIT) for part, column in COST_PARTS.items()}
    totals = dict(rows.order_by().aggregate(**sums))
    # Added up here: the database forgets, of a sum of two columns, that they count thousandths.
    totals["cost"] = sum((totals.get(part) or ZERO for part in COST_PARTS), ZERO)
    return totals
