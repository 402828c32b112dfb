"""Stop and ask: the work stops, the client is asked, the answer is kept with its date, and work goes on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from workshop.common import journal, say
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Photo
from workshop.common.tx import write_tx
from workshop.materials.models import Question
from workshop.stones import actions as stones
from workshop.stones.models import Stone, Wait

from .. import progress
from ..models import AskWhy, Commission, CommissionItem, Quote, State, StopAsk
from .account import check_money
from .pieces import add_commission_photo, share_photo
from .standing import open_item

#: A deed of nobody's (an import, the demo) is allowed; a blank author is no error of the person at the form.
BY_NOBODY = ("asked_by",)
#: More answers than this are a talk, not a choice.
MOST_OPTIONS = 6
CALL_ME = "Please call me first"
#: What is offered where nothing else is said.
OPTIONS: dict[str, tuple[str, ...]] = {
    AskWhy.FLOOR: ("Go on; smaller is fine", "Stop and keep it as it is now", CALL_ME),
    AskWhy.INCLUSION: (
        "Cut it out; smaller is fine",
        "Leave it in",
        "Stop and keep it as it is now",
        CALL_ME,
    ),
    AskWhy.CHIP: ("Go on, smaller", "Stop and keep it as it is now", CALL_ME),
    AskWhy.BROKE: ("Cut what is left", "Send back all that is left", CALL_ME),
    AskWhy.DESIGN: ("Cut the new design", "Keep to the old one", CALL_ME),
    AskWhy.SPECIES: ("Go on all the same", "Stop and send it back", CALL_ME),
    AskWhy.TREATMENT: ("Go on, I know the risk", "Stop and send it back", CALL_ME),
    AskWhy.COLOUR: ("Go on all the same", "Stop and keep it as it is now", CALL_ME),
    AskWhy.SIZE: ("Go on; another size is fine", "Stop and keep it as it is now", CALL_ME),
    AskWhy.SECOND: ("Yes, cut the second one too", "No, send me the off-cut", CALL_ME),
    AskWhy.COST: ("Go on at the new price", "Stop here", CALL_ME),
    AskWhy.OTHER: ("Go on", "Stop", CALL_ME),
}
#: Before a quote was accepted there is no agreed work to stop: the quote itself asks.
ASKABLE = (State.ACCEPTED, State.IN_WORK)


def ask_client(
    item: CommissionItem,
    *,
    why: str,
    words: str,
    options: Sequence[str] = (),
    photo: Photo | None = None,
    weight_low_ct: Decimal | None = None,
    weight_high_ct: Decimal | None = None,
    length_mm: Decimal | None = None,
    width_mm: Decimal | None = None,
    new_price: Decimal | None = None,
    by_floor: bool = False,
    by: Hand | None,
    at: datetime,
) -> StopAsk:
    """Stop the work on a piece and ask the client. Its stones wait until there is an answer."""
    with write_tx():
        item = open_item(item)
        commission = item.commission
        _check_askable(item)
        if new_price is not None and check_money(new_price, commission.currency, field="new_price") < 0:
            raise DeedRefused("A price is zero or more.", field="new_price")
        _check_new_figures(weight_low_ct, weight_high_ct, length_mm, width_mm)
        ask = StopAsk(
            item=item, why=why, words=words.strip(), photo=photo, weight_low_ct=weight_low_ct,
            weight_high_ct=weight_high_ct, length_mm=length_mm, width_mm=width_mm, new_price=new_price,
            options=_offered(why, options), by_floor=by_floor, asked_at=at, asked_by=by,
        )  # fmt: skip
        ask.full_clean(exclude=BY_NOBODY)
        ask.save()
        _show(ask, by=by, at=at)
        _let_wait(ask, by=by, at=at)
        journal.note(
            "asked client", commission.code, by=by, at=at,
            after={"piece": item.number, "why": why, "words": ask.words, "by_floor": by_floor},
        )  # fmt: skip
    return ask


def _check_askable(item: CommissionItem) -> None:
    if item.commission.state not in ASKABLE:
        raise DeedRefused(
            f"{item.commission.code} is {item.commission.state_word}: nothing is agreed yet that could be stopped. "
            "Put it in the quote."
        )
    if item.questions.standing().exists():  # type: ignore[attr-defined]
        raise DeedRefused(
            f"The client has not answered the last question about piece {item.number} yet. "
            "Write down the answer, or withdraw the question."
        )
    if any(gem.is_here for gem in progress.gems_of(item)) and not _at_work(item):
        raise DeedRefused(f"Piece {item.number} is finished; there is no work left to stop.")


def _check_new_figures(
    low: Decimal | None, high: Decimal | None, length: Decimal | None, width: Decimal | None
) -> None:
    if low is not None and high is not None and low > high:
        raise DeedRefused("The range stands upside down.", field="weight_low")
    figures = {"weight_low": low, "weight_high": high, "length_mm": length, "width_mm": width}
    for name, figure in figures.items():
        if figure is not None and figure <= 0:
            raise DeedRefused("Give a figure above zero.", field=name)


def _offered(why: str, options: Sequence[str]) -> list[str]:
    offered = list(dict.fromkeys(option.strip() for option in options if option.strip()))
    if not offered:
        return list(OPTIONS.get(why, OPTIONS[AskWhy.OTHER]))
    if len(offered) < 2:
        raise DeedRefused("Offer at least two answers; one is no question.", field="options")
    if len(offered) > MOST_OPTIONS:
        raise DeedRefused(f"Offer at most {MOST_OPTIONS} answers.", field="options")
    if any(len(option) > 200 for option in offered):
        raise DeedRefused("An answer has at most 200 letters.", field="options")
    return offered


def _at_work(item: CommissionItem) -> list[Stone]:
    return [stone for stone in progress.stones_of(item) if stone.is_open]


def _show(ask: StopAsk, *, by: Hand | None, at: datetime) -> None:
    """The photograph of a question stands with the stone, and the client may see it."""
    if ask.photo is None:
        return
    caption = ask.get_why_display()
    for stone in _at_work(ask.item):
        stones.add_stone_photo(stone, ask.photo, caption=caption, by=by, at=at)
    add_commission_photo(
        ask.item.commission, ask.photo, item=ask.item, caption=caption[:1].upper() + caption[1:], by=by, at=at
    )
    share_photo(ask.item.commission, ask.photo, by=by, at=at)


def _let_wait(ask: StopAsk, *, by: Hand | None, at: datetime) -> None:
    for stone in _at_work(ask.item):
        note = f"{ask.item}: {ask.get_why_display()}"
        if stone.waiting_for and stone.waiting_for != Wait.CLIENT:
            note += f"; it was waiting for {stone.get_waiting_for_display()}"
        stones.wait_for(stone, Wait.CLIENT, note=note[:200], by=by, at=at)


def _go_on(ask: StopAsk, *, by: Hand | None, at: datetime) -> None:
    for stone in _at_work(ask.item):
        if stone.waiting_for == Wait.CLIENT:
            stones.resume(stone, by=by, at=at)


def _standing(ask: StopAsk) -> StopAsk:
    fresh = StopAsk.objects.select_related("item__commission").get(pk=ask.pk)
    if fresh.answered_at is not None:
        raise DeedRefused(
            f"It was answered on {say.moment(fresh.answered_at, 'date')} already: “{fresh.answer}”."
        )
    if fresh.withdrawn_at is not None:
        raise DeedRefused("The question was withdrawn; there is nothing to answer any more.")
    return fresh


def answer_ask(
    ask: StopAsk,
    *,
    answer: str,
    words: str = "",
    name: str,
    answered_from: str,
    by: Hand | None,
    at: datetime,
) -> StopAsk:
    """Keep the client's answer, whoever wrote it down, and let the stones go on."""
    with write_tx():
        ask = _standing(ask)
        if answer not in ask.options:
            raise DeedRefused("Pick one of the answers that were offered.", field="answer")
        if not name.strip():
            raise DeedRefused("Say who answered.", field="name")
        if at < ask.asked_at:
            raise DeedRefused("It cannot be answered before it was asked.", field="at")
        ask.answer, ask.answer_words, ask.answered_name = answer, words.strip(), name.strip()
        ask.answered_at, ask.answered_from = at, answered_from
        ask.full_clean(exclude=BY_NOBODY)
        ask.save(update_fields=["answer", "answer_words", "answered_name", "answered_at", "answered_from"])
        heard(ask.item.commission, at)
        _go_on(ask, by=by, at=at)
        journal.note(
            "client answered", ask.item.commission.code, by=by, at=at, reason=ask.answer_words,
            after={"piece": ask.item.number, "answer": answer, "name": ask.answered_name, "from": answered_from},
        )  # fmt: skip
    return ask


