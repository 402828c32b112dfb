"""The journal of a stone in plain words; sums of money only for whoever sees prices."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from workshop.common import say
from workshop.common.models import JournalEntry

from ..models import Activity, Ending, NoteKind, Stage, Wait
from .story import Event

JOURNAL_SHOWN = 60
#: Deeds that are about money: whoever sees no prices sees that they happened, not how much.
OF_MONEY = frozenset({"charged stone", "changed hands"})


def _choice(kind: Any) -> Callable[[Any], str]:
    return lambda value: kind(value).label if value in kind.values else str(value)


def _pieces(value: Any) -> str:
    return (
        ", ".join(f"{code} {say.carats(ct)}" for code, ct in value.items()) if isinstance(value, dict) else ""
    )


#: What of a journal line is told, and how. Anything not named here stays in the shop's own journal.
TELLS: dict[str, tuple[str, Callable[[Any], str]]] = {
    "weight_ct": ("", say.carats),
    "stage": ("", _choice(Stage)),
    "waiting_for": ("waited for", _choice(Wait)),
    "for": ("for", _choice(Wait)),
    "ending": ("", _choice(Ending)),
    "kind": ("", _choice(NoteKind)),
    "text": ("", str),
    "note": ("", str),
    "lot": ("from", str),
    "group": ("group", str),
    "pieces": ("", _pieces),
    "kerf": ("kerf", say.carats),
    "chips": ("chips", say.carats),
    "lost": ("lost", say.carats),
    "gap_ct": ("unexplained", say.carats),
    "question": ("", str),
    "answer": ("", str),
    "activity": ("", _choice(Activity)),
    "seconds": ("", say.hours),
    "plan": ("plan", str),
    "shape": ("shape", str),
    "length_mm": ("length", say.millimetres),
    "width_mm": ("width", say.millimetres),
    "depth_mm": ("depth", say.millimetres),
}


def told(stone_code: str, *, money: bool) -> list[Event]:
    """The newest lines of the journal about a stone."""
    entries = JournalEntry.objects.filter(about=stone_code).select_related("by")[:JOURNAL_SHOWN]
    return [_event(entry, money=money) for entry in entries]


def _event(entry: JournalEntry, *, money: bool) -> Event:
    hidden = entry.verb in OF_MONEY and not money
    parts = [] if hidden else [*_changes(entry), *_sums(entry), *([entry.reason] if entry.reason else [])]
    went_wrong = entry.verb in {"ended", "went back", "corrected weight"}
    return Event(
        at=entry.happened_at,
        text=entry.verb[:1].upper() + entry.verb[1:],
        who=entry.by,
        detail=" · ".join(part for part in parts if part),
        tone="alert" if went_wrong else "",
    )


def _changes(entry: JournalEntry) -> list[str]:
    lines = []
    for key, value in entry.after.items():
        if key not in TELLS or value in (None, "", "0", "0.000"):
            continue
        words, tell = TELLS[key]
        before = entry.before.get(key)
        was = f"{tell(before)} → " if before not in (None, "") and before != value else ""
        lines.append(f"{words} {was}{tell(value)}".strip())
    return lines


def _sums(entry: JournalEntry) -> list[str]:
    sums = (entry.after.get(key) for key in ("amount", "paid"))
    return [say.money(Decimal(str(amount))) for amount in sums if amount is not None]
