"""The strip with the running clock, on every page of who is signed in."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject

from .models import BenchTime


def running_clock(request: HttpRequest) -> dict[str, Any]:
    """The clock this hand has running, asked for only where a template shows it."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"running_clock": None}
    return {"running_clock": SimpleLazyObject(lambda: _clock_of(user.pk))}


def _clock_of(hand_id: int) -> dict[str, Any] | None:
    time = (
        BenchTime.objects.running()
        .filter(hand_id=hand_id)
        .select_related("lot")
        .prefetch_related("shares__stone")
    ).first()
    if time is None:
        return None
    stones = [share.stone for share in time.shares.all()]
    return {
        "what": ", ".join(stone.code for stone in stones) or (time.lot.code if time.lot else "the shop"),
        "url": reverse("stones:bench", args=[stones[0].code]) if stones else reverse("stones:times"),
        "activity_word": time.get_activity_display(),
        "started_at": time.started_at,
        "stop_url": reverse("stones:stop_clock"),
    }
