"""A commission is cancelled, at whatever stage: what was done, what is due for it, the deposit, and the goods."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand
from workshop.common.say import money
from workshop.common.tx import write_tx
from workshop.handbook.units import Weight

from .. import progress
from ..models import ChargeKind, Commission, CommissionItem, PaidBy, QuoteState, State
from .account import charge, check_money, refund
from .endings import check_day, drop_item
from .goods import Goods, give_back, goods_of, goods_of_none
from .standing import standing_commission

ZERO = Decimal(0)


@dataclass(frozen=True)
class Reached:
    """How far a piece had come: looked at before a fee is named."""

    item: CommissionItem
    stage: str
    seconds: int
    goods: Goods


def reached(commission: Commission) -> list[Reached]:
    """How far each open piece has come, the hours in it, and what of the client's lies here for it."""
    items = list(commission.items.all())
    lines = progress.stones_by_item(items)
    return [
        Reached(
            item=item,
            stage=", ".join(
                f"{stone.code} {progress.stage_words(stone)}"
                for stone in lines[item.pk]
                if stone.ending != "split"
            ),
            seconds=sum(stone.bench_seconds + stone.off_bench_seconds for stone in lines[item.pk]),
            goods=goods_of(item),
        )
        for item in items
        if item.is_open
    ]


def cancel_commission(
    commission: Commission,
    *,
    reason: str,
    fee: Decimal | None = None,
    tax_percent: Decimal = ZERO,
    tax_included: bool = True,
    refunded: Decimal | None = None,
    way: str = PaidBy.TRANSFER,
    given_back: Mapping[int, Weight | None] | None = None,
    on: date,
    by: Hand | None,
    at: datetime,
    sure: bool = False,
) -> Commission:
    """Cancel what still stands. ``given_back``: what the scale says of each piece's goods, by its number; 0 for
    goods of no piece.

    What came in is either charged (``fee``) or goes back (``refunded``): no deposit is left without a name.
    """
    if not reason.strip():
        raise DeedRefused("Say why it is cancelled.", field="reason")
    with write_tx():
        commission = standing_commission(commission)
        check_day(commission, on, at)
        items = [item for item in commission.items.all() if item.is_open]
        told = [f"piece {one.item.number}: {one.stage}" for one in reached(commission) if one.stage]
        _withdraw_open_quote(commission, reason, by=by, at=at)
        for item in items:
            weighed = (given_back or {}).get(item.number)
            drop_item(
                item, reason=reason, given_back=weighed, on=on, by=by, at=at, back_field=f"back_{item.number}"
            )
        _give_back_unnamed(commission, (given_back or {}).get(0), reason=reason, on=on, by=by, at=at)
        _settle(
            commission, fee, tax_percent, tax_included, refunded, way=way, reason=reason, on=on, by=by, at=at,
            sure=sure,
        )  # fmt: skip
        commission.refresh_from_db()
        commission.state, commission.closed_on, commission.closed_why = State.CANCELLED, on, reason.strip()
        commission.queue_place = None
        commission.full_clean(exclude=["opened_by"])
        commission.save(update_fields=["state", "closed_on", "closed_why", "queue_place"])
        journal.note(
            "cancelled", commission.code, by=by, at=at, reason=reason,
            after={"reached": told, "fee": fee or ZERO, "refunded": refunded or ZERO, "balance": commission.balance},
        )  # fmt: skip
    return commission


def _withdraw_open_quote(commission: Commission, reason: str, *, by: Hand | None, at: datetime) -> None:
    from .quotes import withdraw_quote

    for quote in commission.quotes.filter(state=QuoteState.SENT):
        withdraw_quote(quote, reason=f"cancelled: {reason}"[:300], by=by, at=at)


def _give_back_unnamed(
    commission: Commission, weighed: Weight | None, *, reason: str, on: date, by: Hand | None, at: datetime
) -> None:
    goods = goods_of_none(commission)
    if goods:
        why = f"given back as it is: {reason}"
        give_back(goods, weighed, reason=why, on=on, by=by, at=at, field="back_0")


def _settle(
    commission: Commission,
    fee: Decimal | None,
    tax_percent: Decimal,
    tax_included: bool,
    refunded: Decimal | None,
    *,
    way: str,
    reason: str,
    on: date,
    by: Hand | None,
    at: datetime,
    sure: bool,
) -> None:
    currency = commission.currency
    for amount, field in ((fee, "fee"), (refunded, "refund")):
        if amount is not None and check_money(amount, currency, field=field) < 0:
            raise DeedRefused("Give a sum of zero or more.", field=field)
    if fee:
        gross, net = (fee, None) if tax_included else (None, fee)
        charge(
            # Why it was cancelled is the cutter's own word: the client reads this row.
            commission, kind=ChargeKind.CANCELLATION, words=ChargeKind.CANCELLATION.label,
            tax_percent=tax_percent, on=on, by=by, at=at, gross=gross, net=net,
        )  # fmt: skip
    if refunded:
        _pay_back(commission, refunded, way=way, note=reason, on=on, by=by, at=at, sure=sure)
    commission.refresh_from_db()
    if commission.balance < 0:
        raise DeedRefused(
            f"{money(-commission.balance, currency)} of what came in is neither charged nor given back: "
            "keep it as the fee, or give it back.",
            field="refund",
        )


def _pay_back(
    commission: Commission, amount: Decimal, *, way: str, note: str, on: date, by: Hand | None, at: datetime,
    sure: bool,
) -> None:  # fmt: skip
    try:
        refund(commission, amount=amount, way=way, note=note[:200], on=on, by=by, at=at, sure=sure)
    except DeedRefused as refusal:
        # The sum stands under another name in the form of a cancelling.
        refusal.field = "refund" if refusal.field == "amount" else refusal.field
        raise
