"""Fetch a commission or a piece for a deed, inside the write transaction, and refuse what has ended."""

from __future__ import annotations

from workshop.common.errors import DeedRefused

from ..models import Commission, CommissionItem


def standing_commission(commission: Commission) -> Commission:
    """The commission as it stands now, if anything of it may still change."""
    fresh = Commission.objects.select_related("client").get(pk=commission.pk)
    if fresh.is_closed:
        raise DeedRefused(f"{fresh.code} is {fresh.state_word}; nothing of it changes any more.")
    return fresh


def open_item(item: CommissionItem) -> CommissionItem:
    """The piece as it stands now, if it has not ended."""
    fresh = CommissionItem.objects.select_related("commission__client", "material").get(pk=item.pk)
    if fresh.commission.is_closed:
        raise DeedRefused(f"{fresh.commission.code} is {fresh.commission.state_word}; nothing of it changes.")
    if not fresh.is_open:
        raise DeedRefused(
            f"Piece {fresh.number} of {fresh.commission.code} is {fresh.get_outcome_display()}."
        )
    return fresh
