"""A commission's account: what is charged and credited, what comes in and goes back.

charged − paid + refunded = balance, always out of the rows; a row is never changed, a wrong one is taken back.
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q, Sum

from workshop.common import journal
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import Hand, Shop
from workshop.common.say import money
from workshop.common.tx import write_tx
from workshop.handbook.money import round_money, tax_in_gross, tax_on_net

from ..models import (
    Charge,
    ChargeKind,
    Commission,
    CommissionItem,
    CommissionPayment,
    PaidAs,
    PaidBy,
    QuoteState,
)

ZERO = Decimal(0)
#: A deed of nobody's (an import, the demo) is allowed; a blank author is no error of the person at the form.
BY_NOBODY = ("by",)
#: What lowers the account; every other kind raises it.
CREDITS = (ChargeKind.CREDIT, ChargeKind.BOUGHT, ChargeKind.OFF_CUT)
#: A stone changed hands for these sums, and its own cost holds them.
CHANGED_HANDS = (ChargeKind.BOUGHT, ChargeKind.OFF_CUT)


def charge(
    commission: Commission,
    *,
    kind: str,
    words: str,
    net: Decimal | None = None,
    gross: Decimal | None = None,
    tax_percent: Decimal = ZERO,
    on: date,
    item: CommissionItem | None = None,
    by: Hand | None,
    at: datetime,
) -> Charge:
    """Put a sum on the account, or a credit below zero: given without tax (``net``) or with it (``gross``)."""
    if (net is None) == (gross is None):
        raise DeedRefused("Give the sum either without tax or with it.", field="amount")
    if not words.strip():
        raise DeedRefused("Say what it is for.", field="words")
    with write_tx():
        commission = Commission.objects.get(pk=commission.pk)
        given = check_money(gross if net is None and gross is not None else net or ZERO, commission.currency)
        _check_kind(commission, kind, given)
        _check_day(commission, on, at)
        if item is not None and item.commission_id != commission.pk:
            raise DeedRefused("That piece is of another commission.", field="item")
        net, tax = _net_and_tax(commission.currency, net, gross, tax_percent)
        row = Charge(
            commission=commission, item=item, kind=kind, words=words.strip(), on=on, net=net,
            tax_percent=tax_percent, tax=tax, gross=net + tax, by=by,
        )  # fmt: skip
        row.full_clean(exclude=BY_NOBODY)
        row.save()
        _book(
            commission, "credited" if row.gross < 0 else "charged", by=by, at=at,
            after={"kind": kind, "words": row.words, "gross": row.gross},
        )  # fmt: skip
    return row


def _check_kind(commission: Commission, kind: str, amount: Decimal) -> None:
    if kind not in ChargeKind.values or kind == ChargeKind.TAKEN_BACK:
        raise DeedRefused("Say what sort of sum it is.", field="kind")
    if amount == 0:
        raise DeedRefused("Give an amount.", field="amount")
    if (kind in CREDITS) != (amount < 0):
        side = "below" if kind in CREDITS else "above"
        raise DeedRefused(f"“{ChargeKind(kind).label}” is a sum {side} zero.", field="amount")
    if commission.is_closed and amount > 0:
        raise DeedRefused(f"{commission.code} is {commission.state_word}; nothing more is charged for it.")


def _check_day(commission: Commission, on: date, at: datetime) -> None:
    if on > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="on")
    if on < commission.asked_on:
        raise DeedRefused(f"It was asked for on {commission.asked_on}; that day is before it.", field="on")


def _net_and_tax(
    currency: str, net: Decimal | None, gross: Decimal | None, percent: Decimal
) -> tuple[Decimal, Decimal]:
    if percent < 0:
        raise DeedRefused("A tax rate is zero or more.", field="tax_percent")
    if net is not None:
        return net, tax_on_net(net, percent, currency)
    assert gross is not None
    tax = tax_in_gross(gross, percent, currency)
    return gross - tax, tax


def check_money(amount: Decimal, currency: str, *, field: str = "amount") -> Decimal:
    """The amount, if the currency can pay it out to its last place."""
    if not amount.is_finite() or amount != round_money(amount, currency):
        raise DeedRefused(f"{amount} cannot be paid in {currency}.", field=field)
    return amount


def take_back_charge(
    row: Charge, *, reason: str, by: Hand | None, at: datetime, with_its_sale: bool = False
) -> Charge:
    """Undo a wrong charge by its mirror, once and with a reason; both rows stay.

    ``with_its_sale``: the sale of a stone of the shop's own is taken back or lowered in the same deed.
    """
    if not reason.strip():
        raise DeedRefused("Say why it is taken back.", field="reason")
    with write_tx():
        row = Charge.objects.select_related("commission").get(pk=row.pk)
        if row.takes_back_id is not None:
            raise DeedRefused("It takes a charge back itself; charge the sum anew.")
        if row.kind == ChargeKind.STONE and not with_its_sale:
            raise DeedRefused("A stone was sold for that sum; take its sale back, or lower its price there.")
        if row.kind in CHANGED_HANDS:
            raise DeedRefused(
                "A stone changed hands for that sum; book the difference as a credit or an extra."
            )
        if Charge.objects.filter(takes_back=row).exists():
            raise DeedRefused("That charge was taken back already.")
        mirror = Charge(
            commission=row.commission, item=row.item, kind=ChargeKind.TAKEN_BACK,
            words=f"{row.words}: {reason.strip()}"[:200], on=max(row.on, Shop.the().day_of(at)), net=-row.net,
            tax_percent=row.tax_percent, tax=-row.tax, gross=-row.gross, takes_back=row, by=by,
        )  # fmt: skip
        mirror.full_clean(exclude=BY_NOBODY)
        mirror.save()
        _book(
            row.commission, "took back charge", by=by, at=at, reason=reason,
            after={"words": row.words, "gross": mirror.gross},
        )  # fmt: skip
    return mirror


def pay(
    commission: Commission,
    *,
    amount: Decimal,
    paid_as: str = PaidAs.BALANCE,
    way: str = PaidBy.TRANSFER,
    on: date,
    note: str = "",
    by: Hand | None,
    at: datetime,
    sure: bool = False,
) -> CommissionPayment:
    """Book money that came in. More than is owed or was agreed is asked about first."""
    if paid_as not in {PaidAs.DEPOSIT, PaidAs.BALANCE}:
        raise DeedRefused("Say whether it is a deposit or the balance.", field="paid_as")
    if check_money(amount, commission.currency) <= 0:
        raise DeedRefused("Give an amount above zero.", field="amount")
    with write_tx():
        commission = Commission.objects.get(pk=commission.pk)
        _check_day(commission, on, at)
        if not sure and (doubt := _doubt(commission, paid_as, amount)):
            raise PleaseConfirm(doubt, field="amount")
        return _pay(commission, "paid", paid_as, amount, way=way, on=on, note=note, by=by, at=at)


def _doubt(commission: Commission, paid_as: str, amount: Decimal) -> str:
    """What looks like a slip in money that came: more than anybody owes, or a deposit that is here already."""
    here = commission.paid - commission.refunded
    room = max(ZERO, expected(commission) - here)
    if amount > room:
        return f"Only {money(room, commission.currency)} is owed or agreed and not paid yet."
    agreed = deposit_agreed(commission)
    missing = max(ZERO, agreed - here)
    if paid_as == PaidAs.DEPOSIT and agreed and amount > missing:
        return (
            f"Of the deposit of {money(agreed, commission.currency)} only {money(missing, commission.currency)} has "
            "not come yet. Did it come twice, or is it part of the balance?"
        )
    return ""


def deposit_agreed(commission: Commission) -> Decimal:
    """The deposit of the version the client accepted, or nothing."""
    accepted = commission.quotes.filter(state=QuoteState.ACCEPTED)
    return accepted.values_list("deposit", flat=True).first() or ZERO


def expected(commission: Commission) -> Decimal:
    """The most the client is expected to pay in all: what was charged, or what was agreed if that is more."""
    if commission.is_closed:
        return commission.charged
    agreed = (
        commission.quotes.filter(Q(state=QuoteState.ACCEPTED) | Q(state=QuoteState.SENT))
        .order_by("-price_high")
        .values_list("price_high", flat=True)
        .first()
    )
    return max(commission.charged, agreed or ZERO)


def refund(
    commission: Commission,
    *,
    amount: Decimal,
    way: str = PaidBy.TRANSFER,
    on: date,
    note: str = "",
    by: Hand | None,
    at: datetime,
    sure: bool = False,
) -> CommissionPayment:
    """Book money that went back: never more than came in; what the client would then owe again is asked about."""
    if check_money(amount, commission.currency) <= 0:
        raise DeedRefused("Give an amount above zero.", field="amount")
    with write_tx():
        commission = Commission.objects.get(pk=commission.pk)
        _check_day(commission, on, at)
        here = commission.paid - commission.refunded
        if amount > here:
            raise DeedRefused(
                f"Only {money(here, commission.currency)} of what came in is still here.", field="amount"
            )
        first = commission.payments.filter(amount__gt=0).order_by("on").values_list("on", flat=True).first()
        if first is not None and on < first:
            raise DeedRefused(f"Nothing had come in before {first}.", field="on")
        owed = commission.balance + amount
        if owed > 0 and not sure:
            raise PleaseConfirm(
                f"The client would then owe {money(owed, commission.currency)}; "
                "if it is let off, book a credit first.",
                field="amount",
            )
        return _pay(commission, "refunded", PaidAs.REFUND, -amount, way=way, on=on, note=note, by=by, at=at)


def _pay(
    commission: Commission,
    verb: str,
    paid_as: str,
    amount: Decimal,
    *,
    way: str,
    on: date,
    note: str,
    by: Hand | None,
    at: datetime,
) -> CommissionPayment:
    row = CommissionPayment(
        commission=commission, paid_as=paid_as, amount=amount, way=way, on=on, note=note.strip(), by=by
    )
    row.full_clean(exclude=BY_NOBODY)
    row.save()
    _book(
        commission, verb, by=by, at=at, reason=row.note,
        after={"amount": abs(amount), "as": paid_as, "way": way, "on": on},
    )  # fmt: skip
    return row


def _book(
    commission: Commission,
    verb: str,
    *,
    by: Hand | None,
    at: datetime,
    after: dict[str, object],
    reason: str = "",
) -> None:
    before = {"balance": commission.balance}
    after = {**after, "balance": restate(commission).balance}
    journal.note(verb, commission.code, by=by, at=at, before=before, after=after, reason=reason)


def restate(commission: Commission) -> Commission:
    """Bring the kept sums in step with the rows."""
    charged = commission.charges.order_by().aggregate(total=Sum("gross"))["total"] or ZERO
    came = commission.payments.order_by().aggregate(
        paid=Sum("amount", filter=Q(amount__gt=0)), back=Sum("amount", filter=Q(amount__lt=0))
    )
    commission.charged, commission.paid = charged, came["paid"] or ZERO
    commission.refunded = -(came["back"] or ZERO)
    commission.balance = commission.charged - commission.paid + commission.refunded
    commission.save(update_fields=["charged", "paid", "refunded", "balance"])
    return commission


def has_work_charge(item: CommissionItem) -> bool:
    """Whether the work on a piece is on the account, and was not taken back."""
    return item.charges.filter(kind=ChargeKind.WORK, taken_back_by__isnull=True).exists()
