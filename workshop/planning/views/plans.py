"""The list of plans, and one plan drawn in its rough."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of
from workshop.common.deeds import status_of
from workshop.common.paging import page_of
from workshop.handbook.errors import HandbookError
from workshop.handbook.weights import recovery_percent
from workshop.stones.models import Stage, Stone

from ..access import plan_of
from ..cuts import Cut, window_of
from ..filters import PlanFilter
from ..models import CutPlan
from ..pieces import Piece, rough_around

SORTS = {
    "code": "pk", "outline": "outline", "weight": "weight_ct", "hours": "seconds", "width": "width_mm",
    "chosen": "chosen_at",
}  # fmt: skip
MONEY_SORTS = {"price": "price", "hour": "earned_per_hour"}


@require_safe
def plans(request: HttpRequest) -> HttpResponse:
    """Every cut plan, newest first, and the ways to a new one."""
    by = hand_of(request)
    rows = CutPlan.objects.select_related("stone", "lot", "chosen_by")
    found = PlanFilter(request.GET, queryset=rows)
    page = page_of(request, found.qs, sorts=SORTS | MONEY_SORTS if by.sees_money else SORTS, default="-code")
    context = {"filter": found, "page": page, "sort": "-code", "any": page.total or request.GET}
    return render(request, "planning/plans.html", context, status=status_of(found.form))


@require_safe
def plan(request: HttpRequest, code: str) -> HttpResponse:
    """One plan: to scale inside its rough, its sizes and angles, its ranges, and how it came out."""
    shown = plan_of(code)
    context: dict[str, Any] = {"plan": shown, "piece": Piece.from_facts(shown.rough)}
    try:
        context |= _drawn(shown)
    except HandbookError as error:
        # A later handbook may refuse what an older one drew; the figures stand all the same.
        context["not_drawn"] = str(error)
    return render(request, "planning/plan.html", context | _came_out(shown))


def cut_of(plan: CutPlan) -> Cut:
    """The cut of a plan, to be built again."""
    return Cut(
        outline=plan.outline,
        style=plan.style,
        length_to_width=float(plan.length_mm / plan.width_mm),
        sides=plan.sides,
        keel=plan.keel,
        crown_deg=float(plan.crown_angle_deg),
        pavilion_deg=float(plan.pavilion_angle_deg),
        table_percent=float(plan.table_percent),
        girdle_percent=float(plan.girdle_percent),
    )


def _drawn(plan: CutPlan) -> dict[str, Any]:
    from workshop.handbook import drawings

    solid = cut_of(plan).solid(float(plan.width_mm))
    around = rough_around(Piece.from_facts(plan.rough).rough(), plan.lay)
    title = f"{plan.get_outline_display()} of {plan.code} in its rough"
    return {
        "within": drawings.within(solid, around, size_px=300, title=title),
        "sheet": drawings.sheet(solid, title=f"Cut plan {plan.code}"),
        "window": window_of(solid, float(plan.refractive_index)),
        "tiers": _tiers(solid),
    }


def _tiers(solid: Any) -> list[dict[str, Any]]:
    """Facets by name: how many, and between which angles."""
    found: dict[str, list[float]] = {}
    for face in solid.faces:
        found.setdefault(face.label, []).append(face.plane.angle_deg)
    return [
        {"name": name, "count": len(angles), "low": min(angles), "high": max(angles)}
        for name, angles in found.items()
    ]


def _came_out(plan: CutPlan) -> dict[str, Any]:
    """The stone as it was finished, against the plan."""
    stone: Stone | None = plan.stone
    if stone is None or stone.stage != Stage.FINISHED or not plan.stands:
        return {}
    inside = plan.weight_low_ct <= stone.weight_ct <= plan.weight_high_ct
    return {
        "finished": stone,
        "weight_inside": inside,
        "hours_inside": plan.seconds_low <= stone.bench_seconds <= plan.seconds_high,
        "recovered": recovery_percent(stone.weight_ct, plan.rough_ct)
        if stone.weight_ct <= plan.rough_ct
        else None,
    }
