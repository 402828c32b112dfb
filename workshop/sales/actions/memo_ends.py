"""How a memo ends: one sale of what was sold, lost or repaired; prices of a memo are net.

What is owed for a lost stone is a line of the same sale as what was sold, of a kind of its own: one invoice asks for
both, and the stone leaves the books as lost, never as sold. Damages are as a rule no supply and bear no tax; the rate
is the cutter's to say (from memory; local law comes first).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand
from workshop.common.tx import write_tx
from workshop.gems import lending
from workshop.gems.models import FinishedGem

from ..models import STANDING, Channel, LineKind, LineState, Memo, MemoLine, Sale
from .memo_steps import check_day, checked_price, close_if_done, end, fresh, lent_line, lines_of
from .selling import Asked, sell

ZERO = Decimal(0)


@dataclass(frozen=True)
class Sold:
    """A line that was sold, at the price of the memo unless another was agreed."""

    line: MemoLine
    price: Decimal | None = None


@dataclass(frozen=True)
class Lost:
    """A line that will not come back: how, and what is owed for it (the price of the memo unless agreed)."""

    line: MemoLine
    how: str
    owed: Decimal | None = None
    tax_percent: Decimal = ZERO


@dataclass(frozen=True)
class Repair:
    """A line that came back damaged and went back to the bench: what its work is charged at, by choice."""

    line: MemoLine
    amount: Decimal


def settle(
    memo: Memo,
    *,
    sold: Sequence[Sold] = (),
    lost: Sequence[Lost] = (),
    repairs: Sequence[Repair] = (),
    on: date,
    tax_percent: Decimal = ZERO,
    notes: str = "",
    by: Hand | None,
    at: datetime,
) -> Sale:
    """One sale of all that the receiver owes: what was sold, what was lost, what work a damage cost. Prices net."""
    lines = [*(one.line for one in sold), *(one.line for one in lost), *(one.line for one in repairs)]
    if not lines:
        raise DeedRefused("Say what was sold, lost or charged.", field="lines")
    if len({line.pk for line in lines}) < len(lines):
        raise DeedRefused("A stone ends in one way.", field="lines")
    with write_tx():
        memo = fresh(memo)
        check_day(on, memo.sent_on, at)
        asked = [
            *(_sold(memo, one, on=on, by=by, at=at) for one in sold),
            *(_lost(memo, one, on=on, by=by, at=at) for one in lost),
            *(_repair(memo, one) for one in repairs),
        ]
        sale = sell(
            asked, buyer=memo.party, sold_on=on, channel=Channel.TRADE, tax_percent=tax_percent,
            tax_included=False, notes=notes or f"memo {memo.code}", by=by, at=at,
        )  # fmt: skip
        for one in sold:
            end(one.line, LineState.SOLD, on=on, note="", sale=sale)
        for gone, what in zip(lost, asked[len(sold) :], strict=False):
            end(gone.line, LineState.LOST, on=on, note=gone.how, sale=sale, owed=what.price)
        MemoLine.objects.filter(pk__in=[one.line.pk for one in repairs]).update(sale=sale)
        journal.note(
            "settled memo", memo.code, by=by, at=at,
            after={"sale": sale.code, "gross": sale.gross, "lost": [one.line.words for one in lost]},
        )  # fmt: skip
        close_if_done(memo, on=on, by=by, at=at)
    return sale


def sell_lines(
    lines: Iterable[MemoLine],
    *,
    on: date,
    tax_percent: Decimal = ZERO,
    by: Hand | None,
    at: datetime,
) -> Sale:
    """Stones of one memo were sold at its prices."""
    rows = list(lines)
    if not rows:
        raise DeedRefused("Say what was sold.", field="lines")
    return settle(
        rows[0].memo, sold=[Sold(line) for line in rows], on=on, tax_percent=tax_percent, by=by, at=at
    )


def lose_line(
    line: MemoLine, *, how: str, owed: Decimal | None = None, on: date, by: Hand | None, at: datetime
) -> Sale:
    """A stone will not come back; the receiver owes its price."""
    return settle(line.memo, lost=[Lost(line, how, owed)], on=on, by=by, at=at)


def _sold(memo: Memo, one: Sold, *, on: date, by: Hand | None, at: datetime) -> Asked:
    line = lent_line(one.line, memo)
    price = line.price if one.price is None else checked_price(one.price, memo.currency)
    return Asked(_set_free(line, on=on, by=by, at=at), price)


def _lost(memo: Memo, one: Lost, *, on: date, by: Hand | None, at: datetime) -> Asked:
    if not one.how.strip():
        raise DeedRefused("Say how it was lost.", field="how")
    line = lent_line(one.line, memo)
    owed = line.price if one.owed is None else checked_price(one.owed, memo.currency)
    gem = _set_free(line, on=on, by=by, at=at)
    return Asked(
        gem,
        owed,
        kind=LineKind.COMPENSATION,
        tax_percent=one.tax_percent,
        how=f"{memo.code}, {one.how.strip()}",
    )


def _repair(memo: Memo, one: Repair) -> Asked:
    line = MemoLine.objects.select_related("gem", "memo").get(pk=one.line.pk)
    if line.memo_id != memo.pk or line.state != LineState.DAMAGED or line.gem is None:
        raise DeedRefused(f"{line.words} did not come back damaged.", field="lines")
    if line.sale_id is not None:
        raise DeedRefused(f"That work is charged in {line.sale} already.", field="lines")
    if checked_price(one.amount, memo.currency) == 0:
        raise DeedRefused("Give an amount above zero, or charge nothing.", field="amount")
    return Asked(line.gem, one.amount, kind=LineKind.REPAIR)


def _set_free(line: MemoLine, *, on: date, by: Hand | None, at: datetime) -> FinishedGem:
    if line.gem is None:
        raise DeedRefused("That was lent to the shop; it is not the shop's to sell.", field="lines")
    return lending.unbind(line.gem, on=on, by=by, at=at, home=False)


def close_memo(memo: Memo, *, on: date, by: Hand | None, at: datetime) -> Memo:
    """A memo none of whose lines is open; each deed closes it by itself with the last line."""
    with write_tx():
        memo = fresh(memo)
        if memo.closed_on is not None:
            raise DeedRefused(f"{memo.code} was closed on {memo.closed_on}.")
        still = [line.words for line in lines_of(memo, *STANDING)]
        if still:
            raise DeedRefused(f"Still open: {'; '.join(still)}.")
        close_if_done(memo, on=on, by=by, at=at)
    return memo
