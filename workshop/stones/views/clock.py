"""The clock: started, switched and stopped with one tap."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from workshop.common import say
from workshop.common.access import hand_of, recorder_only
from workshop.common.deeds import DeedForm
from workshop.common.models import Hand

from .. import actions
from ..forms import StartForm
from ..models import BenchTime
from .pages import bench_url, came_from, tap


@recorder_only
@require_POST
def start_clock(request: HttpRequest) -> HttpResponse:
    """Start one's clock on stones, a lot or the shop; with ``switch`` a running one is stopped first."""
    form = StartForm(request.POST)
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        typed = form.cleaned_data
        actions.start_clock(
            by=by,
            at=now,
            stones=typed["stone"],
            lot=typed["lot"],
            activity=typed["activity"],
            switch=typed["switch"],
        )
        if typed["stone"]:
            return bench_url(typed["stone"][0])
        return typed["lot"].get_absolute_url() if typed["lot"] else reverse("stones:times")

    back = came_from(request, reverse("stones:wheel"))
    return tap(request, form, deed, back=back, instead=_switch_over(form, by))


def _switch_over(form: StartForm, by: Hand) -> dict[str, Any] | None:
    """What to offer where the clock runs on something else: the same start, with the other one stopped."""
    if not form.is_valid() or form.cleaned_data["switch"]:
        return None
    if not BenchTime.objects.running().filter(hand=by).exists():
        return None
    typed = form.cleaned_data
    return {
        "url": reverse("stones:start_clock"),
        "words": "Switch the clock over",
        "stone": " ".join(stone.code for stone in typed["stone"]),
        "lot": typed["lot"].code if typed["lot"] else "",
        "activity": typed["activity"],
    }


@recorder_only
@require_POST
def stop_clock(request: HttpRequest) -> HttpResponse:
    """Stop one's clock. A long time is kept as it ran and asked about."""
    back = came_from(request, reverse("stones:times"))
    by, now = hand_of(request), timezone.now()

    def deed() -> str:
        time = actions.stop_clock(by=by, at=now)
        if time.doubtful:
            messages.warning(
                request, f"The clock ran {say.hours(time.seconds)}. Did it really take that long?"
            )
            return reverse("stones:times")
        messages.success(request, f"{say.hours(time.seconds)}: {time.get_activity_display()}.")
        return back

    return tap(request, DeedForm(request.POST), deed, back=back)
