"""Quotes: drafting a version, setting its lines and terms. Sending and answering: ``answers``; all are found here."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.handbook.errors import HandbookError
from workshop.handbook.money import round_money
from workshop.handbook.tariffs import check_rates

from ..asks import Ask, rates_to_facts
from ..bench import Bench, bench
from ..models import Commission, CommissionItem, Outcome, Quote, QuoteLine, QuoteState, Tariff
from ..quote_words import quote_risks
from ..quoting import WorkedOut, ask_of, terms_of, work_out
from ..starts import is_finished, start_of
from ..tariffs import rates_of
from .answers import accept_quote, decline_quote, send_quote, withdraw_quote
from .standing import open_item, standing_commission

__all__ = [
    "accept_quote", "decline_quote", "describe_quote", "draft_quote", "drop_draft", "drop_line", "send_quote",
    "set_line", "withdraw_quote", "work_out_line",
]  # fmt: skip

ZERO = Decimal(0)
#: What a version says besides its lines.
SAID = (
    "valid_until", "expected_week", "queue_place", "deposit", "deposit_refundable", "terms", "risk_lines", "note",
    "why",
)  # fmt: skip
#: Nobody may be the author of a deed (an import, the demo).
BY_NOBODY = ["made_by", "commission", "tariff"]
COPIED = ("expected_week", "queue_place", "terms", "risk_lines", "note", "firm")


# --- The draft ----------------------------------------------------------------------------------------------------


def draft_quote(
    commission: Commission,
    *,
    tariff: Tariff,
    by: Hand | None,
    at: datetime,
    why: str = "",
    firm: bool = False,
) -> Quote:
    """A new version to work on: from the last one where there is one, else empty. One draft at a time.

    Lines are worked out anew by the tariff; what was typed over them stays. A piece that is finished keeps the
    line the client accepted.
    """
    with write_tx():
        commission = standing_commission(commission)
        draft = commission.quotes.filter(state=QuoteState.DRAFT).first()
        if draft is not None:
            raise DeedRefused(f"Version {draft.version} is still a draft; work on that one, or drop it.")
        today = Shop.the().day_of(at)
        last = commission.quotes.first()
        quote = Quote(
            commission=commission, version=last.version + 1 if last is not None else 1, made_by=by, made_at=at,
            currency=commission.currency, firm=firm, why=why[:300],
        )  # fmt: skip
        _go_by(quote, tariff, today)
        quote.valid_until = today + timedelta(days=tariff.valid_days)
        quote.terms, quote.deposit_refundable = tariff.terms, tariff.deposit_refundable
        if last is not None:
            for name in COPIED:
                setattr(quote, name, getattr(last, name))
            quote.firm = firm or last.firm
            if quote.expected_week is not None and quote.expected_week < _monday(today):
                quote.expected_week = None
        quote.risk_lines = _risks(commission, last)
        quote.full_clean(exclude=BY_NOBODY)
        quote.save()
        if last is not None:
            _copy_lines(quote, last)
        journal.note(
            "drafted quote", commission.code, by=by, at=at, reason=why,
            after={"version": quote.version, "tariff": tariff.code},
        )  # fmt: skip
    return quote


def _risks(commission: Commission, last: Quote | None) -> list[str]:
    """What to put before the client: as in the version before, and the topics of pieces it said nothing of."""
    rows = commission.items.filter(outcome=Outcome.OPEN).select_related("commission", "material")
    if last is None:
        return quote_risks(list(rows))
    known = set(last.lines.values_list("item", flat=True))
    said: list[str] = list(last.risk_lines)
    for item in rows:
        if item.pk not in known:
            topics = [(words, f"Piece {item.number}: {words}") for words in quote_risks([item])]
            said += [named for words, named in topics if words not in said and named not in said]
    return said


def _go_by(quote: Quote, tariff: Tariff, today: date) -> None:
    """Let a draft price by a tariff, whose lines it keeps from now on."""
    if tariff.currency != quote.currency:
        raise DeedRefused(
            f"The tariff “{tariff}” is in {tariff.currency}, this commission in {quote.currency}.",
            field="tariff",
        )
    if not tariff.is_valid_on(today):
        raise DeedRefused(f"The tariff “{tariff}” does not hold on {today:%-d %b %Y}.", field="tariff")
    rates = rates_of(tariff)
    try:
        check_rates(rates, tariff.currency)
    except HandbookError as error:
        raise DeedRefused(f"The tariff “{tariff}” cannot price anything: {error}", field="tariff") from error
    quote.tariff, quote.rates = tariff, rates_to_facts(rates)
    quote.tax_percent, quote.tax_included = tariff.tax_percent, tariff.tax_included


def _copy_lines(quote: Quote, last: Quote) -> None:
    learned = bench()
    done = {line.item_id: line for line in _accepted_lines(quote.commission)}
    for old in last.lines.select_related("item__commission", "item__material", "plan"):
        if not old.item.is_open:
            continue
        if is_finished(old.item):
            if old.item_id in done:
                _copy(quote, done[old.item_id])
            continue
        try:
            _write_line(quote, old.item, ask_of(old), learned)
        except DeedRefused:
            # The new tariff cannot price what the old one could: the piece waits for its line.
            continue
    _add_up(quote)


def _accepted_lines(commission: Commission) -> list[QuoteLine]:
    accepted = commission.quotes.filter(state=QuoteState.ACCEPTED).first()
    return list(accepted.lines.select_related("item")) if accepted is not None else []


def _copy(quote: Quote, line: QuoteLine) -> None:
    copy = QuoteLine.objects.get(pk=line.pk)
    copy.pk, copy._state.adding, copy.quote = None, True, quote
    copy.save()


def drop_draft(quote: Quote, *, by: Hand | None, at: datetime) -> Commission:
    """Throw a draft away; nobody has seen it."""
    with write_tx():
        quote = draft_of(quote)
        commission = quote.commission
        journal.note("dropped draft", commission.code, by=by, at=at, before={"version": quote.version})
        quote.delete()
    return commission


def draft_of(quote: Quote) -> Quote:
    """The version as it stands now, if it is still a draft of a standing commission."""
    fresh = Quote.objects.select_related("commission", "tariff").filter(pk=quote.pk).first()
    if fresh is None:
        raise DeedRefused("That draft was dropped.")
    standing_commission(fresh.commission)
    if not fresh.is_draft:
        raise DeedRefused(
            f"Version {fresh.version} is {fresh.get_state_display()}; it never changes. Make a new version."
        )
    return fresh


# --- Its lines ----------------------------------------------------------------------------------------------------


def set_line(quote: Quote, item: CommissionItem, ask: Ask, *, by: Hand | None, at: datetime) -> QuoteLine:
    """Work out what one piece may become, take and cost, and keep it as its line in a draft."""
    learned = bench()
    with write_tx():
        quote, item = draft_of(quote), open_item(item)
        if item.commission_id != quote.commission_id:
            raise DeedRefused(f"Piece {item.number} is of another commission.")
        if is_finished(item):
            raise DeedRefused(f"Piece {item.number} is finished already; its price was agreed before.")
        line = _write_line(quote, item, ask, learned)
        _add_up(quote)
        journal.note(
            "quoted piece", quote.commission.code, by=by, at=at, reason=line.override_reason,
            after={
                "version": quote.version, "piece": item.number, "price": line.price, "typed": line.typed,
                "weight_ct": line.weight_ct, "seconds": line.seconds,
            },
        )  # fmt: skip
    return line


def work_out_line(quote: Quote, item: CommissionItem, ask: Ask, learned: Bench) -> tuple[Ask, WorkedOut]:
    """What a line would be, and what it rests on once the shop's own figures are filled in; nothing is kept."""
    ask = _filled_in(quote, item, ask)
    if ask.typed.facts() and not ask.reason.strip():
        raise DeedRefused("Say why: figures of your own stand over what was worked out.", field="reason")
    found = work_out(item, ask, terms_of(quote), learned)
    _check_floor(item, ask, found)
    return ask, found