def heard(commission: Commission, at: datetime) -> None:
    """The client was heard from: days of silence are counted from here."""
    if commission.heard_at is None or commission.heard_at < at:
        commission.heard_at = at
        commission.save(update_fields=["heard_at"])


def withdraw_ask(ask: StopAsk, *, reason: str, by: Hand | None, at: datetime) -> StopAsk:
    """Take a question back that needs no answer any more; the stones go on."""
    if not reason.strip():
        raise DeedRefused("Say why the question is withdrawn.", field="reason")
    with write_tx():
        ask = _standing(ask)
        ask.withdrawn_at, ask.withdrawn_why = at, reason.strip()
        ask.full_clean(exclude=BY_NOBODY)
        ask.save(update_fields=["withdrawn_at", "withdrawn_why"])
        _go_on(ask, by=by, at=at)
        journal.note(
            "withdrew question", ask.item.commission.code, by=by, at=at, after={"piece": ask.item.number},
            reason=ask.withdrawn_why,
        )  # fmt: skip
    return ask


def withdraw_asks_of(items: Sequence[CommissionItem], *, reason: str, by: Hand | None, at: datetime) -> None:
    """Take back every open question about pieces that come to an end; call inside ``write_tx``."""
    for ask in StopAsk.objects.standing().filter(item__in=[item.pk for item in items]):
        withdraw_ask(ask, reason=reason[:300], by=by, at=at)


