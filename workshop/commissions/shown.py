"""What a client is shown of their commission, chosen field by field: a template gets these records and no row.

A row carries costs, hours, notes and other people; what is not named here cannot reach the client's page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q

from workshop.common import say
from workshop.common.models import Photo
from workshop.gems.models import FinishedGem, Gone
from workshop.papers.models import Paper, PaperKind
from workshop.people.models import Ownership

from . import progress
from .models import (
    ON_CLIENTS_GOODS,
    Commission,
    CommissionItem,
    CommissionPhoto,
    Outcome,
    PaidAs,
    Quote,
    QuoteLine,
    QuoteState,
    StopAsk,
    WorkKind,
)
from .quote_words import (
    TO,
    VOIDS,
    WITHDRAWAL,
    agreement,
    deposit_words,
    floor_words,
    follows_words,
    price_words,
    size_words,
    tax_words,
    total_words,
    weight_words,
)

#: A stone that stayed or became the shop's is no longer the client's business.
NOT_THEIRS = (Outcome.BOUGHT, Outcome.DROPPED)
#: The kind of work as it is said to the client.
WORK_WORDS = {
    WorkKind.CUT_OWN: "cut from rough of ours", WorkKind.CUT_CLIENT: "cut from your rough", WorkKind.RECUT: "recut",
    WorkKind.REPOLISH: "repolished", WorkKind.REPAIR: "repaired", WorkKind.MATCH: "cut to match",
}  # fmt: skip


@dataclass(frozen=True)
class ShownLine:
    """One piece in a quote: what will be done, what it may become, what it costs the client."""

    number: int
    what: str
    facts: tuple[tuple[str, str], ...]
    price: str


@dataclass(frozen=True)
class ShownQuote:
    """A version the client was sent."""

    version: int
    is_open: bool
    state: str
    sent_at: datetime
    valid_until: date
    lines: tuple[ShownLine, ...]
    price: str
    price_words: str
    deposit: str
    expected_week: date | None
    queue_place: int | None
    note: str
    why: str
    risks: tuple[str, ...]
    voids: tuple[str, ...]
    withdrawal: str
    terms: str
    statement: str
    answered_at: datetime | None
    answered_name: str
    answered_words: str
    paper: str


@dataclass(frozen=True)
class ShownItem:
    """A piece and how far it has come, in words."""

    number: int
    work: str
    wanted: str
    size: str
    stage: str
    ended_on: date | None
    given_back: str


@dataclass(frozen=True)
class ShownPhoto:
    """A photograph the cutter chose to share."""

    sha256: str
    words: str
    caption: str
    at: datetime


@dataclass(frozen=True)
class ShownAsk:
    """A question put to the client, or one that was answered."""

    pk: int
    number: int
    why: str
    words: str
    photo: str
    facts: tuple[tuple[str, str], ...]
    options: tuple[str, ...]
    asked_at: datetime
    is_open: bool
    answer: str
    answer_words: str
    answered_name: str
    answered_at: datetime | None


@dataclass(frozen=True)
class ShownPaper:
    """A paper the client may download."""

    number: str
    title: str
    about: str
    issued_at: datetime
    state: str


@dataclass(frozen=True)
class ShownSum:
    """One line of the account."""

    on: date
    words: str
    amount: str


@dataclass(frozen=True)
class ShownAccount:
    """What was charged and paid, and what is still owed."""

    charges: tuple[ShownSum, ...]
    payments: tuple[ShownSum, ...]
    charged: str
    paid: str
    owed: str
    owes_words: str


@dataclass(frozen=True)
class Shown:
    """All that stands on a client's page."""

    code: str
    state: str
    client: str
    asked_on: date
    wish: str
    use: str
    wished_by: date | None
    due_on: date | None
    quote: ShownQuote | None
    agreed: ShownQuote | None
    asks: tuple[ShownAsk, ...]
    settled: tuple[ShownAsk, ...]
    items: tuple[ShownItem, ...]
    photos: tuple[ShownPhoto, ...]
    papers: tuple[ShownPaper, ...]
    account: ShownAccount | None


def shown_to_client(commission: Commission, today: date) -> Shown:
    """The client's page of a commission as it is now."""
    items = list(commission.items.select_related("material"))
    quotes = list(
        commission.quotes.exclude(state=QuoteState.DRAFT)
        .select_related("paper")
        .prefetch_related("lines__item", "lines__item__material")
    )
    photos = list(commission.photos.filter(shared_at__isnull=False).select_related("photo", "item"))
    shared = {one.photo_id for one in photos}
    asks = [_ask(one, commission, quotes, shared) for one in _asks(commission)]
    sent = next((one for one in quotes if one.state == QuoteState.SENT), None)
    agreed = next((one for one in quotes if one.state == QuoteState.ACCEPTED), None)
    last = sent or (None if agreed else next(iter(quotes), None))
    return Shown(
        code=commission.code,
        state=_state_words(commission, sent, today, asked=any(one.is_open for one in asks)),
        client=commission.client.name,
        asked_on=commission.asked_on,
        wish=commission.wish,
        use=commission.use,
        wished_by=commission.wished_by,
        due_on=commission.due_on,
        quote=_quote(last, today) if last else None,
        agreed=_quote(agreed, today) if agreed else None,
        asks=tuple(one for one in asks if one.is_open),
        settled=tuple(one for one in asks if not one.is_open),
        items=tuple(_items(items)),
        photos=tuple(_photo(one) for one in photos),
        papers=tuple(_paper(one) for one in papers_of(commission)),
        account=_account(commission, items),
    )  # fmt: skip


