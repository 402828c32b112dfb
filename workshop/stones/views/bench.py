"""The page at the wheel: one stone, one hand, large buttons; and the list of what lies on the bench."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of
from workshop.common.models import Hand

from .. import actions
from ..access import AT_HAND, at_hand, stone_of
from ..forms import WeighForm
from ..models import STAGES, Activity, BenchTime, Stage, Stone
from .cautions import MOMENT_OF, cautions_about
from .looks import look_of
from .stages import stages_ahead


def running_of(hand: Hand) -> BenchTime | None:
    """The clock this hand has running, with its stones."""
    running = BenchTime.objects.running().filter(hand=hand).select_related("lot")
    return running.prefetch_related("shares__stone").first()


def next_steps(stone: Stone) -> list[Stage]:
    """The stages most likely done next: the following one, and for whole rough also the one after the saw."""
    ahead = stages_ahead(stone)
    return ahead[: 2 if stone.stage == Stage.SELECTED else 1]


@require_safe
def bench(request: HttpRequest, code: str) -> HttpResponse:
    """One stone at the wheel, made for a phone and a wet hand."""
    stone = stone_of(code)
    by = hand_of(request)
    running = running_of(by) if by.may_record else None
    on_clock = [share.stone for share in running.shares.all()] if running else []
    activity = actions.usual_activity(stone)
    others = [other for other in at_hand()[: AT_HAND + 1] if other.pk != stone.pk][:AT_HAND]
    shown: dict[str, Any] = {
        "stone": stone,
        "look": look_of(stone, size_px=150, dimensions=False),
        "running": running,
        "on_this": any(other.pk == stone.pk for other in on_clock),
        "with_others": [other for other in on_clock if other.pk != stone.pk],
        "activity": activity,
        "activities": [(one.value, one.label) for one in Activity if one != activity],
        "next_steps": next_steps(stone),
        "step": STAGES.index(Stage(stone.stage)) + 1,
        "steps": len(STAGES),
        "seconds": stone.bench_seconds + stone.off_bench_seconds,
        "others": others,
        "weigh_form": WeighForm(unit=request.shop.weight_unit),  # type: ignore[attr-defined]
        "cautions": cautions_about(stone, MOMENT_OF.get(activity, ())) if stone.is_open else None,
    }
    return render(request, "stones/bench.html", shown)


@require_safe
def wheel(request: HttpRequest) -> HttpResponse:
    """What lies on the bench: open one, or start one clock on several."""
    by = hand_of(request)
    running = running_of(by) if by.may_record else None
    found = list(at_hand()[: AT_HAND + 1])
    shown = {
        "stones": found[:AT_HAND],
        "more": len(found) > AT_HAND,
        "running": running,
        "on_clock": {share.stone_id for share in running.shares.all()} if running else set(),
        "activities": Activity.choices,
    }
    return render(request, "stones/wheel.html", shown)
