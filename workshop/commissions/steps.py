"""What the cutter owes or waits for next in a commission: one sentence, and the page where it is done."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.urls import NoReverseMatch, reverse

from workshop.common import say
from workshop.stones.models import Wait

from .looks import Look
from .models import QuoteState, State


@dataclass(frozen=True)
class Step:
    """The next thing: in words, the word on its button, and the page it leads to."""

    words: str
    button: str = ""
    page: str = ""
    args: tuple[Any, ...] = ()
    waits: bool = False  # for the client
    query: str = ""

    @property
    def address(self) -> str:
        """Where it is done, or nothing."""
        try:
            return reverse(self.page, args=self.args) + self.query if self.page else ""
        except NoReverseMatch:
            return ""


def next_step(look: Look) -> Step:
    """The one thing to be done next."""
    ways: dict[str, Callable[[Look], Iterator[Step]]] = {
        State.ENQUIRY: _enquiry,
        State.QUOTED: _quoted,
        State.ACCEPTED: _accepted,
        State.IN_WORK: _in_work,
    }
    steps = ways.get(look.commission.state)
    if steps is None:
        return Step(f"Closed: {look.commission.state_word}.")
    return next(steps(look))


def _enquiry(look: Look) -> Iterator[Step]:
    yield from _draft(look)
    yield from _declined(look)
    for step in _goods(look):
        yield replace(step, words=f"{step.words.removesuffix('.')}, or quote from what they told you.")
    yield _at(look, "Write the quote.", "Write the quote", "quote_draft")


def _quoted(look: Look) -> Iterator[Step]:
    yield from _draft(look)
    yield from _answer(look)
    yield _at(look, "No version is with the client: write a new one.", "New version", "quote_draft")


def _accepted(look: Look) -> Iterator[Step]:
    yield from _changed(look)
    yield from _over(look)
    yield from _left_out(look)
    yield from _goods(look)
    yield _at(look, "Give the go-ahead once what was agreed has come.", "Give the go-ahead", "go_ahead")


def _in_work(look: Look) -> Iterator[Step]:
    yield from _under_floor(look)
    yield from _asked(look)
    yield from _changed(look)
    yield from _work(look)
    yield from _over(look)
    yield from _left_out(look)
    yield from _goods(look)
    yield from _stones(look)
    yield from _unsold(look)
    if all(piece.is_ready for piece in look.open_pieces):
        yield _at(look, "All of it is finished: hand it over.", "Hand it over", "deliver")
    yield from _bench(look)
    yield _at(look, "Its stones wait for the client.", "They were heard from", "off_hold", waits=True)


def _at(look: Look, words: str, button: str, page: str, *more: Any, waits: bool = False) -> Step:
    return Step(words, button, f"commissions:{page}" if page else "", (look.commission.code, *more), waits)


def _draft(look: Look) -> Iterator[Step]:
    draft = look.quote_in(QuoteState.DRAFT)
    if draft is not None:
        yield _at(
            look, f"Finish version {draft.version} and send it.", "To the draft", "quote", draft.version
        )


def _declined(look: Look) -> Iterator[Step]:
    """The newest version was declined; why stands with it, for whoever may read of money."""
    last = next(iter(look.commission.quotes.all()), None)
    if last is not None and last.state == QuoteState.DECLINED:
        words = f"Version {last.version} was declined: look why, then write a new one or close the enquiry."
        yield _at(look, words, "New version", "quote_draft")


def _left_out(look: Look) -> Iterator[Step]:
    """Pieces that the accepted version does not name: nobody agreed to work on them."""
    if look.quote_in(QuoteState.ACCEPTED) is None:
        return
    left_out = [piece.item.number for piece in look.open_pieces if not piece.agreed]
    if left_out:
        words = f"No accepted version names {_pieces(left_out)}: quote it, or say that it is not to be done."
        yield _at(look, words, "New version", "quote_draft")


def _answer(look: Look) -> Iterator[Step]:
    sent = look.sent
    if sent is None:
        return
    if not sent.is_open_on(look.today):
        yield _at(
            look, f"Version {sent.version} ran out on {say.moment(sent.valid_until)}: ask, or write a new one.",
            "New version", "quote_draft",
        )  # fmt: skip
    yield _at(
        look, f"Waiting for an answer to version {sent.version}, which stands until {say.moment(sent.valid_until)}.",
        "They answered", "quote_answer", sent.version, waits=True,
    )  # fmt: skip


def _changed(look: Look) -> Iterator[Step]:
    """A later version of an accepted quote: written, or with the client."""
    yield from _draft(look)
    yield from _answer(look)


def _goods(look: Look) -> Iterator[Step]:
    lacking = [piece.item.number for piece in look.open_pieces if piece.lacks_goods]
    if lacking:
        yield _at(look, f"Take in the client's goods for {_pieces(lacking)}.", "Take it in", "take_in")


def _under_floor(look: Look) -> Iterator[Step]:
    for alarm in look.alarms:
        number = alarm.item.number
        yield _at(look, f"Stop and ask about piece {number}. {alarm.words}", "Stop and ask", "ask", number)


def _asked(look: Look) -> Iterator[Step]:
    for ask in look.asks:
        words = f"Waiting for an answer about piece {ask.item.number}: {ask.get_why_display()}."
        yield Step(words, "They answered", "commissions:ask_answer", (ask.pk,), waits=True)


def _stones(look: Look) -> Iterator[Step]:
    for piece in look.open_pieces:
        if piece.lacks_stone:
            number = piece.item.number
            yield _at(look, f"Choose the stone for piece {number}.", "Choose the stone", "link", number)


def _work(look: Look) -> Iterator[Step]:
    """What is finished is charged by the quote before it goes out of the house."""
    if look.quote_in(QuoteState.ACCEPTED) is None:
        return
    for piece in look.pieces:
        if piece.work_is_due:
            number = piece.item.number
            words = f"Charge the work on piece {number}, as the quote says."
            yield _at(look, words, "Charge it", "charge_work", number)


def _over(look: Look) -> Iterator[Step]:
    if look.open_pieces:
        return
    if look.commission.balance > 0:
        yield _at(look, "Every piece has ended, and something is owed still.", "To the account", "account")
    yield _at(look, "Every piece has ended: settle the account and close it.", "Close it", "close_account")


def _unsold(look: Look) -> Iterator[Step]:
    """A finished stone of the shop's own is sold to the client before it goes to them."""
    for piece in look.open_pieces:
        for gem in piece.gems:
            if piece.is_ready and gem.is_own and gem.is_here:
                words = f"Sell {gem.code} to them, so that its price stands in the account."
                yield Step(
                    words, "Sell it", "sales:sell", (gem.code,), query=f"?commission={look.commission.code}"
                )


def _bench(look: Look) -> Iterator[Step]:
    for piece in look.open_pieces:
        for stone in piece.at_work:
            if stone.waiting_for == Wait.CLIENT:
                continue
            words = f"Go on with {stone.code}: {stone.state_word}."
            yield Step(words, f"To {stone.code}", "stones:stone", (stone.code,))


def _pieces(numbers: list[int]) -> str:
    if len(numbers) == 1:
        return f"piece {numbers[0]}"
    return f"pieces {', '.join(map(str, numbers[:-1]))} and {numbers[-1]}"
