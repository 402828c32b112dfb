"""The journal of a commission in plain words; sums of money only for whoever sees prices."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from itertools import groupby
from typing import Any

from workshop.common import say
from workshop.common.models import JournalEntry

from ..models import AskWhy, Commission, WorkKind

LINES_SHOWN = 80
#: Deeds told in full to whoever sees no prices; of the others they learn that they happened, not how much nor why.
OF_THE_BENCH = frozenset({
    "opened enquiry", "added piece", "changed piece", "linked stone", "unlinked stone", "photograph",
    "photograph at taking in", "shared photograph", "hid photograph", "asked client", "client answered",
    "withdrew question", "took in goods", "took in another piece", "marked a fault", "broken in work", "lost", "found",
})  # fmt: skip
#: Keys whose value is a sum.
SUMS = (
    "gross",
    "amount",
    "price",
    "deposit",
    "refund",
    "fee",
    "paid",
    "new_price",
    "declared_value",
    "value",
)


def _kind(value: Any) -> str:
    return WorkKind(value).label if value in WorkKind.values else str(value)


def _why(value: Any) -> str:
    return AskWhy(value).label if value in AskWhy.values else str(value)


def _list(value: Any) -> str:
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


#: What of a line is told, and how. Anything not named here stays in the shop's own journal.
TELLS: dict[str, tuple[str, Callable[[Any], str]]] = {
    "piece": ("piece", str),
    "pieces": ("", _list),
    "stone": ("", str),
    "version": ("version", str),
    "work": ("", _kind),
    "wanted": ("", str),
    "wished_by": ("wished by", str),
    "due_on": ("week of", str),
    "use": ("for", str),
    "length_mm": ("length", say.millimetres),
    "width_mm": ("width", say.millimetres),
    "least_ct": ("from", say.carats),
    "most_ct": ("to", say.carats),
    "floor_ct": ("floor", say.carats),
    "weight_ct": ("", say.carats),
    "given_back_ct": ("given back", say.carats),
    "why": ("", _why),
    "answer": ("", str),
    "name": ("", str),
    "intake": ("", str),
    "delivery": ("", str),
    "how": ("", str),
    "days_silent": ("days silent", str),
    "words": ("", str),
    "moment": ("", str),
    "items": ("", _list),
}


def told(commission: Commission, *, money: bool) -> list[dict[str, Any]]:
    """The newest lines of the journal about a commission, newest first."""
    entries = JournalEntry.objects.filter(about=commission.code).select_related("by")[:LINES_SHOWN]
    lines = [_event(entry, commission.currency, money=money) for entry in entries]
    return [_together(list(same)) for _, same in groupby(lines, key=_alike)]


def _alike(line: dict[str, Any]) -> tuple[Any, ...]:
    return line["text"], line["detail"], line["who"], line["at"].date()


def _together(same: list[dict[str, Any]]) -> dict[str, Any]:
    """Several lines that say the same, such as five photographs kept at once, are one."""
    times = f" ({len(same)} times)" if len(same) > 1 else ""
    return {**same[0], "text": f"{same[0]['text']}{times}"}


def _event(entry: JournalEntry, currency: str, *, money: bool) -> dict[str, Any]:
    hidden = entry.verb not in OF_THE_BENCH and not money
    details = [] if hidden else [*_changes(entry), *(_sums(entry, currency) if money else []), entry.reason]
    return {
        "at": entry.happened_at,
        "text": entry.verb[:1].upper() + entry.verb[1:],
        "who": entry.by,
        "detail": " · ".join(filter(None, details)),
    }


def _changes(entry: JournalEntry) -> list[str]:
    lines = []
    for key, value in entry.after.items():
        if key not in TELLS or value in (None, "", [], "0.000"):
            continue
        words, tell = TELLS[key]
        before = entry.before.get(key)
        was = f"{tell(before)} → " if before not in (None, "", []) and before != value else ""
        lines.append(f"{words} {was}{tell(value)}".strip())
    return lines


def _sums(entry: JournalEntry, currency: str) -> list[str]:
    found = []
    for key in SUMS:
        try:
            amount = Decimal(str(entry.after[key]))
        except (KeyError, InvalidOperation):
            continue
        if amount.is_finite() and amount:
            found.append(say.money(amount, currency))
    return list(dict.fromkeys(found))