def _filled_in(quote: Quote, item: CommissionItem, ask: Ask) -> Ask:
    shop = Shop.the()
    if ask.hourly_rate is None:
        if shop.currency != quote.currency:
            raise DeedRefused(f"Say what your hour costs in {quote.currency}.", field="hourly_rate")
        ask = replace(ask, hourly_rate=shop.hourly_rate)
    if ask.plan is not None and not ask.plan.stands:
        raise DeedRefused(f"The plan {ask.plan.code} was superseded; take the one that stands.", field="plan")
    if ask.length_mm is None:
        start = start_of(item)
        ask = replace(ask, length_mm=start.length_mm, width_mm=start.width_mm)
    if ask.material_cost < 0 or (ask.hourly_rate is not None and ask.hourly_rate < 0):
        raise DeedRefused("Costs are zero or more.", field="material_cost")
    return replace(ask, what=ask.what.strip() or item.wanted)


def _check_floor(item: CommissionItem, ask: Ask, found: WorkedOut) -> None:
    floor = ask.floor_ct
    if floor is None:
        return
    if floor <= 0:
        raise DeedRefused("A floor lies above zero.", field="floor_ct")
    if found.weights is not None and floor > found.weights[2]:
        raise DeedRefused(
            f"The floor of {floor:.2f} ct lies above the whole range, which ends at {found.weights[2]:.2f} ct.",
            field="floor_ct",
        )
    if item.most_ct is not None and floor > item.most_ct:
        raise DeedRefused(
            f"The client wishes at most {item.most_ct} ct; the floor lies above.", field="floor_ct"
        )


def _write_line(quote: Quote, item: CommissionItem, ask: Ask, learned: Bench) -> QuoteLine:
    ask, found = work_out_line(quote, item, ask, learned)
    line = QuoteLine.objects.filter(quote=quote, item=item).first() or QuoteLine(quote=quote, item=item)
    line.quote = quote
    for name, value in _columns(ask, found).items():
        setattr(line, name, value)
    line.full_clean(exclude=["quote", "item", "plan"])
    line.save()
    return line


