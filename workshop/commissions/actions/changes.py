"""What happens to a commission after it was accepted: the go-ahead, a design changed, a client who is silent.

The other deeds of this sort stand in modules of their own and are gathered here.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal

from workshop.common import journal, say
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.stones import actions as stones
from workshop.stones.models import Stone, Wait

from .. import progress
from ..models import Commission, CommissionItem, PaidAs, PaidBy, State
from .account import deposit_agreed, pay
from .asks import answer_ask, ask_client, heard, lead_to_version, tell_differs, withdraw_ask
from .cancel import cancel_commission, reached
from .commissions import ItemSpec, change_item
from .endings import drop_item, give_back_rest, return_unworked, tell_broken, tell_found, tell_lost
from .hands import buy_stone, keep_off_cut, replace_stone
from .standing import open_item, standing_commission
from .work_price import charge_work, price_of_work

__all__ = [
    "answer_ask", "ask_client", "buy_stone", "cancel_commission", "change_design", "charge_work", "drop_item",
    "give_back_rest", "give_go_ahead", "keep_off_cut", "lead_to_version", "price_of_work", "put_on_hold", "reached",
    "replace_stone", "return_unworked", "take_off_hold", "tell_broken", "tell_differs", "tell_found", "tell_lost",
    "withdraw_ask",
]  # fmt: skip

ZERO = Decimal(0)


def give_go_ahead(
    commission: Commission,
    *,
    deposit: Decimal | None = None,
    way: str = PaidBy.TRANSFER,
    reason: str = "",
    on: date,
    by: Hand | None,
    at: datetime,
    sure: bool = False,
) -> Commission:
    """Work may begin: the deposit is booked if it came. Without the deposit agreed, only with a reason."""
    with write_tx():
        commission = standing_commission(commission)
        _check_accepted(commission)
        if deposit:
            pay(commission, amount=deposit, paid_as=PaidAs.DEPOSIT, way=way, on=on, by=by, at=at, sure=sure)
            commission.refresh_from_db()
        missing = deposit_agreed(commission) - (commission.paid - commission.refunded)
        if missing > 0 and not reason.strip():
            raise DeedRefused(
                f"{say.money(missing, commission.currency)} of the deposit agreed has not come: book it, or say why "
                "work begins without it.",
                field="reason",
            )
        commission.state, commission.go_ahead_at = State.IN_WORK, at
        commission.save(update_fields=["state", "go_ahead_at"])
        journal.note(
            "go-ahead", commission.code, by=by, at=at, before={"state": State.ACCEPTED.value},
            after={"state": State.IN_WORK.value, "deposit": deposit or ZERO, "missing": max(ZERO, missing)},
            reason=reason,
        )  # fmt: skip
    return commission


def _check_accepted(commission: Commission) -> None:
    if commission.state == State.IN_WORK:
        since = say.moment(commission.go_ahead_at, "date")
        raise DeedRefused(f"{commission.code} has its go-ahead since {since}.")
    if commission.state != State.ACCEPTED:
        raise DeedRefused(
            f"{commission.code} is {commission.state_word}: the client has accepted no quote yet."
        )


def change_design(
    item: CommissionItem,
    *,
    wanted: str,
    shape: str = "",
    length_mm: Decimal | None = None,
    width_mm: Decimal | None = None,
    why: str,
    from_client: bool = False,
    by: Hand | None,
    at: datetime,
) -> CommissionItem:
    """The design changes, perhaps mid-cut: old and new stay in the journal with their days, and the hours are kept."""
    if not why.strip():
        raise DeedRefused("Say why the design changes, and who wants it.", field="why")
    with write_tx():
        item = open_item(item)
        spec = ItemSpec.of(item)
        changed = replace(
            spec, wanted=wanted.strip(), shape=shape or spec.shape,
            length_mm=spec.length_mm if length_mm is None else length_mm,
            width_mm=spec.width_mm if width_mm is None else width_mm,
        )  # fmt: skip
        if changed == spec:
            raise DeedRefused("Nothing of the design changes by that.", field="wanted")
        item = change_item(item, changed, why=why, by=by, at=at)
        for stone in progress.stones_of(item):
            if stone.is_open:
                plan = f"{item}: {changed.wanted}"[:200]
                stones.describe_stone(stone, {"plan": plan, "shape": changed.shape}, by=by, at=at)
        if from_client:
            heard(item.commission, at)
    return item


def put_on_hold(commission: Commission, *, reason: str, by: Hand | None, at: datetime) -> Commission:
    """A client is silent: its stones are laid aside and its place in the queue is free, until there is a word."""
    if not reason.strip():
        raise DeedRefused("Say why it is laid aside, and how long you will keep it.", field="reason")
    with write_tx():
        commission = standing_commission(commission)
        at_work = _at_work(commission)
        if commission.state not in {State.ACCEPTED, State.IN_WORK}:
            raise DeedRefused(f"{commission.code} is {commission.state_word}; nothing of it is in the queue.")
        if commission.queue_place is None and all(stone.waiting_for == Wait.CLIENT for stone in at_work):
            raise DeedRefused(f"Nothing of {commission.code} is left to lay aside.")
        before = {"queue_place": commission.queue_place}
        for stone in at_work:
            if stone.waiting_for != Wait.CLIENT:
                stones.wait_for(stone, Wait.CLIENT, note=f"on hold: {reason}"[:200], by=by, at=at)
        commission.queue_place = None
        commission.save(update_fields=["queue_place"])
        silent = progress.days_silent(commission, _day(at))
        journal.note(
            "on hold", commission.code, by=by, at=at, before=before, reason=reason,
            after={"days_silent": silent, "stones": [stone.code for stone in at_work]},
        )  # fmt: skip
    return commission


def _day(at: datetime) -> date:
    day: date = Shop.the().day_of(at)
    return day


def _at_work(commission: Commission) -> list[Stone]:
    items = [item for item in commission.items.all() if item.is_open]
    lines = progress.stones_by_item(items)
    return [stone for item in items for stone in lines[item.pk] if stone.is_open]


def take_off_hold(commission: Commission, *, word: str, by: Hand | None, at: datetime) -> Commission:
    """The client was heard from: what was laid aside without an open question is taken up again."""
    if not word.strip():
        raise DeedRefused("Say what the client said.", field="word")
    with write_tx():
        commission = standing_commission(commission)
        asked = {item.pk for item in commission.items.all() if item.questions.standing().exists()}  # type: ignore[attr-defined]
        items = [item for item in commission.items.all() if item.is_open and item.pk not in asked]
        lines = progress.stones_by_item(items)
        for stone in (stone for item in items for stone in lines[item.pk] if stone.is_open):
            if stone.waiting_for == Wait.CLIENT:
                stones.resume(stone, by=by, at=at)
        heard(commission, at)
        journal.note("heard from client", commission.code, by=by, at=at, reason=word)
    return commission
