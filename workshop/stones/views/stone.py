"""One stone's page: its deeds within reach of a thumb, and beneath them its whole account."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of

from .. import actions
from ..access import stone_of
from ..models import REOPENABLE, Stone
from . import story
from .bench import next_steps, running_of
from .looks import look_of
from .told import told


@require_safe
def stone(request: HttpRequest, code: str) -> HttpResponse:
    """The page of one stone."""
    shown = stone_of(code)
    by = hand_of(request)
    running = running_of(by) if by.may_record else None
    context: dict[str, Any] = {
        "stone": shown,
        "look": look_of(shown, size_px=200),
        "running": running,
        "on_this": running is not None and any(share.stone_id == shown.pk for share in running.shares.all()),
        "activity": actions.usual_activity(shown),
        "next_steps": next_steps(shown),
        "reopenable": shown.ending in REOPENABLE,
        **_account(shown),
        "events": told(shown.code, money=by.sees_money),
    }
    if by.sees_money:
        context |= {"cost_lines": story.cost_lines(shown), "extras": list(shown.extras.all())}
    return render(request, "stones/stone.html", context)


def _account(shown: Stone) -> dict[str, Any]:
    readings, losses = story.readings_of(shown), story.losses_of(shown)
    hours = story.hours_of(shown)
    times, time_count = story.times_of(shown)
    family = story.family_of(shown)
    return {
        "family": family,
        "family_drawing": story.family_drawing(family) if len(family) > 1 else "",
        "readings": readings,
        "left_percent": 100 * shown.weight_ct / shown.start_ct,
        "weight_drawing": story.weight_drawing(readings),
        "losses": losses,
        "gone_ct": sum(ct for _, ct in losses),
        "hours": hours,
        "hours_drawing": story.hours_drawing(hours) if hours else "",
        "seconds": shown.bench_seconds + shown.off_bench_seconds,
        "times": times,
        "time_count": time_count,
        "notes": list(shown.notes.select_related("by")[: story.NOTES_SHOWN]),
        "statements": story.statements_about(shown),
        "photos": story.photos_of(shown),
    }