def lead_to_version(ask: StopAsk, quote: Quote, *, by: Hand | None, at: datetime) -> StopAsk:
    """Say which version of the quote holds the new figures a question led to."""
    with write_tx():
        ask = StopAsk.objects.select_related("item__commission").get(pk=ask.pk)
        if ask.withdrawn_at is not None:
            raise DeedRefused("The question was withdrawn; it leads to nothing.")
        if quote.commission_id != ask.item.commission_id:
            raise DeedRefused("That version is of another commission.")
        ask.led_to = quote
        ask.save(update_fields=["led_to"])
        journal.note(
            "question led to version", ask.item.commission.code, by=by, at=at,
            after={"piece": ask.item.number, "version": quote.version},
        )  # fmt: skip
    return ask


#: Which question of a statement stops the work for which reason.
ASK_ABOUT = {Question.SPECIES: AskWhy.SPECIES, Question.TREATMENT: AskWhy.TREATMENT}


def tell_differs(
    item: CommissionItem,
    stone: Stone,
    *,
    said: Mapping[str, Any],
    words: str,
    options: Sequence[str] = (),
    photo: Photo | None = None,
    by: Hand | None,
    at: datetime,
) -> StopAsk:
    """Species or treatment turn out otherwise: the statement is kept, the work stops, and the client is asked."""
    if said.get("question") not in ASK_ABOUT:
        raise DeedRefused("Say whether species or treatment is different.", field="question")
    with write_tx():
        item = open_item(item)
        if stone.pk not in {one.pk for one in progress.stones_of(item)}:
            raise DeedRefused(f"{stone.code} does not stand for piece {item.number}.", field="stone")
        stones.state_about_stone(stone, said, by=by, at=at)
        why = ASK_ABOUT[Question(said["question"])]
        return ask_client(item, why=why, words=words, options=options, photo=photo, by=by, at=at)
