"""What the client owes an answer to, and for how many days."""

from __future__ import annotations

from datetime import date

from workshop.common.models import Shop

from .models import Commission, QuoteState, StopAsk


def days_silent(commission: Commission, today: date, shop: Shop | None = None) -> int | None:
    """Days the client has owed an answer (to a question or a quote) without a word; None where none is owed."""
    owed = owed_since(commission, shop)
    if owed is None:
        return None
    return max(0, (today - owed).days)


def owed_since(commission: Commission, shop: Shop | None = None) -> date | None:
    """The day since which the client owes an answer, or was last heard from if that was later."""
    if commission.is_closed:
        return None
    moments = [ask.asked_at for ask in open_asks(commission)]
    moments += [
        quote.sent_at for quote in commission.quotes.all() if quote.state == QuoteState.SENT and quote.sent_at
    ]
    if not moments:
        return None
    since = max(min(moments), commission.heard_at) if commission.heard_at else min(moments)
    day: date = (shop or Shop.the()).day_of(since)
    return day


def open_asks(commission: Commission) -> list[StopAsk]:
    """Questions the client has not answered yet, oldest first; from prefetched rows where there are any."""
    asks = [ask for item in commission.items.all() for ask in item.questions.all() if ask.is_open]
    return sorted(asks, key=lambda ask: (ask.asked_at, ask.pk))
