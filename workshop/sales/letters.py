"""The letter to whoever a recall touches, in plain words; the cutter may change every one of them.

It says what was learned, on what evidence, and what may be chosen. It names nobody else: neither who said it nor any
other client, and no cost. What local law gives the reader stays the reader's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.common import say
from workshop.common.models import Shop
from workshop.handbook.money import round_money
from workshop.materials.models import Evidence

from .models import EntryKind, Recall, RecallEntry

LAW = "Your local law may give you further rights. This letter takes none of them away."
BEFORE_US = "This is the cutter's own letter, not a laboratory report."


@dataclass(frozen=True)
class Offer:
    """What a buyer may keep a gem for, and what goes back: gross, as it was paid."""

    price: Decimal
    refund: Decimal
    currency: str


def offer_of(entry: RecallEntry, per_carat: Decimal) -> Offer | None:
    """The new price of a sold gem at so much a carat, rounded half up, and the difference to what was agreed."""
    if entry.line is None:
        return None
    currency = entry.line.sale.currency
    price = round_money(per_carat * entry.line.gem.weight_ct, currency)
    return Offer(price, entry.line.price - price, currency)


@dataclass(frozen=True)
class Letter:
    """Subject and text."""

    subject: str
    body: str


def letter(entry: RecallEntry, shop: Shop, offer: Offer | None = None) -> Letter:
    """What to write about one entry."""
    name = " ".join(entry.contact.name.split()) if entry.contact is not None else ""
    said = {
        EntryKind.BUYER: _to_buyer, EntryKind.HOLDER: _to_holder, EntryKind.CLIENT: _to_client,
        EntryKind.QUOTE: _about_quote,
    }.get(EntryKind(entry.kind), _to_client)(entry, offer)  # fmt: skip
    close = "\n".join(dict.fromkeys(filter(None, ["With kind regards", shop.cutter, shop.name])))
    body = "\n\n".join([f"Dear {name or 'Sir or Madam'},", *said, f"{BEFORE_US} {LAW}", close])
    return Letter(f"What we have learned about {_short(entry)}"[:200], body[:6000])


def _short(entry: RecallEntry) -> str:
    if entry.kind == EntryKind.QUOTE and entry.quote is not None:
        return f"our quote, {entry.quote}"
    return entry.code


def _learned(recall: Recall) -> str:
    evidence = Evidence(recall.evidence).label
    day = say.moment(recall.said_on)
    of = recall.get_question_display()
    return f"{of}: {recall.answer}. It rests on: {evidence}, {day}."


def _news(entry: RecallEntry) -> list[str]:
    """What was learned, and how far it speaks of the reader's stone."""
    recall = entry.recall
    if entry.touched:
        before = f" Until then we had gone by: {recall.before}." if recall.before else ""
        return [
            f"Since then we have learned something that we did not know before. Its {_learned(recall)}{before}"
        ]
    return [
        "Since then we have learned something about another stone of the same rough. Its " + _learned(recall),
        "Yours was not looked at for this. It may be the same, and it may not: we do not know, and we would rather "
        "tell you so than wait.",
    ]


def _thing(entry: RecallEntry) -> str:
    """The gem or stone in a few words that a later statement cannot make untrue."""
    if entry.gem is not None:
        return f"{entry.gem.code}, {entry.gem.get_shape_display()}, {say.carats(entry.gem.weight_ct)}"
    return entry.code


def _to_buyer(entry: RecallEntry, offer: Offer | None) -> Sequence[str]:
    line = entry.line
    assert line is not None
    sale = line.sale
    paid = say.money(line.net + line.tax, sale.currency)
    said = [
        f"On {say.moment(sale.sold_on)} you bought from us {_thing(entry)}, for {paid} ({sale.code}).",
        *_news(entry),
    ]
    if not entry.touched:
        return [
            *said,
            "If you wish it tested, tell us, and we will agree how. If you have sold it or given it on, please pass "
            "this letter on.",
        ]
    return [*said, *_choices(paid, offer), *_papers_fall()]


def _choices(paid: str, offer: Offer | None) -> Sequence[str]:
    keep = "Keep it at a lower price: we will name you one that is right for what it is."
    if offer is not None:
        new, back = say.money(offer.price, offer.currency), say.money(offer.refund, offer.currency)
        keep = f"Keep it at {new}, the right price for what it is: we pay you back {back}."
    return [
        "The choice is yours:",
        f"1. {keep}",
        f"2. Send it back: we pay you back the {paid} in full.",
        "Please tell us which. We are sorry to bring you this news.",
    ]


def _papers_fall() -> Sequence[str]:
    return [
        "A paper of ours that came with it no longer says what is true; it is withdrawn, and you get a new one. "
        "Please do not pass the stone on with the old one. If you have sold it or given it on, please pass this "
        "letter on."
    ]


def _to_holder(entry: RecallEntry, _offer: Offer | None) -> Sequence[str]:
    return [
        f"You have {_thing(entry)} from us.",
        *_news(entry),
        "Please do not show, set, sell or describe it by our earlier words or papers until you hear from us, and "
        "tell us if any of this has happened already.",
    ]


def _to_client(entry: RecallEntry, _offer: Offer | None) -> Sequence[str]:
    what = f"our work for you, {entry.code}" if entry.commission is not None else _thing(entry)
    return [
        f"We write about {what}.",
        *_news(entry),
        "Nothing goes on, and nothing in what we agreed changes, before you have answered. Tell us what you wish: "
        "to go on, to go on at another price, to have it tested, or to stop.",
    ]


def _about_quote(entry: RecallEntry, _offer: Offer | None) -> Sequence[str]:
    quote = entry.quote
    assert quote is not None
    return [
        f"On {say.moment(quote.sent_at, 'date')} we sent you a quote, {quote}.",
        *_news(entry),
        "We withdraw that quote; you get a new one that says what is true. Your copy of the old one stays as it is, "
        "and no longer holds.",
    ]
