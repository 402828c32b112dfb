"""What a client is shown of their commission, chosen field by field: a template gets these records and no row.

A row carries costs, hours, notes and other people; what is not named here cannot reach the client's page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q

from workshop.common import say
from workshop.common.models import Photo, Shop
from workshop.gems.models import FinishedGem
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
)

Say = Callable[[Decimal | None], str]

#: A stone that stayed or became the shop's is no longer the client's business.
NOT_THEIRS = (Outcome.BOUGHT, Outcome.DROPPED)


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
    lines_words: str
    deposit: str
    deposit_words: str
    expected_week: date | None
    queue_place: int | None
    note: str
    why: str
    risks: tuple[str, ...]
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


def shown_to_client(commission: Commission, shop: Shop, today: date) -> Shown:
    """The client's page of a commission as it is now."""
    items = list(commission.items.select_related("material"))
    quotes = list(
        commission.quotes.exclude(state=QuoteState.DRAFT)
        .select_related("paper")
        .prefetch_related("lines__item", "lines__item__material")
    )
    asks = [_ask(one, commission, quotes) for one in _asks(commission)]
    sent = next((one for one in quotes if one.state == QuoteState.SENT), None)
    agreed = next((one for one in quotes if one.state == QuoteState.ACCEPTED), None)
    last = sent or (None if agreed else next(iter(quotes), None))
    return Shown(
        code=commission.code,
        state=_state_words(commission, sent, today),
        client=commission.client.name,
        asked_on=commission.asked_on,
        wish=commission.wish,
        use=commission.use,
        wished_by=commission.wished_by,
        due_on=commission.due_on,
        quote=_quote(last, shop, today) if last else None,
        agreed=_quote(agreed, shop, today) if agreed else None,
        asks=tuple(one for one in asks if one.is_open),
        settled=tuple(one for one in asks if not one.is_open),
        items=tuple(_items(items)),
        photos=tuple(_photo(one) for one in commission.photos.filter(shared_at__isnull=False).select_related("photo")),
        papers=tuple(_paper(one) for one in papers_of(commission)),
        account=_account(commission),
    )  # fmt: skip


def statement_of(quote: Quote, shop: Shop) -> str:
    """The sentence the client ticks. A sent version is frozen, so it reads the same whenever it is asked for."""
    assert quote.sent_at is not None
    price = _range_of_money(quote.price_low, quote.price_high, quote.price, quote)
    words = (
        f"I accept version {quote.version} of the quote for {quote.commission.code} by {shop.name}, sent on "
        f"{say.moment(shop.day_of(quote.sent_at))}: {price}, {_tax_words(quote)}"
    )
    if quote.deposit:
        words += f"; deposit {say.money(quote.deposit, quote.currency)}, {_deposit_words(quote)}"
    risks = "the risks and the terms" if quote.risk_lines else "the terms"
    return f"{words}. I have read {risks} that stand with it."


def agreed_wording(quote: Quote, shop: Shop) -> str:
    """All the client agrees to, word for word: the sentence ticked, the risks and the terms."""
    parts = [statement_of(quote, shop)]
    if quote.risk_lines:
        parts.append("Risks:\n" + "\n".join(f"– {one}" for one in _risks(quote)))
    if quote.terms:
        parts.append(f"Terms:\n{quote.terms}")
    return "\n\n".join(parts)


def photo_for_client(commission: Commission, sha: str) -> Photo | None:
    """A photograph the client may see: one that was shared, or one put beside a question that stands."""
    asked = StopAsk.objects.filter(item__commission=commission, withdrawn_at__isnull=True)
    shared = commission.photos.filter(shared_at__isnull=False)
    return Photo.objects.filter(
        Q(pk__in=asked.order_by().values("photo")) | Q(pk__in=shared.order_by().values("photo")), sha256=sha
    ).first()


def papers_of(commission: Commission) -> list[Paper]:
    """The papers of this commission that are the client's to have, newest first."""
    own = Q(pk__in=commission.quotes.exclude(state=QuoteState.DRAFT).order_by().values("paper"))
    own |= Q(pk__in=commission.intakes.order_by().values("receipt"))
    own |= Q(pk__in=commission.intakes.order_by().values("report"))
    own |= Q(pk__in=commission.deliveries.order_by().values("note"))
    own |= Q(kind=PaperKind.INFO_CARD, about__in=[gem.code for gem in _their_gems(commission)])
    found = Paper.objects.filter(own).select_related("superseded_by").order_by("-pk")
    # Of the other papers a superseded one is still what was agreed or signed; an old card only misleads.
    return [paper for paper in found if paper.kind != PaperKind.INFO_CARD or paper.stands]


def _their_gems(commission: Commission) -> Iterator[FinishedGem]:
    for item in commission.items.exclude(outcome__in=NOT_THEIRS):
        for gem in progress.gems_of(item):
            own_cut = item.work not in ON_CLIENTS_GOODS
            if own_cut or (gem.ownership == Ownership.CLIENT and gem.owner_id == commission.client_id):
                yield gem


def _state_words(commission: Commission, sent: Quote | None, today: date) -> str:
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


