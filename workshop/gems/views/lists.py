"""The list of gems."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db.models import Count, Q, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of
from workshop.common.deeds import status_of
from workshop.common.paging import page_of

from ..filters import GemFilter
from ..models import FinishedGem, Gone

SORTS = {
    "code": "pk",
    "material": "stone__material__species",
    "shape": "shape",
    "colour": "colour",
    "weight": "weight_ct",
    "finished": "finished_on",
}
#: An order by price tells prices, so it is only there for whoever sees them.
MONEY_SORTS = {"price": "price"}
#: The columns of the stone that make up what its gem cost.
COST_PARTS = ("rough_cost", "bench_labour", "off_bench_labour", "wear_cost", "other_cost")
ZERO = Decimal(0)
HERE = Q(gone_on__isnull=True)


@require_safe
def gems(request: HttpRequest) -> HttpResponse:
    """Every gem, newest first, with what they weigh, ask and cost together."""
    by = hand_of(request)
    rows = FinishedGem.objects.select_related(
        "stone__material", "stone__lot", "owner", "holder", "public_photo__photo"
    )
    found = GemFilter(request.GET, queryset=rows, request=request)
    totals = _totals(found.qs, money=by.sees_money)
    sorts = SORTS | MONEY_SORTS if by.sees_money else SORTS
    page = page_of(request, found.qs, sorts=sorts, default="-code", total=totals["count"])
    context = {
        "filter": found,
        "page": page,
        "totals": totals,
        "sort": "-code",
        "any": totals["count"] or request.GET,
    }
    return render(request, "gems/gems.html", context, status=status_of(found.form))


def _totals(rows: Any, *, money: bool) -> dict[str, Any]:
    """Sums over the whole filter. A gem back for work is a stone again: it weighs and costs there."""
    sums: dict[str, Any] = {
        "count": Count("pk"),
        "weight": Sum("weight_ct", filter=~Q(gone_as=Gone.RECUT)),
        "here": Count("pk", filter=HERE),
    }
    if money:
        sums["price"] = Sum("price", filter=HERE)
        sums |= {part: Sum(f"stone__{part}", filter=HERE) for part in COST_PARTS}
    totals = dict(rows.order_by().aggregate(**sums))
    # Added up here: the database forgets, of a sum of two columns, that they count thousandths.
    totals["cost"] = sum((totals.get(part) or ZERO for part in COST_PARTS), ZERO)
    return totals
