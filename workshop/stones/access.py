"""Fetch what a page is about: one stone with its neighbours, a time one may touch, the stones on the bench."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404

from workshop.common.access import fetch
from workshop.common.models import Hand

from .models import BenchTime, Stone, StoneQuerySet, Weighing

#: More stones than this lie on no bench at once; the rest are reached by their code.
AT_HAND = 60


def stone_of(code: str) -> Stone:
    """The stone with a code, and the rows its head line names."""
    return fetch(
        Stone.objects.select_related("lot", "draw__group", "parent", "material", "owner", "holder"), code
    )


def at_hand() -> StoneQuerySet:
    """The stones somebody may be working on, last touched first."""
    return Stone.objects.on_the_bench().select_related("material", "owner").order_by("-touched_at", "-pk")


def weighing_of(pk: int) -> Weighing:
    """A weighing with its stone."""
    return get_object_or_404(
        Weighing.objects.select_related("stone__lot", "stone__material", "stone__owner", "by"), pk=pk
    )


def time_of(hand: Hand, pk: int) -> BenchTime:
    """A time this hand may correct: one's own, or anybody's for an owner."""
    time = get_object_or_404(
        BenchTime.objects.select_related("hand", "lot").prefetch_related("shares__stone"), pk=pk
    )
    if time.hand_id != hand.pk and not hand.runs_the_shop:
        raise PermissionDenied("Only the owner may change another hand's time.")
    return time
