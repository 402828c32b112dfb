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
from workshop.handbook.money import round_money, tax_on_net
from workshop.handbook.weights import state_weight
from workshop.materials.models import Evidence

from .models import EntryKind, Recall, RecallEntry

LAW = "Your local law may give you further rights. This letter takes none of them away."
BEFORE_US = "This is the cutter's own letter, not a laboratory report."


@dataclass(frozen=True)
class Offer:
    """What a buyer may keep a gem for: the price as the sale takes prices, what the buyer then pays tax and all, and
    what goes back."""

    price: Decimal
    gross: Decimal
    refund: Decimal
    currency: str


def offer_of(entry: RecallEntry, per_carat: Decimal) -> Offer | None:
    """The new price of a sold gem at so much a carat, rounded half up, and the difference to what was agreed."""
    line = entry.line
    if line is None:
        return None
    currency = line.sale.currency
    price = round_money(per_carat * line.gem.weight_ct, currency)
    gross = price if line.sale.tax_included else price + tax_on_net(price, line.rate, currency)
    return Offer(price, gross, round_money(line.net + line.tax - gross, currency), currency)


@dataclass(frozen=True)
class Letter:
    """Subject and text."""

    subject: str
    body: str


def letter(entry: RecallEntry, shop: Shop, offer: Offer | None = None) -> Letter:
    """What to write about one entry."""
    name = " ".join(entry.contact.name.split()) if entry.contact is not None else ""
    said = {
        EntryKind.BUYER: _to_buyer, EntryKind.HOLDER: _to_holder, EntryKind.HOLD: _to_promised,
        EntryKind.CLIENT: _to_client, EntryKind.QUOTE: _about_quote,
    }.get(EntryKind(entry.kind), _to_client)(entry, offer, shop)  # fmt: skip
    close = "\n".join(dict.fromkeys(filter(None, ["With kind regards", shop.cutter, shop.name])))
    body = "\n\n".join([f"Dear {name or 'Sir or Madam'},", *said, f"{BEFORE_US} {LAW}", close])
    return Letter(f"What we have learned about {_short(entry)}"[:200], body[:6000])


def _short(entry: RecallEntry) -> str:
    if entry.kind == EntryKind.QUOTE and entry.quote is not None:
        return f"our quote, {entry.quote}"
    return entry.code


def _learned(recall: Recall) -> str:
    evidence, day = Evidence(recall.evidence).label, say.moment(recall.said_on)
    return f"{recall.get_question_display().capitalize()}: {recall.answer} ({evidence}, {day})."


def _news(entry: RecallEntry) -> list[str]:
    """What was learned, and how far it speaks of the reader's stone."""
    recall = entry.recall
    if entry.touched:
        before = ""
        # A stone may have rested on a word of its own; what the recall tells is only what its subject rested on.
        if recall.before and recall.before in entry.why:
            before = f" Until then we had gone by: {recall.before}."
        return [f"We have learned something that we did not know before. {_learned(recall)}{before}"]
    return [
        f"We have learned something about another stone of the same rough. {_learned(recall)}",
        "Yours was not looked at for this. It may be the same, and it may not: we do not know, and we would rather "
        "tell you so than wait.",
    ]


def _thing(entry: RecallEntry, shop: Shop) -> str:
    """The gem or stone in a few words that a later statement cannot make untrue."""
    if entry.gem is None:
        return entry.code
    weight = state_weight(entry.gem.weight_ct, scale_step=shop.scale_step_ct)
    return f"{entry.gem.code}, {entry.gem.get_shape_display()}, {weight}{say.GAP}ct"


def _to_buyer(entry: RecallEntry, offer: Offer | None, shop: Shop) -> Sequence[str]:
    line = entry.line
    assert line is not None
    sale = line.sale
    paid = say.money(line.net + line.tax, sale.currency)
    said = [
        f"On {say.moment(sale.sold_on)} you bought from us {_thing(entry, shop)}, for {paid} ({sale.code}).",
        *_news(entry),
    ]
    hand_on = "If you have sold it or given it on, please pass this letter on."
    if not entry.touched:
        return [*said, f"If you wish it tested, tell us, and we will agree how. {hand_on}"]
    return [*said, *_choices(paid, offer), *_papers_fall(entry), hand_on]


def _choices(paid: str, offer: Offer | None) -> Sequence[str]:
    keep = "Keep it at a lower price: we will name you one that is right for what it is."
    if offer is not None:
        new, back = say.money(offer.gross, offer.currency), say.money(offer.refund, offer.currency)
        keep = f"Keep it at {new}, the right price for what it is: we pay you back {back}."
    return [
        "The choice is yours:",
        f"1. {keep}",
        f"2. Send it back: we pay you back the {paid} in full.",
        "Please tell us which. We are sorry to bring you this news.",
    ]


def _papers_fall(entry: RecallEntry) -> Sequence[str]:
    papers = entry.recall.entries.filter(kind=EntryKind.PAPER, paper__about=entry.code, touched=True)  # type: ignore[attr-defined]
    if not papers.exists():
        return []
    return [
        "A paper of ours that came with it no longer says what is true; it is withdrawn, and you get a new one. "
        "Please do not pass the stone on with the old one."
    ]


def _to_holder(entry: RecallEntry, _offer: Offer | None, shop: Shop) -> Sequence[str]:
    return [
        f"You have {_thing(entry, shop)} from us.",
        *_news(entry),
        "Please do not show, set, sell or describe it by our earlier words or papers until you hear from us, and "
        "tell us if any of this has happened already.",
    ]


def _to_promised(entry: RecallEntry, _offer: Offer | None, shop: Shop) -> Sequence[str]:
    return [
        f"We keep {_thing(entry, shop)} for you.",
        *_news(entry),
        "You are bound to nothing. Tell us whether you still want it, and we will name you the price that is right "
        "for what it is.",
    ]


def _to_client(entry: RecallEntry, _offer: Offer | None, shop: Shop) -> Sequence[str]:
    what = f"our work for you, {entry.code}" if entry.commission is not None else _thing(entry, shop)
    return [
        f"We write about {what}.",
        *_news(entry),
        "Nothing goes on, and nothing in what we agreed changes, before you have answered. Tell us what you wish: "
        "to go on, to go on at another price, to have it tested, or to stop.",
    ]


def _about_quote(entry: RecallEntry, _offer: Offer | None, _shop: Shop) -> Sequence[str]:
    quote = entry.quote
    assert quote is not None
    return [
        f"On {say.moment(quote.sent_at, 'date')} we sent you a quote, {quote}.",
        *_news(entry),
        "We withdraw that quote; you get a new one that says what is true. Your copy of the old one stays as it is, "
        "and no longer holds.",
    ]