def last_sent(commission: Commission) -> ShownQuote | None:
    """The version that waits for an answer, as the client sees it; none where none does."""
    quote = commission.quotes.filter(state=QuoteState.SENT).select_related("paper").first()
    # Only its own words are asked for: whether it has run out is told by its last day.
    return _quote(quote, quote.valid_until) if quote and quote.valid_until else None


def question_of(ask: StopAsk) -> ShownAsk:
    """A question as the client sees it."""
    commission = ask.item.commission
    return _ask(ask, commission, list(commission.quotes.exclude(state=QuoteState.DRAFT)), set())


def agreed_wording(quote: Quote) -> str:
    """All the client agrees to, word for word as the page shows it. A sent version is frozen, so it always reads so."""
    parts = [agreement(quote), _points("What voids these figures", [str(one) for one in VOIDS])]
    if quote.risk_lines:
        parts.append(_points("What may go wrong", [str(one) for one in quote.risk_lines]))
    if quote.terms:
        parts.append(f"Terms:\n{quote.terms}")
    return "\n\n".join([*parts, str(WITHDRAWAL)])


def _points(heading: str, lines: Sequence[str]) -> str:
    return f"{heading}:\n" + "\n".join(f"– {one}" for one in lines)


def photo_for_client(commission: Commission, sha: str) -> Photo | None:
    """A photograph the client may see: one that is shared, and no other."""
    shared = (
        commission.photos.filter(shared_at__isnull=False, photo__sha256=sha).select_related("photo").first()
    )
    return shared.photo if shared else None


def papers_of(commission: Commission) -> list[Paper]:
    """The papers of this commission that are the client's to have, newest first."""
    own = Q(pk__in=commission.quotes.exclude(state=QuoteState.DRAFT).order_by().values("paper"))
    taken_in = commission.intakes.order_by().values("code")
    own |= Q(kind__in=[PaperKind.INTAKE_RECEIPT, PaperKind.CONDITION], about__in=taken_in)
    own |= Q(pk__in=commission.deliveries.order_by().values("note"))
    own |= Q(kind=PaperKind.INFO_CARD, about__in=[gem.code for gem in _their_gems(commission)])
    found = Paper.objects.filter(own).select_related("superseded_by").order_by("-pk")
    # Of the other papers a superseded one is still what was agreed or signed; an old card only misleads.
    return [paper for paper in found if paper.kind != PaperKind.INFO_CARD or paper.stands]


def _their_gems(commission: Commission) -> Iterator[FinishedGem]:
    items = list(commission.items.exclude(outcome__in=NOT_THEIRS))
    stones = progress.stones_by_item(items)
    item_of = {stone.pk: item for item in items for stone in stones[item.pk]}
    for gem in FinishedGem.objects.filter(stone__in=item_of).exclude(gone_as=Gone.RECUT):
        own_cut = item_of[gem.stone_id].work not in ON_CLIENTS_GOODS
        if own_cut or (gem.ownership == Ownership.CLIENT and gem.owner_id == commission.client_id):
            yield gem


def _state_words(commission: Commission, sent: Quote | None, today: date, *, asked: bool) -> str:
    if asked:
        return "stopped, waiting for your answer"
    if sent is not None and not sent.is_open_on(today) and commission.state == "quoted":
        return "the quote has run out"
    return {
        "enquiry": "asked for; a quote is being worked out",
        "quoted": "a quote is waiting for your answer",
        "accepted": "accepted, waiting in the queue",
        "in_work": "in work",
        "delivered": "delivered",
        "declined": "closed without an order",
        "cancelled": "cancelled",
    }[commission.state]


def _quote(quote: Quote, today: date) -> ShownQuote:
    assert quote.sent_at is not None and quote.valid_until is not None
    is_open = quote.is_open_on(today)
    return ShownQuote(
        version=quote.version,
        is_open=is_open,
        state=quote.state_on(today),
        sent_at=quote.sent_at,
        valid_until=quote.valid_until,
        lines=tuple(_line(one, quote) for one in quote.lines.all()),
        price=total_words(quote),
        price_words=f"{'In all, tax in. ' if quote.tax_percent else ''}{follows_words(quote)} {tax_words(quote)}",
        deposit=deposit_words(quote),
        expected_week=quote.expected_week,
        queue_place=quote.queue_place,
        note=quote.note,
        why=quote.why,
        risks=tuple(str(one) for one in quote.risk_lines),
        voids=tuple(map(str, VOIDS)),
        withdrawal=str(WITHDRAWAL),
        terms=quote.terms,
        statement=agreement(quote),
        answered_at=quote.answered_at,
        answered_name=quote.answered_name,
        answered_words=quote.answered_words,
        paper=quote.paper.number if quote.paper else "",
    )  # fmt: skip


