"""What the deeds of a memo share: a row read again inside the deed, a day that can be, a line that ends."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.db.models import QuerySet

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.handbook.money import round_money

from ..models import LENT, STANDING, Memo, MemoLine, Sale

ZERO = Decimal(0)


def fresh(memo: Memo) -> Memo:
    """The memo as it stands."""
    return Memo.objects.select_related("party", "note").get(pk=memo.pk)


def open_memo(memo: Memo) -> Memo:
    """The memo, if its goods are out."""
    memo = fresh(memo)
    if not memo.is_out:
        raise DeedRefused(f"{memo.code} is {memo.state_word}.")
    return memo


def lines_of(memo: Memo, *states: str) -> QuerySet[MemoLine]:
    """Its lines in some states."""
    return memo.lines.filter(state__in=states).select_related("gem", "lot", "memo__party")


def lent_line(line: MemoLine, memo: Memo | None = None) -> MemoLine:
    """The line, if it is out (on that memo)."""
    line = MemoLine.objects.select_related("memo__party", "gem__stone", "lot").get(pk=line.pk)
    if memo is not None and line.memo_id != memo.pk:
        raise DeedRefused(f"{line.words} stands on {line.memo.code}.", field="lines")
    if line.state not in LENT:
        raise DeedRefused(f"{line.words} is {line.get_state_display()}.", field="lines")
    return line


def check_day(on: date, since: date | None, at: datetime) -> None:
    """Refuse a day to come, or one before the goods left."""
    if on > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="on")
    if since is not None and on < since:
        raise DeedRefused(f"It left on {since}; that day is before it.", field="on")


def end(
    line: MemoLine,
    state: str,
    *,
    on: date,
    note: str,
    sale: Sale | None = None,
    owed: Decimal | None = None,
) -> None:
    """A line has its outcome."""
    line.state, line.outcome_on, line.outcome_note = state, on, note.strip()[:300]
    line.sale, line.owed = sale, owed
    line.full_clean()
    line.save()


def close_if_done(memo: Memo, *, on: date, by: Hand | None, at: datetime) -> None:
    """Close a memo whose last line has ended."""
    if memo.closed_on is None and not memo.lines.filter(state__in=STANDING).exists():
        memo.closed_on = on
        memo.save(update_fields=["closed_on"])
        lines = [f"{line.words}: {line.get_state_display()}" for line in memo.lines.all()]
        journal.note("closed memo", memo.code, by=by, at=at, after={"lines": lines})


def checked_price(price: Decimal, currency: str) -> Decimal:
    """The price, if the currency can pay it."""
    if not price.is_finite() or price < 0 or price != round_money(price, currency):
        raise DeedRefused(f"{price} cannot be asked in {currency}.", field="price")
    return price


def owed_if_lost(memo: Memo) -> Decimal:
    """What the receiver owes in all, should nothing come back."""
    return sum((line.price for line in memo.lines.filter(state__in=LENT)), ZERO)
