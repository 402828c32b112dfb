"""Selling, being paid, and taking a sale back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Sum

from workshop.commissions.models import Commission
from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.say import money
from workshop.common.tx import write_tx
from workshop.gems import actions as gems
from workshop.gems.models import FinishedGem, Gone
from workshop.handbook.allocation import split
from workshop.handbook.money import digits, tax_in_gross, tax_on_net
from workshop.people.models import Contact, Ownership

from .. import on_account
from ..models import Channel, LineKind, LineState, Payment, PaymentWay, Sale, SaleLine
from .holds import refuse_held
from .invoices import credit_difference

ZERO = Decimal(0)
#: A deed of nobody's (an import, the demo) is allowed; a blank author is no error of the person at the form.
BY_NOBODY = ("made_by",)


@dataclass(frozen=True)
class Asked:
    """One gem and the price agreed for it, with or without tax as the sale says.

    ``kind``: what is owed for a gem lost while lent stands beside what was sold. ``tax_percent``: its own rate.
    """

    gem: FinishedGem
    price: Decimal
    kind: str = LineKind.SOLD
    tax_percent: Decimal | None = None
    how: str = ""


def sell(
    asked: Sequence[Asked],
    *,
    buyer: Contact,
    sold_on: date,
    by: Hand | None,
    at: datetime,
    channel: str = Channel.WORKSHOP,
    tax_percent: Decimal = ZERO,
    tax_included: bool = True,
    fees: Decimal = ZERO,
    paid: Decimal = ZERO,
    paid_in_full: bool = False,
    paid_way: str = PaymentWay.TRANSFER,
    notes: str = "",
    commission: Commission | None = None,
    sure: bool = False,
) -> Sale:
    """Sell gems to one buyer. Their cost is copied into the sale and does not change any more.

    ``commission``: the gems fulfil pieces of it; the sum goes on its account, and they stay here until delivered.
    """
    if not asked:
        raise DeedRefused("A sale needs at least one gem.", field="gem")
    if len({one.gem.pk for one in asked}) < len(asked):
        raise DeedRefused("The same gem stands in this sale twice.", field="gem")
    if fees < 0 or tax_percent < 0:
        raise DeedRefused("Fees and tax are zero or more.", field="fees")
    if paid < 0:
        raise DeedRefused("What was paid is zero or more.", field="paid")
    with write_tx():
        shop = Shop.the()
        if sold_on > shop.day_of(at):
            raise DeedRefused("The day lies in the future.", field="sold_on")
        if commission is not None:
            commission = on_account.check_terms(
                commission, buyer=buyer, currency=shop.currency, sold_on=sold_on, paid=paid or paid_in_full
            )
        sale = Sale(
            code=numbers.take("SA"),
            commission=commission,
            buyer=buyer,
            sold_on=sold_on,
            channel=channel,
            currency=shop.currency,
            tax_percent=tax_percent,
            tax_included=tax_included,
            fees=fees,
            notes=notes,
            made_by=by,
        )
        sale.full_clean(exclude=BY_NOBODY)
        sale.save()
        lines = [_line(sale, one) for one in asked]
        _share_fees(sale, lines)
        items = (
            on_account.items_of(commission, [line.gem for line in lines], sure=sure)
            if commission is not None
            else {}
        )
        for line, one in zip(lines, asked, strict=True):
            line.save()
            if line.kind == LineKind.REPAIR:
                continue
            refuse_held(line.gem, buyer, on=shop.day_of(at))
            gems.let_go(
                line.gem, gone_as=_gone_as(line), on=sold_on, by=by, at=at, holder=buyer,
                note=": ".join(filter(None, [sale.code, one.how])), still_here=commission is not None,
            )  # fmt: skip
        _add_up(sale, lines)
        sale.save()
        if commission is not None:
            on_account.put(sale, lines, items, by=by, at=at)
            _settle(sale, on=sold_on, by=by, at=at)
        if not buyer.is_buyer:
            buyer.is_buyer = True
            buyer.save(update_fields=["is_buyer"])
        came = sale.gross if paid_in_full else paid
        if came > sale.gross:
            raise DeedRefused(
                f"That is more than the {money(sale.gross, sale.currency)} it comes to.", field="paid"
            )
        if came:
            pay(sale, amount=came, on=sold_on, by=by, at=at, way=paid_way)
            sale.refresh_from_db()
        journal.note(
            "sold",
            sale.code,
            by=by,
            at=at,
            after={"gems": [line.gem.code for line in lines], "gross": sale.gross, "buyer": buyer},
        )
    return sale


def _line(sale: Sale, asked: Asked) -> SaleLine:
    gem = FinishedGem.objects.select_related("stone").get(pk=asked.gem.pk)
    if gem.ownership != Ownership.SHOP:
        raise DeedRefused(f"{gem.code} belongs to {gem.whose}; the shop cannot sell it.", field="gem")
    if asked.price < 0:
        raise DeedRefused("A price is zero or more.", field="price")
    if asked.kind == LineKind.REPAIR:
        return _repair_line(sale, gem, asked)
    if SaleLine.objects.filter(gem=gem, stands=True).exists():
        raise DeedRefused(f"{gem.code} is sold already.", field="gem")
    if gem.gone_on is not None:
        raise DeedRefused(f"{gem.code} is {gem.get_gone_as_display()} since {gem.gone_on}.", field="gem")
    if sale.sold_on < gem.finished_on:
        raise DeedRefused(
            f"{gem.code} was finished on {gem.finished_on}; it was not sold before.", field="sold_on"
        )
    stone = gem.stone
    line = SaleLine(
        sale=sale,
        gem=gem,
        kind=asked.kind,
        own_tax_percent=asked.tax_percent,
        price=asked.price,
        material=stone.rough_cost,
        bench_labour=stone.bench_labour,
        off_bench_labour=stone.off_bench_labour,
        wear=stone.wear_cost,
        other=stone.other_cost,
        bench_seconds=stone.bench_seconds,
        off_bench_seconds=stone.off_bench_seconds,
    )
    line.net, line.tax = _net_and_tax(line, asked.price)
    return line


def _repair_line(sale: Sale, gem: FinishedGem, asked: Asked) -> SaleLine:
    """Work charged to whoever damaged a stone: its hours are a cost of the stone already, so none is copied here."""
    if gem.gone_as != Gone.RECUT:
        raise DeedRefused(f"{gem.code} is not back for work; there is nothing to charge.", field="gem")
    line = SaleLine(sale=sale, gem=gem, kind=asked.kind, own_tax_percent=asked.tax_percent, price=asked.price)
    line.net, line.tax = _net_and_tax(line, asked.price)
    return line


def _gone_as(line: SaleLine) -> Gone:
    return Gone.LOST if line.kind == LineKind.COMPENSATION else Gone.SOLD


def _net_and_tax(line: SaleLine, price: Decimal) -> tuple[Decimal, Decimal]:
    """A price as typed, taken apart: each line is rounded by itself, as it stands on an invoice."""
    sale = line.sale
    if sale.tax_included:
        tax = tax_in_gross(price, line.rate, sale.currency)
        return price - tax, tax
    return price, tax_on_net(price, line.rate, sale.currency)


def _add_up(sale: Sale, lines: Sequence[SaleLine]) -> None:
    sale.net, sale.tax = sum((line.net for line in lines), ZERO), sum((line.tax for line in lines), ZERO)
    sale.gross, sale.cost = sale.net + sale.tax, sum((line.cost for line in lines), ZERO)


def _share_fees(sale: Sale, lines: Sequence[SaleLine]) -> None:
    step = Decimal(1).scaleb(-digits(sale.currency))
    weights = [line.net for line in lines] if any(line.net for line in lines) else [Decimal(1)] * len(lines)
    for line, part in zip(lines, split(sale.fees, weights, step=step), strict=True):
        line.fees = part


def pay(
    sale: Sale,
    *,
    amount: Decimal,
    on: date,
    by: Hand | None,
    at: datetime,
    way: str = PaymentWay.TRANSFER,
    note: str = "",
) -> Payment:
    """Book money that came for a sale, or (negative) went back. Never more than is owed, never back more than came."""
    if sale.commission is not None:
        raise DeedRefused(
            f"{sale.code} stands on the account of {sale.commission.code}; what comes or goes is booked there."
        )
    if way == PaymentWay.COMMISSION:
        raise DeedRefused("Only a sale on a commission stands on its account.", field="way")
    return _pay(sale, amount=amount, on=on, by=by, at=at, way=way, note=note)


def _settle(sale: Sale, *, on: date, by: Hand | None, at: datetime, note: str = "") -> None:
    """A sale on a commission owes nothing itself: the account bears all it comes to, and no more."""
    owed = ZERO if sale.cancelled_on else sale.gross
    if amount := owed - sale.paid:
        _pay(sale, amount=amount, on=on, by=by, at=at, way=PaymentWay.COMMISSION, note=note)
        sale.refresh_from_db()


def _pay(
    sale: Sale, *, amount: Decimal, on: date, by: Hand | None, at: datetime, way: str, note: str
) -> Payment:
    if amount == 0:
        raise DeedRefused("Give an amount.", field="amount")
    if on > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="on")
    with write_tx():
        sale = Sale.objects.get(pk=sale.pk)
        if on < sale.sold_on and amount < 0:
            raise DeedRefused("Money cannot go back before the sale.", field="on")
        payment = Payment(sale=sale, amount=amount, way=way, on=on, note=note)
        payment.full_clean()
        payment.save()
        paid = sale.payments.aggregate(total=Sum("amount"))["total"] or ZERO
        owed = ZERO if sale.cancelled_on else sale.gross
        if amount > 0 and paid > owed:
            left = max(ZERO, owed - (paid - amount))
            raise DeedRefused(f"Only {money(left, sale.currency)} is still owed.", field="amount")
        if paid < 0:
            raise DeedRefused(f"Only {money(paid - amount, sale.currency)} came in.", field="amount")
        before, sale.paid = sale.paid, paid
        sale.save(update_fields=["paid"])
        verb = "paid" if way != PaymentWay.COMMISSION else "booked on the account"
        journal.note(
            verb, sale.code, by=by, at=at, before={"paid": before}, after={"paid": paid, "amount": amount}
        )
    return payment


def lower_price(
    line: SaleLine,
    price: Decimal,
    *,
    reason: str,
    on: date,
    by: Hand | None,
    at: datetime,
    refund: Decimal = ZERO,
    way: str = PaymentWay.TRANSFER,
    credit_note: bool = False,
    base_url: str = "",
) -> Sale:
    """Let a buyer keep a gem for less than was agreed: tax and margin follow, and what went back is booked.

    ``credit_note``: the difference is taken off the invoice at once.
    """
    if not reason.strip():
        raise DeedRefused("Say why the price is lowered.", field="reason")
    if refund < 0:
        raise DeedRefused("What goes back is zero or more.", field="refund")
    with write_tx():
        line = SaleLine.objects.select_related("sale__commission", "gem__stone", "charge__item").get(
            pk=line.pk
        )
        sale, before = line.sale, line.price
        _no_refund_here(sale, refund)
        if sale.cancelled_on is not None:
            raise DeedRefused(f"{sale.code} was taken back; there is no price left to lower.")
        if not 0 <= price < before:
            raise DeedRefused(f"Give a price below the {money(before, sale.currency)} agreed.", field="price")
        if refund:
            pay(sale, amount=-refund, on=on, by=by, at=at, way=way, note=reason[:200])
            sale.refresh_from_db()
        line.price = price
        line.net, line.tax = _net_and_tax(line, price)
        line.save(update_fields=["price", "net", "tax"])
        _add_up(sale, list(sale.lines.all()))
        if sale.commission is not None:
            sale.save(update_fields=["net", "tax", "gross"])
            on_account.put_anew(line, reason=reason, on=on, by=by, at=at)
            _settle(sale, on=on, by=by, at=at, note=reason[:200])
        if sale.paid > sale.gross:
            raise DeedRefused(
                f"{money(sale.paid - sale.gross, sale.currency)} of what was paid has to go back.",
                field="refund",
            )
        sale.save(update_fields=["net", "tax", "gross"])
        journal.note(
            "lowered price", sale.code, by=by, at=at, before={line.gem.code: before},
            after={line.gem.code: price, "refund": refund}, reason=reason,
        )  # fmt: skip
        if credit_note:
            credit_difference(sale, reason=reason, by=by, at=at, base_url=base_url)
    return sale


def _no_refund_here(sale: Sale, refund: Decimal) -> None:
    if refund and sale.commission is not None:
        raise DeedRefused(
            f"Its sum stands on the account of {sale.commission.code}; what goes back is booked there.",
            field="refund",
        )


def cancel_sale(
    sale: Sale,
    *,
    reason: str,
    on: date,
    by: Hand | None,
    at: datetime,
    refund: Decimal = ZERO,
    way: str = PaymentWay.TRANSFER,
    credit_note: bool = False,
    base_url: str = "",
) -> Sale:
    """Take a sale back: the gems return to stock, and what was refunded is booked.

    ``credit_note``: what its invoice still says is taken off at once.
    """
    if not reason.strip():
        raise DeedRefused("Say why it is taken back.", field="reason")
    if refund < 0:
        raise DeedRefused("What goes back is zero or more.", field="refund")
    if on > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="on")
    with write_tx():
        sale = Sale.objects.get(pk=sale.pk)
        if sale.cancelled_on is not None:
            raise DeedRefused(f"{sale.code} was taken back already.")
        if on < sale.sold_on:
            raise DeedRefused("A sale cannot be taken back before it was made.", field="on")
        _no_refund_here(sale, refund)
        if refund > sale.paid:
            raise DeedRefused(f"Only {money(sale.paid, sale.currency)} came in.", field="refund")
        if refund:
            pay(sale, amount=-refund, on=on, by=by, at=at, way=way, note=reason[:200])
            sale.refresh_from_db()
        sale.cancelled_on, sale.cancelled_why = on, reason
        sale.save(update_fields=["cancelled_on", "cancelled_why"])
        if sale.commission is not None:
            on_account.take_off(sale, reason=reason, on=on, by=by, at=at)
            _settle(sale, on=on, by=by, at=at, note=reason[:200])
        for line in sale.lines.select_related("gem"):
            line.stands = False
            line.save(update_fields=["stands"])
            if line.kind == LineKind.REPAIR:
                continue
            gems.take_back(line.gem, reason=f"{sale.code} taken back: {reason}", by=by, at=at)
        sale.memo_lines.filter(state=LineState.SOLD).update(state=LineState.RETURNED)
        journal.note("took back sale", sale.code, by=by, at=at, after={"refund": refund}, reason=reason)
        if credit_note:
            credit_difference(sale, reason=reason, by=by, at=at, base_url=base_url)
    return sale
