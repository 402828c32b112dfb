"""Fetch a stone for a deed, inside the write transaction, and refuse what its state does not allow."""

from __future__ import annotations

from datetime import datetime

from workshop.common.errors import DeedRefused

from ..models import Stage, Stone


def open_stone(stone: Stone) -> Stone:
    """The stone as it stands now, if it can still be worked on."""
    fresh = Stone.objects.select_related("lot", "draw", "parent").get(pk=stone.pk)
    if fresh.ending:
        raise DeedRefused(f"{fresh.code} is {fresh.get_ending_display()}; nothing more is done to it.")
    if fresh.stage == Stage.FINISHED:
        raise DeedRefused(f"{fresh.code} is finished; send its gem back to work first.")
    return fresh


def check_order(stone: Stone, at: datetime) -> None:
    """Weights and stages are told in the order they happened."""
    last = stone.weighings.filter(counts=True).order_by("-order").first()
    if last is not None and at < last.at:
        raise DeedRefused(
            f"The last weighing was at {last.at:%Y-%m-%d %H:%M} UTC; this one cannot be before it.",
            field="at",
        )
