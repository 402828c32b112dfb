"""What changed between two versions of a quote, side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from workshop.common import say

from .models import Quote, QuoteLine
from .quote_words import (
    deposit_words,
    floor_words,
    price_words,
    size_words,
    tax_words,
    total_words,
    weight_words,
    what_words,
)


@dataclass(frozen=True)
class Change:
    """One thing that is not the same: what, as it was, as it is."""

    what: str
    before: str
    after: str


def changes_between(before: Quote, after: Quote) -> list[Change]:
    """Everything a client would read differently, the whole first and then piece by piece."""
    pairs = [(label, words(before), words(after)) for label, words in _WHOLE]
    pairs.append(("Risks, only here", _without(before, after), _without(after, before)))
    old = {line.item.number: line for line in _lines(before)}
    new = {line.item.number: line for line in _lines(after)}
    for number in sorted(old | new):
        for label, words in _OF_A_PIECE:
            pairs.append(
                (f"Piece {number}: {label}", _said(old.get(number), words), _said(new.get(number), words))
            )
    return [Change(*pair) for pair in pairs if pair[1] != pair[2]]


def _lines(quote: Quote) -> list[QuoteLine]:
    rows = list(quote.lines.select_related("item"))
    for one in rows:
        one.quote = quote
    return rows


def _without(one: Quote, other: Quote) -> str:
    """The risks that one version names and the other does not."""
    return "\n".join(words for words in one.risk_lines if words not in other.risk_lines)


def _said(line: QuoteLine | None, words: Any) -> str:
    return "" if line is None else str(words(line))


_WHOLE: list[tuple[str, Any]] = [
    ("In all", total_words),
    ("Tax", tax_words),
    ("Stands until", lambda quote: say.moment(quote.valid_until)),
    ("Expected in the week of", lambda quote: say.moment(quote.expected_week) if quote.expected_week else ""),
    ("Place in the queue", lambda quote: str(quote.queue_place or "")),
    ("Deposit", deposit_words),
    ("Terms", lambda quote: quote.terms),
]
_OF_A_PIECE: list[tuple[str, Any]] = [
    ("what will be done", what_words),
    ("weight", weight_words),
    ("size", size_words),
    ("floor", floor_words),
    ("price", lambda line: price_words(line.price_low, line.price_high, line.quote.currency)),
]
