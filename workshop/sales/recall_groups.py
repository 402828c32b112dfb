"""The entries of a recall as they are looked at: where each thing is now, and the one deed that comes next."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlencode

from django.urls import reverse

from workshop.gems.models import Gone
from workshop.papers.models import PaperKind

from .models import EntryKind, EntryState, Recall, RecallEntry
from .touched import AT_HOME

SOLD, WITH_US, WITH_OTHERS, PAPERS, QUOTES = "sold", "with us", "with others", "papers", "open quotes"
GROUPS: Final = (SOLD, WITH_OTHERS, QUOTES, PAPERS, WITH_US)
#: Everything a page of entries asks of each.
ROWS: Final = (
    "contact", "stone__material", "gem", "paper__superseded_by", "quote__commission", "line__sale", "commission",
    "message__commission",
)  # fmt: skip


@dataclass(frozen=True)
class NextDeed:
    """Words on a button, and where it leads."""

    words: str
    url: str
    icon: str


def group_of(entry: RecallEntry) -> str:
    """Under which heading it stands."""
    by_kind = {
        EntryKind.BUYER: SOLD, EntryKind.HOLDER: WITH_OTHERS,
        EntryKind.HOLD: WITH_OTHERS, EntryKind.CLIENT: WITH_OTHERS, EntryKind.PAPER: PAPERS,
        EntryKind.QUOTE: QUOTES,
    }  # fmt: skip
    if (kind := EntryKind(entry.kind)) in by_kind:
        return by_kind[kind]
    gem = entry.gem
    if gem is not None and gem.gone_as and not gem.waits_for_buyer:
        return SOLD if gem.gone_as == Gone.SOLD else WITH_OTHERS
    thing = gem or entry.stone
    return (
        WITH_US if thing is None or thing.place in AT_HOME or (gem and gem.waits_for_buyer) else WITH_OTHERS
    )


def grouped(entries: Iterable[RecallEntry]) -> list[tuple[str, list[RecallEntry]]]:
    """Entries by where they are, those spoken of first; empty groups are left out."""
    found: dict[str, list[RecallEntry]] = {group: [] for group in GROUPS}
    for entry in sorted(entries, key=lambda one: (not one.is_to_do, not one.touched, one.pk)):
        found[group_of(entry)].append(entry)
    return [(group, rows) for group, rows in found.items() if rows]


def reason_of(recall: Recall) -> str:
    """The reason that every deed following from it begins with."""
    words = f"{recall.get_question_display().capitalize()} learned later: {recall.answer}"
    return f"{words} ({recall.code})"[:200]


def next_deed(entry: RecallEntry) -> NextDeed | None:
    """The one thing to do next about an entry, or nothing."""
    if not entry.recall.is_open:
        return None
    if entry.state == EntryState.TOLD:
        return _deed(entry, "choice", "Note the answer", "edit")
    if not entry.is_to_do:
        return None
    if entry.is_person:
        return _deed(entry, "tell", "Write and tell", "post")
    if entry.quote is not None:
        return _deed(entry, "withdraw", "Withdraw it", "undo")
    if entry.paper is not None:
        return _paper_deed(entry)
    if (
        entry.kind == EntryKind.GEM
        and entry.gem is not None
        and entry.gem.is_here
        and entry.gem.price is not None
    ):
        return _deed(entry, "reprice", "Ask another price", "money")
    return _deed(entry, "settle", "Say what was done", "check")


#: Papers that are issued anew from the records, and the page that does so.
REVISED_BY: Final = {
    PaperKind.INFO_CARD.value: "gems:revise_card", PaperKind.CERTIFICATE.value: "gems:revise_certificate",
}  # fmt: skip


def _paper_deed(entry: RecallEntry) -> NextDeed:
    paper = entry.paper
    assert paper is not None
    if url := revise_url(entry):
        return NextDeed("Revise it", url, "paper")
    return NextDeed("Look at it", paper.get_absolute_url(), "paper")


def revise_url(entry: RecallEntry) -> str:
    """The form that issues a card or certificate anew, with the reason filled in; nothing for other papers."""
    paper = entry.paper
    if paper is None or not paper.stands or paper.kind not in REVISED_BY:
        return ""
    return _with_reason(reverse(REVISED_BY[paper.kind], args=[paper.number]), entry.recall)


def void_url(entry: RecallEntry) -> str:
    """The form that withdraws a paper, with the reason filled in."""
    assert entry.paper is not None
    return _with_reason(reverse("papers:void", args=[entry.paper.number]), entry.recall)


def _with_reason(url: str, recall: Recall) -> str:
    return f"{url}?{urlencode({'reason': reason_of(recall)})}"


def _deed(entry: RecallEntry, name: str, words: str, icon: str) -> NextDeed:
    url = reverse(f"sales:recall_{name}", args=[entry.recall.code, entry.pk])
    return NextDeed(words, url, icon)