def _columns(ask: Ask, found: WorkedOut) -> dict[str, Any]:
    """A line's columns from what it rests on and what was worked out."""
    asked = (
        "plan", "what", "rough_ct", "rough_pieces", "gems", "facets", "flawed", "floor_ct", "hourly_rate",
        "material_cost",
    )  # fmt: skip
    three = {
        ("weight_low_ct", "weight_ct", "weight_high_ct"): found.weights or (None, None, None),
        ("seconds_low", "seconds", "seconds_high"): found.seconds,
        ("price_low", "price", "price_high"): found.prices,
        ("cost_low", "cost", "cost_high"): found.costs,
        ("earned_low", "earned", "earned_high"): found.earned,
    }
    typed = ask.typed.facts()
    return {
        **{name: getattr(ask, name) for name in asked},
        **{name: value for names, values in three.items() for name, value in zip(names, values, strict=True)},
        **{f"{name}_mm": value for name, value in found.sides._asdict().items()},
        "extras": list(ask.extras),
        "basis": [{"words": step.words, "amount": str(step.amount)} for step in found.steps],
        "typed": typed,
        "overridden": bool(typed),
        "override_reason": ask.reason.strip()[:300],
        "chance_percent": found.chance_percent,
        "own_stones": found.own_stones,
        "share_percent": found.share_percent,
    }


def drop_line(quote: Quote, item: CommissionItem, *, by: Hand | None, at: datetime) -> Quote:
    """Take a piece out of a draft."""
    with write_tx():
        quote = draft_of(quote)
        for line in quote.lines.filter(item=item):
            line.quote = quote
            line.delete()
        _add_up(quote)
        journal.note(
            "left piece out of quote", quote.commission.code, by=by, at=at,
            after={"version": quote.version, "piece": item.number},
        )  # fmt: skip
    return quote


# --- What else it says --------------------------------------------------------------------------------------------


def describe_quote(
    quote: Quote,
    *,
    by: Hand | None,
    at: datetime,
    tariff: Tariff | None = None,
    firm: bool | None = None,
    **said: Any,
) -> Quote:
    """Dates, deposit, terms, risk lines, a word to the client (see ``SAID``); another tariff, or a firm price.

    A change of tariff or of firmness works every line out anew.
    """
    if unknown := set(said) - set(SAID):
        raise TypeError(f"A quote does not say {', '.join(sorted(unknown))}.")
    with write_tx():
        quote = draft_of(quote)
        today = Shop.the().day_of(at)
        before = {name: getattr(quote, name) for name in said}
        _check_days(said, today)
        for name, value in said.items():
            setattr(quote, name, _monday(value) if name == "expected_week" and value else value)
        anew = firm is not None and firm != quote.firm
        quote.firm = quote.firm if firm is None else firm
        if tariff is not None and tariff.pk != quote.tariff_id:
            _go_by(quote, tariff, today)
            anew = True
        if anew:
            _all_anew(quote)
        _add_up(quote, deposit=said.get("deposit"))
        quote.full_clean(exclude=BY_NOBODY)
        quote.save()
        changed = [name for name in said if before[name] != getattr(quote, name)]
        journal.note(
            "described quote", quote.commission.code, by=by, at=at,
            before={name: before[name] for name in changed},
            after={"version": quote.version, "firm": quote.firm, **{name: getattr(quote, name) for name in changed}},
        )  # fmt: skip
    return quote


def _check_days(said: dict[str, Any], today: date) -> None:
    valid, week = said.get("valid_until"), said.get("expected_week")
    if valid is not None and valid <= today:
        raise DeedRefused("A quote stands at least until tomorrow.", field="valid_until")
    if week is not None and week < _monday(today):
        raise DeedRefused("The expected week is over already.", field="expected_week")


def _all_anew(quote: Quote) -> None:
    learned = bench()
    for line in quote.lines.select_related("item__commission", "item__material", "plan"):
        if not is_finished(line.item):
            _write_line(quote, line.item, ask_of(line), learned)


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _add_up(quote: Quote, deposit: Decimal | None = None) -> None:
    """Sum the lines, tax in. A deposit nobody typed stays the tariff's share of the price."""
    terms, lines = terms_of(quote), list(quote.lines.all())
    usual = usual_deposit(quote)
    follows = deposit is None and quote.deposit == usual
    for name in ("price_low", "price", "price_high"):
        setattr(quote, name, sum((terms.gross(getattr(line, name)) for line in lines), ZERO))
    if follows:
        quote.deposit = usual_deposit(quote)
    if not 0 <= quote.deposit <= quote.price:
        raise DeedRefused(
            f"The deposit of {quote.deposit:.2f} is more than the price of {quote.price:.2f} {quote.currency}.",
            field="deposit",
        )
    quote.save()


def usual_deposit(quote: Quote) -> Decimal:
    """The tariff's share of the middle price; none once work has begun, for a deposit comes before it."""
    if quote.commission.go_ahead_at is not None:
        return ZERO
    percent = quote.tariff.deposit_percent if quote.tariff is not None else ZERO
    return round_money(quote.price * percent / 100, quote.currency)
