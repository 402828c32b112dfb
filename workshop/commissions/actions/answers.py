"""Sending a quote, taking it back, and the client's answer. Whoever comes second hears what the first one did."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.say import moment, money
from workshop.common.tx import write_tx
from workshop.papers import actions as papers
from workshop.papers.models import Paper, PaperKind

from ..models import Commission, CommissionItem, Quote, QuoteLine, QuoteState, State
from ..papers_quote import content_of_quote
from ..starts import is_finished
from ..words_checked import quote_findings
from .standing import standing_commission


def send_quote(
    quote: Quote,
    *,
    by: Hand | None,
    at: datetime,
    leaving_out: Sequence[CommissionItem] = (),
    base_url: str = "",
    language: str = "",
) -> Quote:
    """Freeze a draft and issue its paper, in the shop's language of papers unless told another. The version that was
    open until now is superseded.

    ``leaving_out``: open pieces that this version says nothing of; each has to be named.
    """
    with write_tx():
        quote = _fresh(quote)
        commission = quote.commission = standing_commission(quote.commission)
        if not quote.is_draft:
            raise DeedRefused(f"Version {quote.version} is {quote.get_state_display()} already.")
        lines = list(
            quote.lines.select_related("item__commission", "item__material", "plan").order_by("item__number")
        )
        _check_sendable(quote, commission, lines, leaving_out, Shop.the().day_of(at))
        _check_words(quote, lines)
        open_one = commission.quotes.filter(state=QuoteState.SENT).first()
        if open_one is not None:
            _set_state(open_one, QuoteState.SUPERSEDED)
        quote.state, quote.sent_at = QuoteState.SENT, at
        content = content_of_quote(quote, lines, leaving_out, language)
        quote.paper = _issue(quote, open_one, content, by=by, at=at, base_url=base_url)
        quote.save()
        if commission.state == State.ENQUIRY:
            commission.state = State.QUOTED
            commission.save(update_fields=["state"])
        journal.note(
            "sent quote", commission.code, by=by, at=at, reason=quote.why,
            before={"superseded": open_one.version if open_one else None},
            after={
                "version": quote.version, "paper": quote.paper.number, "price": quote.price,
                "left_out": [item.number for item in leaving_out],
            },
        )  # fmt: skip
    return quote


def _check_words(quote: Quote, lines: Sequence[QuoteLine]) -> None:
    if found := quote_findings(quote, lines):
        said = " ".join(f"“{one.words}”: {one.advice} ({one.rule})" for one in found)
        raise DeedRefused(f"It speaks of a stone in words that may not be used. {said}")


def _issue(
    quote: Quote,
    before: Quote | None,
    content: dict[str, Any],
    *,
    by: Hand | None,
    at: datetime,
    base_url: str,
) -> Paper:
    """The printed copy; it takes the place of that of the version it supersedes."""
    old = before.paper if before is not None else None
    reason = (quote.why or f"Version {quote.version} took its place.") if old is not None else ""
    return papers.issue(
        PaperKind.QUOTE,
        quote.commission.code,
        content,
        by=by,
        at=at,
        base_url=base_url,
        supersedes=old,
        reason=reason,
    )


def _check_sendable(
    quote: Quote,
    commission: Commission,
    lines: Sequence[QuoteLine],
    leaving_out: Sequence[CommissionItem],
    today: date,
) -> None:
    _check_pieces(quote, commission, lines, {item.pk for item in leaving_out})
    tariff = quote.tariff
    if tariff is None:
        raise DeedRefused("The tariff is gone; choose another one.", field="tariff")
    if not tariff.is_valid_on(today):
        raise DeedRefused(
            f"The tariff “{tariff}” does not hold any more; choose another one.", field="tariff"
        )
    if quote.currency != commission.currency or tariff.currency != commission.currency:
        raise DeedRefused(
            f"The commission is in {commission.currency}; so must its quote be.", field="tariff"
        )
    if quote.valid_until is None or quote.valid_until <= today:
        raise DeedRefused("Say until when it stands, at least until tomorrow.", field="valid_until")
    if quote.expected_week is not None and (today - quote.expected_week).days > 6:
        raise DeedRefused("The expected week is over already.", field="expected_week")
    if not quote.price:
        raise DeedRefused("It comes to nothing: give a price, or do the work without a quote.")
    if not 0 <= quote.deposit <= quote.price:
        raise DeedRefused(
            f"The deposit of {money(quote.deposit, quote.currency)} is more than the price of "
            f"{money(quote.price, quote.currency)}.",
            field="deposit",
        )


def _check_pieces(
    quote: Quote, commission: Commission, lines: Sequence[QuoteLine], left_out: set[int]
) -> None:
    if not lines:
        raise DeedRefused("There is no piece in this quote yet.")
    kept = {line.item_id: line for line in _lines_accepted(commission)}
    for line in lines:
        item = line.item
        if not item.is_open:
            raise DeedRefused(f"Piece {item.number} is {item.get_outcome_display()}; take it out.")
        if is_finished(item) and not _same(line, kept.get(item.pk)):
            raise DeedRefused(f"Piece {item.number} is finished already; take it out.")
        _check_line(line)
    named = {line.item_id for line in lines} | left_out
    missing = [item for item in commission.items.filter(outcome="open") if item.pk not in named]
    if missing:
        numbers = ", ".join(str(item.number) for item in missing)
        raise DeedRefused(
            f"Piece {numbers} has no line yet: give it one, or leave it out by name.", field="leave"
        )


def _lines_accepted(commission: Commission) -> list[QuoteLine]:
    return list(QuoteLine.objects.filter(quote__commission=commission, quote__state=QuoteState.ACCEPTED))


def _same(line: QuoteLine, accepted: QuoteLine | None) -> bool:
    """Whether a finished piece keeps what the client accepted for it."""
    if accepted is None:
        return False
    names = ("price_low", "price", "price_high", "weight_low_ct", "weight_high_ct", "floor_ct")
    return all(getattr(line, name) == getattr(accepted, name) for name in names)


def _check_line(line: QuoteLine) -> None:
    number = line.item.number
    if not 0 <= line.price_low <= line.price <= line.price_high:
        raise DeedRefused(f"The price of piece {number} lies outside its own range.")
    if line.weight_ct is not None and not (
        line.weight_low_ct
        and line.weight_high_ct
        and line.weight_low_ct <= line.weight_ct <= line.weight_high_ct
    ):
        raise DeedRefused(f"The weights of piece {number} are upside down.")
    most = line.weight_high_ct
    if line.floor_ct is not None and most is not None and line.floor_ct > most:
        raise DeedRefused(f"The floor of piece {number} lies above its whole range.")
    wished = line.item.most_ct
    if line.floor_ct is not None and wished is not None and line.floor_ct > wished:
        raise DeedRefused(
            f"The floor of piece {number} lies above the {wished} ct the client wishes at most."
        )


def withdraw_quote(quote: Quote, *, reason: str, by: Hand | None, at: datetime) -> Quote:
    """Take back a sent version that nobody has answered. Its copy stays as it was, marked void."""
    if not reason.strip():
        raise DeedRefused("Say why it is withdrawn.", field="reason")
    with write_tx():
        quote = _fresh(quote)
        if quote.is_draft:
            raise DeedRefused("It was never sent; drop the draft.")
        if quote.state != QuoteState.SENT:
            raise DeedRefused(_why_not(quote, "withdrawn"))
        _set_state(quote, QuoteState.WITHDRAWN)
        _void(quote, f"Withdrawn: {reason.strip()}", by=by, at=at)
        _back_to_enquiry(quote.commission)
        journal.note(
            "withdrew quote", quote.commission.code, by=by, at=at, reason=reason.strip(),
            after={"version": quote.version},
        )  # fmt: skip
    return quote


def accept_quote(
    quote: Quote,
    *,
    name: str,
    words: str = "",
    wording: str,
    answered_from: str,
    by: Hand | None,
    at: datetime,
) -> Quote:
    """The client agrees to a sent version: who, when and to which words is kept. An earlier agreement ends there.

    The floors of the pieces and the promised week follow from it.
    """
    if not wording.strip():
        raise DeedRefused("The words the client agrees to are missing.")
    with write_tx():
        quote = _answerable(quote, at, "accepted")
        commission = quote.commission
        for line in quote.lines.select_related("item").order_by("item__number"):
            if not line.item.is_open:
                raise DeedRefused(
                    f"Piece {line.item.number} is {line.item.get_outcome_display()} by now; "
                    "this version cannot be accepted any more. Ask for a new one."
                )
        earlier = commission.quotes.filter(state=QuoteState.ACCEPTED).first()
        if earlier is not None:
            _set_state(earlier, QuoteState.SUPERSEDED)
            _void(earlier, f"Version {quote.version} was agreed in its place.", by=by, at=at)
        _answer(quote, QuoteState.ACCEPTED, name=name, words=words, answered_from=answered_from, at=at)
        quote.agreed_wording = wording
        quote.save()
        _promise(commission, quote, at)
        _set_floors(quote)
        journal.note(
            "accepted quote", commission.code, by=by, at=at,
            before={"version": earlier.version if earlier else None},
            after={"version": quote.version, "name": quote.answered_name, "from": answered_from},
        )  # fmt: skip
    return quote


def _promise(commission: Commission, quote: Quote, at: datetime) -> None:
    if commission.state in (State.ENQUIRY, State.QUOTED):
        commission.state = State.ACCEPTED
    commission.accepted_at = commission.accepted_at or at
    commission.heard_at = at
    if quote.expected_week is not None:
        commission.due_on = quote.expected_week
    if quote.queue_place is not None:
        commission.queue_place = quote.queue_place
    commission.save(update_fields=["state", "accepted_at", "heard_at", "due_on", "queue_place"])


def _set_floors(quote: Quote) -> None:
    for line in quote.lines.select_related("item"):
        if line.floor_ct is not None and line.item.floor_ct != line.floor_ct:
            line.item.floor_ct = line.floor_ct
            line.item.save(update_fields=["floor_ct"])


def decline_quote(
    quote: Quote, *, name: str, words: str = "", answered_from: str, by: Hand | None, at: datetime
) -> Quote:
    """The client says no to a sent version. What was accepted before still holds; an enquiry stays open.

    Another version may follow; an enquiry that comes to nothing is closed by its own deed.
    """
    with write_tx():
        quote = _answerable(quote, at, "declined")
        _answer(quote, QuoteState.DECLINED, name=name, words=words, answered_from=answered_from, at=at)
        quote.save()
        _void(quote, "The client declined it.", by=by, at=at)
        commission = quote.commission
        commission.heard_at = at
        commission.save(update_fields=["heard_at"])
        _back_to_enquiry(commission)
        journal.note(
            "declined quote", commission.code, by=by, at=at, reason=quote.answered_words,
            after={"version": quote.version, "name": quote.answered_name, "from": answered_from},
        )  # fmt: skip
    return quote


def _answer(
    quote: Quote, state: QuoteState, *, name: str, words: str, answered_from: str, at: datetime
) -> None:
    if not name.strip():
        raise DeedRefused("Type the name of who answers.", field="name")
    quote.state, quote.answered_at = state, at
    quote.answered_name, quote.answered_words = name.strip()[:160], words.strip()[:2000]
    quote.answered_from = answered_from[:60]


def _answerable(quote: Quote, at: datetime, verb: str) -> Quote:
    """The version as it stands now, if the client may still answer it."""
    fresh = _fresh(quote)
    commission = fresh.commission
    if commission.is_closed:
        raise DeedRefused(
            f"{commission.code} is {commission.state_word}; no quote of it can be {verb} any more."
        )
    if fresh.state != QuoteState.SENT:
        raise DeedRefused(_why_not(fresh, verb))
    day = Shop.the().day_of(at)
    if verb == "accepted" and not fresh.is_open_on(day):
        raise DeedRefused(
            f"Version {fresh.version} stood until {moment(fresh.valid_until)}; it has expired. Ask for a new one."
        )
    return fresh


def _why_not(quote: Quote, verb: str) -> str:
    """Why a version that is not open cannot be answered or withdrawn."""
    version = f"Version {quote.version}"
    answered = f"by {quote.answered_name} on {moment(quote.answered_at, 'date')}"
    return {
        QuoteState.DRAFT: f"{version} is a draft and was not sent yet; it cannot be {verb}.",
        QuoteState.ACCEPTED: f"{version} was accepted already, {answered}.",
        QuoteState.DECLINED: f"{version} was declined already, {answered}.",
        QuoteState.SUPERSEDED: f"A newer version took the place of version {quote.version}; it cannot be {verb}.",
        QuoteState.WITHDRAWN: f"{version} was withdrawn; it cannot be {verb}.",
    }[QuoteState(quote.state)]


def _fresh(quote: Quote) -> Quote:
    found = Quote.objects.select_related("commission__client", "tariff", "paper").filter(pk=quote.pk).first()
    if found is None:
        raise DeedRefused("That draft was dropped.")
    return found


def _set_state(quote: Quote, state: QuoteState) -> None:
    quote.state = state
    quote.save(update_fields=["state"])


def _void(quote: Quote, reason: str, *, by: Hand | None, at: datetime) -> None:
    if quote.paper is not None and quote.paper.stands:
        quote.paper = papers.void(quote.paper, reason=reason[:300], by=by, at=at)


def _back_to_enquiry(commission: Commission) -> None:
    """Nothing is offered any more: the commission waits for a new version, or to be closed."""
    if commission.state == State.QUOTED:
        commission.state = State.ENQUIRY
        commission.save(update_fields=["state"])
