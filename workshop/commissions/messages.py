"""What is told a client at each moment of a commission, written from the records: plain, warm, nothing internal.

The moments are those at which a word is owed: received and weighed, quote, go-ahead and deposit, place in the
queue, first surprise, first side done, finished, posted, arrived (common practice, no source). The client's
private address stands in a text as ``LINK_HERE`` and is put in only when the text leaves the house, so that a
stolen copy of the rows opens no page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from workshop.common import say
from workshop.common.models import Shop
from workshop.gems.models import FinishedGem
from workshop.gems.papers import open_questions, size_words, what_may_be_said
from workshop.handbook.weights import state_weight
from workshop.materials.words import Facts, Finding, lint

from . import progress, shown
from .models import Commission, CommissionItem, IntakePiece, Moment, PaidAs, QuoteState, StopAsk

LINK_HERE: Final = "[private link]"
#: A private address, however somebody pasted it: with or without its host.
_PASTED: Final = re.compile(r"(?:https?://[^\s/<>\"']+)?/yours/[^\s<>\"']+", re.IGNORECASE)


@dataclass(frozen=True)
class _About:
    """What a message speaks of."""

    commission: Commission
    items: Sequence[CommissionItem]
    item: CommissionItem | None
    ask: StopAsk | None
    shop: Shop

    @property
    def piece(self) -> str:
        """How the piece is called in a sentence."""
        return "your stone" if self.item is None or len(self.items) == 1 else f"piece {self.item.number}"

    @property
    def chosen(self) -> Sequence[CommissionItem]:
        """The one piece, or all."""
        return [self.item] if self.item is not None else self.items


def wording(
    commission: Commission, moment: str, item: CommissionItem | None = None, ask: StopAsk | None = None
) -> tuple[str, str]:
    """Subject and body for a moment, from what the records say now; the cutter may change every word."""
    if ask is not None:
        item = ask.item
    about = _About(commission, list(commission.items.all()), item, ask, Shop.the())
    subject, said = _SAID[Moment(moment)](about)
    greeting = f"Dear {' '.join(commission.client.name.split())},"
    page = f"Your own page, with where everything stands: {LINK_HERE}"
    close = "\n".join(dict.fromkeys(filter(None, ["With kind regards", about.shop.cutter, about.shop.name])))
    body = "\n\n".join([greeting, *filter(None, said), page, close])
    return f"{commission.code}: {subject}"[:200], body[:6000]


def with_link(text: str, address: str) -> str:
    """The text as the client gets it."""
    return text.replace(LINK_HERE, address)


def without_links(text: str) -> str:
    """The text as it is kept: a private address that was pasted in becomes its place."""
    return _PASTED.sub(LINK_HERE, text)


def findings(text: str, gems: Sequence[FinishedGem]) -> list[Finding]:
    """What a text may not say of these finished stones, by the strict profile of the disclosure rules."""
    found = [finding for gem in gems for finding in lint(text, _facts(gem, alone=len(gems) == 1))]
    return list(dict.fromkeys(finding for finding in found if finding.blocks))


def gems_spoken_of(commission: Commission, item: CommissionItem | None) -> list[FinishedGem]:
    """The finished stones a message about a piece, or about all of them, may name."""
    items = [item] if item is not None else list(commission.items.all())
    return [gem for one in items for gem in progress.gems_of(one)]


def _facts(gem: FinishedGem, *, alone: bool) -> Facts:
    facts = Facts() if open_questions(gem) else what_may_be_said(gem).facts
    return replace(facts, on_card=False, weighed_ct=gem.weight_ct if alone else None)


def _received(about: _About) -> tuple[str, list[str]]:
    pieces = (
        IntakePiece.objects.filter(intake__commission=about.commission).select_related("lot").order_by("pk")
    )
    if about.item is not None:
        pieces = pieces.filter(item=about.item)
    told = "\n".join(f"– {_piece_words(piece)}" for piece in pieces)
    said = ["What you sent arrived and is safe here. It stays yours all the while."]
    if told:
        said.append(f"By our scale and gauge:\n{told}")
    return "received and weighed", [
        *said,
        "If anything of this is not as you know it, tell us before work begins.",
    ]


def _piece_words(piece: IntakePiece) -> str:
    sides = [side for side in (piece.length_mm, piece.width_mm, piece.depth_mm) if side is not None]
    size = " × ".join(f"{side:.2f}" for side in sides)
    count = f"{piece.pieces} pieces, " if piece.pieces > 1 else ""
    return f"{piece.seen_as}: {count}{say.carats_and_grams(piece.weight_ct)}" + (
        f", {size} mm" if size else ""
    )


def _quote(about: _About) -> tuple[str, list[str]]:
    quote = shown.last_sent(about.commission)
    if quote is None:
        return "your quote", ["Your quote is being worked out; you will have it soon."]
    said = [
        f"Here is the quote you asked for (version {quote.version}): {quote.price}. {quote.price_words}",
        "\n".join(f"– {line.what}: {_facts_in_a_row(line.facts)}" for line in quote.lines if line.facts),
        f"Deposit: {quote.deposit}" if quote.deposit else "",
        f"We expect to finish in the week of {say.moment(quote.expected_week)}." if quote.expected_week else "",
        quote.note,
        f"It stands until {say.moment(quote.valid_until)}. On your own page you can read all of it, with the risks "
        "and the terms, and accept it or decline.",
    ]  # fmt: skip
    return f"your quote, version {quote.version}", said


def _facts_in_a_row(facts: Sequence[tuple[str, str]]) -> str:
    """Weight, size and floor in one line; the floor is a sentence of its own already."""
    said = [
        f"{text[:1].lower()}{text[1:]}" if label == "Floor" else f"{label.lower()} {text}"
        for label, text in facts
    ]
    return "; ".join(said).rstrip(".") + "."


def _go_ahead(about: _About) -> tuple[str, list[str]]:
    agreed = about.commission.quotes.filter(state=QuoteState.ACCEPTED).first()
    currency = about.commission.currency
    deposit = agreed.deposit if agreed else Decimal(0)
    paid = sum((one.amount for one in about.commission.payments.filter(paid_as=PaidAs.DEPOSIT)), Decimal(0))
    said = ["Thank you for your go-ahead."]
    if paid:
        said.append(f"Your deposit of {say.money(paid, currency)} arrived, thank you.")
    if deposit > paid:
        rest = say.money(deposit - paid, currency)
        said.append(
            f"As soon as the {'rest of the ' if paid else ''}deposit, {rest}, is here, work can begin."
        )
    else:
        said.append("Your commission is in the queue for the bench.")
    return "go-ahead", [*said, _week(about)]


def _week(about: _About) -> str:
    due = about.commission.due_on
    return f"We expect to finish in the week of {say.moment(due)}." if due else ""


def _queue(about: _About) -> tuple[str, list[str]]:
    place = about.commission.queue_place
    where = (
        f"Your commission is number {place} in the queue." if place else "Your commission waits in the queue."
    )
    return "your place in the queue", [where, _week(about), "If something shifts, you will hear from us."]


def _surprise(about: _About) -> tuple[str, list[str]]:
    ask = about.ask or next(iter(progress.open_asks(about.commission)), None)
    if ask is None:
        return "a question", ["Something came up with your commission, and we would like to ask you first."]
    told = shown.question_of(ask)
    said = [
        f"Something came up with {about.piece}: {told.why}. Work has stopped until you have decided.",
        told.words,
        "\n".join(f"– {label}: {text}" for label, text in told.facts),
        "You can answer on your own page, with one press:\n" + "\n".join(f"– {one}" for one in told.options),
    ]
    return f"work has stopped, please answer (piece {told.number})", said


def _pavilion(about: _About) -> tuple[str, list[str]]:
    stages = [_stage_of(item, about) for item in about.chosen]
    said = ["A word from the bench:", "\n".join(filter(None, stages))]
    return "from the bench", [*said, "Photographs shared with you stand on your page."]


def _stage_of(item: CommissionItem, about: _About) -> str:
    standing = [stone for stone in progress.stones_of(item) if not stone.ending]
    stages = "; ".join(dict.fromkeys(progress.stage_words(stone, to_client=True) for stone in standing))
    name = "Your stone" if len(about.items) == 1 else f"Piece {item.number}, {item.wanted}"
    return f"– {name}: {stages or 'not begun'}"


def _finished(about: _About) -> tuple[str, list[str]]:
    gems = gems_spoken_of(about.commission, about.item)
    told = "\n\n".join(_gem_words(gem, about.shop) for gem in gems)
    one = len(gems) < 2
    said = [f"Your {'stone is' if one else 'stones are'} finished.", told]
    owed = about.commission.balance
    if owed > 0:
        said.append(f"Still to pay: {say.money(owed, about.commission.currency)}.")
    return "finished", [*said, "Tell us how you would like to have it sent, or come by." if one
                        else "Tell us how you would like to have them sent, or come by."]  # fmt: skip


def _gem_words(gem: FinishedGem, shop: Shop) -> str:
    weight = state_weight(gem.weight_ct, scale_step=shop.scale_step_ct)
    measured = f"{weight}\u00a0ct by scale, {size_words(gem)}, {gem.get_shape_display()}"
    if open_questions(gem):
        return f"{gem.code}: {measured}. What it is and whether it was treated is told on its card."
    told = what_may_be_said(gem)
    # As on its card: each treatment in plain words, on whose word it rests, and what nobody tested.
    lines = [
        f"{line.label}: {line.text}{f' ({line.basis})' if line.basis else ''}."
        for line in (told.nature, *told.treatments)
    ]
    return "\n".join(filter(None, [f"{told.name_line}: {measured}.", *lines, told.not_tested]))


def _posted(about: _About) -> tuple[str, list[str]]:
    delivery = about.commission.deliveries.order_by("-on", "-pk").first()
    if delivery is None:
        return "on its way", ["Your goods are being made ready for the way."]
    said = [f"Your goods left here on {say.moment(delivery.on)}: {delivery.how}."]
    if delivery.tracking:
        said.append(f"You can follow the parcel under {delivery.tracking}.")
    return "on its way", [
        *said,
        "Please tell us when it has arrived, and look at everything while you unpack it.",
    ]


def _arrived(about: _About) -> tuple[str, list[str]]:
    delivery = (
        about.commission.deliveries.filter(arrived_on__isnull=False).order_by("-arrived_on", "-pk").first()
    )
    when = f" on {say.moment(delivery.arrived_on)}" if delivery else ""
    return "arrived", [
        f"It is good to know that everything arrived{when}. Thank you for your trust.",
        "If anything is not as it should be, tell us soon; and we would like to hear how you like it.",
    ]


def _other(about: _About) -> tuple[str, list[str]]:
    return "a word", ["…"]


_SAID: Final[dict[Moment, Callable[[_About], tuple[str, list[str]]]]] = {
    Moment.RECEIVED: _received,
    Moment.QUOTE: _quote,
    Moment.GO_AHEAD: _go_ahead,
    Moment.QUEUE: _queue,
    Moment.SURPRISE: _surprise,
    Moment.PAVILION: _pavilion,
    Moment.FINISHED: _finished,
    Moment.POSTED: _posted,
    Moment.ARRIVED: _arrived,
    Moment.OTHER: _other,
}