def _quote(quote: Quote, shop: Shop, today: date) -> ShownQuote:
    assert quote.sent_at is not None and quote.valid_until is not None
    is_open = quote.is_open_on(today)
    return ShownQuote(
        version=quote.version,
        is_open=is_open,
        state=quote.state_on(today),
        sent_at=quote.sent_at,
        valid_until=quote.valid_until,
        lines=tuple(_line(one, quote) for one in quote.lines.all()),
        price=_range_of_money(quote.price_low, quote.price_high, quote.price, quote),
        price_words=_price_words(quote),
        lines_words="" if quote.tax_included or not quote.tax_percent else "without tax",
        deposit=say.money(quote.deposit, quote.currency) if quote.deposit else "",
        deposit_words=_deposit_words(quote),
        expected_week=quote.expected_week,
        queue_place=quote.queue_place,
        note=quote.note,
        why=quote.why,
        risks=tuple(_risks(quote)),
        terms=quote.terms,
        statement=statement_of(quote, shop),
        answered_at=quote.answered_at,
        answered_name=quote.answered_name,
        answered_words=quote.answered_words,
        paper=quote.paper.number if quote.paper else "",
    )  # fmt: skip


def _risks(quote: Quote) -> list[str]:
    return [str(one.get("words", "")) if isinstance(one, dict) else str(one) for one in quote.risk_lines]


def _tax_words(quote: Quote) -> str:
    """The sums of a quote hold the tax always; its lines only where it says so."""
    if not quote.tax_percent:
        return "no tax is added"
    return f"{say.number(quote.tax_percent.normalize())}\u00a0% tax included"


def _price_words(quote: Quote) -> str:
    if quote.firm or quote.price_low == quote.price_high:
        return f"a firm price, {_tax_words(quote)}"
    return f"an estimate that follows the finished weight, {_tax_words(quote)}"


def _deposit_words(quote: Quote) -> str:
    if quote.deposit_refundable:
        return "given back if the work is cancelled before it begins, as the terms say"
    return "not given back if you cancel, as far as your local law allows"


def _line(line: QuoteLine, quote: Quote) -> ShownLine:
    facts = [
        (
            "Weight each" if line.gems > 1 else "Weight",
            _range(line.weight_low_ct, line.weight_high_ct, say.carats),
        ),
        ("Size", _size(line)),
        ("Stones", str(line.gems) if line.gems > 1 else ""),
        ("I ask you first below", say.carats(line.floor_ct) if line.floor_ct else ""),
    ]
    return ShownLine(
        number=line.item.number,
        what=line.what,
        facts=tuple((label, text) for label, text in facts if text),
        price=_range_of_money(line.price_low, line.price_high, line.price, quote),
    )  # fmt: skip


def _size(line: QuoteLine) -> str:
    sides = [
        _range(line.length_low_mm, line.length_high_mm, say.millimetres),
        _range(line.width_low_mm, line.width_high_mm, say.millimetres),
    ]
    return " × ".join(filter(None, sides))


def _range(low: Decimal | None, high: Decimal | None, words: Say) -> str:
    if low is None or high is None:
        return ""
    if low == high:
        return words(high)
    return f"{words(low).partition(say.GAP)[0]} to {words(high)}"


def _range_of_money(low: Decimal, high: Decimal, middle: Decimal, quote: Quote) -> str:
    if quote.firm or low == high:
        return say.money(middle, quote.currency)
    return f"{say.number(low, 2)} to {say.money(high, quote.currency)}"


def _items(items: list[CommissionItem]) -> Iterator[ShownItem]:
    stones = progress.stones_by_item(items)
    for item in items:
        standing = [stone for stone in stones[item.pk] if not stone.ending]
        stages = dict.fromkeys(progress.stage_words(stone, to_client=True) for stone in standing)
        stage = "; ".join(stages) or ("stopped; you will hear from us" if stones[item.pk] else "not begun")
        yield ShownItem(
            number=item.number,
            work=item.get_work_display(),
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


def _ask(ask: StopAsk, commission: Commission, quotes: list[Quote]) -> ShownAsk:
    size = " × ".join(say.millimetres(side) for side in (ask.length_mm, ask.width_mm) if side is not None)
    price = "" if ask.new_price is None else say.money(ask.new_price, commission.currency)
    if price and quotes and quotes[0].tax_percent and not quotes[0].tax_included:
        price += ", without tax"
    facts = [
        ("New weight", _range(ask.weight_low_ct, ask.weight_high_ct, say.carats)
         or (say.carats(ask.weight_low_ct or ask.weight_high_ct) if ask.weight_low_ct or ask.weight_high_ct else "")),
        ("New size", size),
        ("New price of this piece", price),
    ]  # fmt: skip
    return ShownAsk(
        pk=ask.pk,
        number=ask.item.number,
        why=ask.get_why_display(),
        words=ask.words,
        photo=ask.photo.sha256 if ask.photo else "",
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


def _account(commission: Commission) -> ShownAccount | None:
    charges = list(commission.charges.all())
    payments = list(commission.payments.all())
    if not charges and not payments:
        return None
    currency = commission.currency
    received = commission.paid - commission.refunded
    owed = commission.balance
    words = "still to pay" if owed > 0 else ("to come back to you" if owed < 0 else "nothing is owed")
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
