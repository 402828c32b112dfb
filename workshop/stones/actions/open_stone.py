"""Fetch a stone for a deed, inside the write transaction, and refuse what its state does not allow."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from workshop.common import say
from workshop.common.errors import DeedRefused
from workshop.common.models import Shop

from ..models import Stage, Stone

#: A deed of nobody's (an import, the demo) is allowed; a blank author is no error of the person at the form.
BY_NOBODY = ("by", "written_by")


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
            f"The last weighing was at {in_shop_time(last.at)}; this one cannot be before it.",
            field="at",
        )


def in_shop_time(moment: datetime) -> str:
    """A moment as the clock on the shop's wall shows it, for a sentence to a person."""
    return say.moment(timezone.localtime(moment, Shop.the().tzinfo).replace(tzinfo=None))
