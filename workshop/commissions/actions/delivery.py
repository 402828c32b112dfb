"""Handing over and posting what a commission was for, hearing that it arrived, and closing the account."""

from __future__ import annotations

from datetime import datetime

from workshop.common import journal
from workshop.common.models import Hand
from workshop.common.tx import write_tx

from ..models import CommissionItem, Outcome


def came_back(item: CommissionItem, *, reason: str, by: Hand | None, at: datetime) -> CommissionItem:
    """A delivered piece came back: while its commission stands it is open again, otherwise the reason is noted."""
    with write_tx():
        item = CommissionItem.objects.select_related("commission").get(pk=item.pk)
        if item.outcome != Outcome.DELIVERED:
            return item
        before = {"piece": item.number, "outcome": item.outcome, "on": item.outcome_on}
        item.outcome_note = f"came back: {reason}"[:300]
        if not item.commission.is_closed:
            item.outcome, item.outcome_on, item.given_back_ct = Outcome.OPEN, None, None
        item.save(update_fields=["outcome", "outcome_on", "outcome_note", "given_back_ct"])
        journal.note(
            "piece came back", item.commission.code, by=by, at=at, before=before,
            after={"outcome": item.outcome}, reason=reason,
        )  # fmt: skip
    return item
