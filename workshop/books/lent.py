"""What today's page says of memos: what should be back, and which holds run out."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, Final

from workshop.common.models import Hand
from workshop.sales.models import Hold, Memo

#: A hold that ends this soon is told, so that somebody may be asked.
SOON: Final = timedelta(days=2)


def lent_today(hand: Hand, today: date) -> dict[str, Any]:
    """Overdue memos with their days, and holds that end now; prices and parties are not for hands."""
    if not hand.sees_money:
        return {}
    overdue = Memo.objects.overdue(today).select_related("party").order_by("return_by")
    holds = Hold.objects.filter(lifted_on__isnull=True, until__lte=today + SOON)
    return {
        "overdue": [(memo, (today - memo.return_by).days) for memo in overdue],
        "holds": holds.select_related("gem", "contact").order_by("until"),
    }