def _line(line: QuoteLine, quote: Quote) -> ShownLine:
    facts = [
        ("Finished weight", weight_words(line)),
        ("Finished size", size_words(line)),
        ("Stones", str(line.gems) if line.gems > 1 else ""),
        ("Floor", floor_words(line)),
    ]
    return ShownLine(
        number=line.item.number,
        what=line.what,
        facts=tuple((label, text) for label, text in facts if text),
        price=price_words(line.price_low, line.price_high, quote.currency),
    )


def _weights(low: Decimal | None, high: Decimal | None) -> str:
    """2.10–2.40 ct, or the one that is known; thousandths only where there are some."""
    known = list(dict.fromkeys(one for one in (low, high) if one is not None))
    places = 2 if all(one == round(one, 2) for one in known) else 3
    if len(known) < 2:
        return "".join(say.carats(one, places) for one in known)
    return f"{say.number(known[0], places)}{TO}{say.carats(known[1], places)}"


def _items(items: list[CommissionItem]) -> Iterator[ShownItem]:
    stones = progress.stones_by_item(items)
    for item in items:
        standing = [stone for stone in stones[item.pk] if not stone.ending]
        stages = dict.fromkeys(progress.stage_words(stone, to_client=True) for stone in standing)
        stage = "; ".join(stages) or ("stopped; you will hear from us" if stones[item.pk] else "not begun")
        yield ShownItem(
            number=item.number,
            work=WORK_WORDS[WorkKind(item.work)],
            wanted=item.wanted,
            size=item.size_words,
            stage=stage if item.is_open else item.get_outcome_display(),
            ended_on=item.outcome_on,
            given_back=say.carats(item.given_back_ct) if item.given_back_ct else "",
        )


def _photo(one: CommissionPhoto) -> ShownPhoto:
    piece = f" of piece {one.item.number}" if one.item_id and one.item else ""
    return ShownPhoto(one.photo.sha256, one.caption or f"Photograph{piece}", one.caption, one.at)


def _asks(commission: Commission) -> Iterable[StopAsk]:
    return (
        StopAsk.objects.filter(item__commission=commission, withdrawn_at__isnull=True)
        .select_related("item", "photo")
        .order_by("-asked_at", "-pk")
    )


def _ask(ask: StopAsk, commission: Commission, quotes: list[Quote], shared: set[int]) -> ShownAsk:
    size = " × ".join(say.millimetres(side) for side in (ask.length_mm, ask.width_mm) if side is not None)
    price = "" if ask.new_price is None else say.money(ask.new_price, commission.currency)
    if price and quotes and quotes[0].tax_percent and not quotes[0].tax_included:
        price += ", without tax"
    facts = [
        ("New weight", _weights(ask.weight_low_ct, ask.weight_high_ct)),
        ("New size", size),
        ("New price of this piece", price),
    ]  # fmt: skip
    return ShownAsk(
        pk=ask.pk,
        number=ask.item.number,
        why=ask.get_why_display(),
        words=ask.words,
        photo=ask.photo.sha256 if ask.photo and ask.photo.pk in shared else "",
        facts=tuple((label, text) for label, text in facts if text),
        options=tuple(str(one) for one in ask.options),
        asked_at=ask.asked_at,
        is_open=ask.is_open,
        answer=ask.answer,
        answer_words=ask.answer_words,
        answered_name=ask.answered_name,
        answered_at=ask.answered_at,
    )  # fmt: skip


def _paper(paper: Paper) -> ShownPaper:
    return ShownPaper(
        number=paper.number,
        title=paper.get_kind_display(),
        about=paper.about,
        issued_at=paper.issued_at,
        state="" if paper.stands else paper.state_word,
    )


def _account(commission: Commission, items: list[CommissionItem]) -> ShownAccount | None:
    charges = list(commission.charges.all())
    payments = list(commission.payments.all())
    if not charges and not payments:
        return None
    currency = commission.currency
    received = commission.paid - commission.refunded
    owed = commission.balance
    # What was paid ahead of the work comes back only once there is nothing left to charge it for.
    over = (
        "paid ahead"
        if not commission.is_closed and any(item.is_open for item in items)
        else "to come back to you"
    )
    words = "still to pay" if owed > 0 else (over if owed < 0 else "nothing is owed")
    return ShownAccount(
        charges=tuple(ShownSum(one.on, one.words, say.money(one.gross, currency)) for one in charges),
        payments=tuple(
            ShownSum(one.on, _paid_words(one.paid_as), say.money(one.amount, currency)) for one in payments
        ),
        charged=say.money(commission.charged, currency),
        paid=say.money(received, currency),
        owed=say.money(abs(owed), currency),
        owes_words=words,
    )


def _paid_words(paid_as: str) -> str:
    return {PaidAs.DEPOSIT: "deposit received", PaidAs.BALANCE: "payment received"}.get(
        PaidAs(paid_as), "paid back to you"
    )
