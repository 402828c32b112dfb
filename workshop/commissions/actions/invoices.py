"""Invoicing what stands on a commission's account, deposits apart, and crediting what was invoiced.

Two rows that cancel out before anything was invoiced are named nowhere. What the shop bought from the client or kept
as payment is no reduction of its own price: it is set off, never a line of an invoice.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.say import money
from workshop.common.tx import write_tx
from workshop.gems.trade_words import refuse_words
from workshop.handbook.money import tax_in_gross
from workshop.papers import actions as papers
from workshop.papers.invoicing import Line, Terms, check, sum_of
from workshop.papers.models import Paper, PaperKind

from ..models import (
    Charge,
    ChargeKind,
    Commission,
    CommissionInvoice,
    CommissionPayment,
    InvoicedCharge,
    PaidAs,
)
from ..papers_invoice import (
    charges_content,
    customer_of,
    deposit_content,
    deposit_line,
    deposit_words,
    line_of,
    note_content,
    off_line,
)
from .account import CHANGED_HANDS, check_money

ZERO = Decimal(0)


def to_invoice(commission: Commission) -> list[Charge]:
    """Charges and credits of the account that no paper speaks of yet."""
    rows = commission.charges.exclude(kind__in=[ChargeKind.TAKEN_BACK, *CHANGED_HANDS]).exclude(
        pk__in=_told(commission)
    )
    return list(rows.filter(taken_back_by__isnull=True).select_related("item", "commission"))


def _told(commission: Commission) -> list[int]:
    rows = InvoicedCharge.objects.filter(invoice__commission=commission, stands=True)
    return list(rows.values_list("charge_id", flat=True))


def deposits_to_invoice(commission: Commission) -> list[CommissionPayment]:
    """Deposits that came and have no invoice."""
    told = commission.invoices.filter(payment__isnull=False, stands=True, credits__isnull=True)
    rows = commission.payments.filter(paid_as=PaidAs.DEPOSIT)
    return list(rows.exclude(pk__in=told.order_by().values("payment")))


def deposits_to_deduct(commission: Commission) -> list[CommissionInvoice]:
    """Invoices of deposits that no invoice of charges has taken off yet."""
    rows = commission.invoices.filter(
        payment__isnull=False, credits__isnull=True, stands=True, deducted_in__isnull=True, credited=0
    )
    return list(rows.select_related("paper", "payment"))


def issue_invoice(
    commission: Commission,
    charges: Sequence[Charge],
    *,
    deduct: Sequence[CommissionInvoice] = (),
    terms: Terms,
    by: Hand | None,
    at: datetime,
    base_url: str = "",
) -> CommissionInvoice:
    """Invoice charges of a commission, several in one if wanted; ``deduct``: deposits invoiced before."""
    with write_tx():
        commission = Commission.objects.select_related("client").get(pk=commission.pk)
        rows = _wanted(commission, charges)
        taken = _wanted_deposits(commission, deduct, rows)
        lines = [*map(line_of, rows), *map(deposit_line, taken)]
        sums = sum_of(lines)
        if sums.gross < 0:
            raise DeedRefused(
                "That comes to less than nothing: leave a deposit out, or give a credit note.",
                field="charges",
            )
        shop = Shop.the()
        _check(commission, shop, terms, lines, at)
        content = charges_content(commission, rows, lines, sums.gross, terms, shop)
        invoice = _issue(commission, content, lines, terms=terms, by=by, at=at, base_url=base_url)
        for row, line in zip(rows, lines, strict=False):
            _keep(invoice, row, line.words)
        for deposit in taken:
            deposit.deducted_in = invoice
            deposit.save(update_fields=["deducted_in"])
    return invoice


def _wanted(commission: Commission, charges: Sequence[Charge]) -> list[Charge]:
    may = {row.pk: row for row in to_invoice(commission)}
    if not charges:
        raise DeedRefused("Say which charges it is about.", field="charges")
    for one in charges:
        if one.pk not in may:
            raise DeedRefused(f"“{one.words}” is in an invoice already, or was taken back.", field="charges")
    wanted = {one.pk for one in charges}
    return [row for pk, row in may.items() if pk in wanted]


def _wanted_deposits(
    commission: Commission, deduct: Sequence[CommissionInvoice], rows: Sequence[Charge]
) -> list[CommissionInvoice]:
    may = {row.pk: row for row in deposits_to_deduct(commission)}
    rates = {row.tax_percent for row in rows}
    for one in deduct:
        if one.pk not in may:
            raise DeedRefused(f"{one.paper.number} was taken off or credited already.", field="deduct")
        if one.tax_percent not in rates:
            raise DeedRefused(
                f"{one.paper.number} bears another tax rate than these charges; credit it instead.",
                field="deduct",
            )
    return [may[one.pk] for one in deduct]


def issue_deposit_invoice(
    payment: CommissionPayment,
    *,
    tax_percent: Decimal,
    terms: Terms,
    by: Hand | None,
    at: datetime,
    base_url: str = "",
) -> CommissionInvoice:
    """Invoice a deposit as the payment on account it is: the tax is held in what came."""
    with write_tx():
        payment = CommissionPayment.objects.select_related("commission__client").get(pk=payment.pk)
        commission = payment.commission
        if payment.pk not in {row.pk for row in deposits_to_invoice(commission)}:
            raise DeedRefused("That is no deposit, or it has its invoice already.")
        if not 0 <= tax_percent <= 100:
            raise DeedRefused("A tax rate lies between 0 and 100.", field="tax_percent")
        tax = tax_in_gross(payment.amount, tax_percent, commission.currency)
        line = Line(deposit_words(payment, commission), "1", payment.amount - tax, tax_percent, tax)
        shop = Shop.the()
        _check(commission, shop, terms, [line], at)
        content = deposit_content(commission, payment, line, terms, shop)
        return _issue(
            commission, content, [line], terms=terms, by=by, at=at, base_url=base_url, payment=payment,
            tax_percent=tax_percent,
        )  # fmt: skip


def _check(commission: Commission, shop: Shop, terms: Terms, lines: Sequence[Line], at: datetime) -> None:
    if terms.due_on is not None and terms.due_on < shop.day_of(at):
        raise DeedRefused("It cannot be due before it is issued.", field="due_on")
    refuse_words([terms.note, terms.tax_words])
    check(shop, customer_of(commission.client), terms, lines)


def _issue(
    commission: Commission,
    content: dict[str, object],
    lines: Sequence[Line],
    *,
    terms: Terms,
    by: Hand | None,
    at: datetime,
    base_url: str,
    payment: CommissionPayment | None = None,
    tax_percent: Decimal | None = None,
) -> CommissionInvoice:
    paper = papers.issue(PaperKind.INVOICE, commission.code, content, by=by, at=at, base_url=base_url)
    sums = sum_of(lines)
    invoice = CommissionInvoice(
        commission=commission, paper=paper, issued_on=Shop.the().day_of(at), due_on=terms.due_on, net=sums.net,
        tax=sums.tax, gross=sums.gross, payment=payment, tax_percent=tax_percent,
    )  # fmt: skip
    invoice.full_clean()
    invoice.save()
    journal.note(
        "invoiced", commission.code, by=by, at=at, after={"paper": paper.number, "gross": invoice.gross}
    )
    return invoice


def _keep(invoice: CommissionInvoice, charge: Charge, words: str) -> None:
    row = InvoicedCharge(invoice=invoice, charge=charge, words=words, net=charge.net, tax=charge.tax)
    row.full_clean()
    row.save()


def to_credit(invoice: CommissionInvoice) -> list[tuple[InvoicedCharge, Charge]]:
    """Charges of an invoice that were taken back since, each with the mirror no credit note speaks of yet."""
    if not (invoice.is_invoice and invoice.stands):
        return []
    told = set(_told(invoice.commission))
    rows = invoice.lines.filter(stands=True, charge__taken_back_by__isnull=False)
    rows = rows.select_related("charge__taken_back_by")
    return [(row, row.charge.taken_back_by) for row in rows if row.charge.taken_back_by.pk not in told]


def credit_taken_back(
    invoice: CommissionInvoice, *, reason: str, by: Hand | None, at: datetime, base_url: str = ""
) -> CommissionInvoice:
    """A credit note of all charges of an invoice that were taken back since."""
    with write_tx():
        invoice = _fresh(invoice)
        off = to_credit(invoice)
        if not off:
            raise DeedRefused(f"No charge in {invoice.paper.number} was taken back.")
        lines = [off_line(row, mirror) for row, mirror in off]
        note = _credit(invoice, lines, reason=reason, by=by, at=at, base_url=base_url)
        for row, mirror in off:
            _keep(note, mirror, row.words)
    return note


def credit_by(
    invoice: CommissionInvoice,
    credit: Charge,
    *,
    by: Hand | None,
    at: datetime,
    base_url: str = "",
) -> CommissionInvoice:
    """A credit note of a credit on the account that belongs to an invoice; its words are the reason."""
    with write_tx():
        invoice = _fresh(invoice)
        if credit.kind != ChargeKind.CREDIT or credit.pk not in {
            row.pk for row in to_invoice(invoice.commission)
        }:
            raise DeedRefused("That is no credit, or a paper speaks of it already.", field="credit")
        line = Line(credit.words, "1", -credit.net, credit.tax_percent, -credit.tax)
        note = _credit(invoice, [line], reason=credit.words, by=by, at=at, base_url=base_url)
        _keep(note, credit, credit.words)
    return note


def credit_deposit(
    invoice: CommissionInvoice,
    amount: Decimal,
    *,
    reason: str,
    by: Hand | None,
    at: datetime,
    base_url: str = "",
) -> CommissionInvoice:
    """A credit note of what went back of a deposit that was invoiced: the whole or a part, tax in."""
    with write_tx():
        invoice = _fresh(invoice)
        _refuse_deducted(invoice)
        currency = invoice.commission.currency
        if not 0 < check_money(amount, currency) <= invoice.left:
            raise DeedRefused(
                f"{money(invoice.left, currency)} of {invoice.paper.number} is left.", field="amount"
            )
        percent = invoice.tax_percent or ZERO
        tax = _tax_left(invoice) if amount == invoice.left else tax_in_gross(amount, percent, currency)
        line = Line(f"Payment on account given back, {reason.strip()}"[:300], "1", amount - tax, percent, tax)
        return _credit(invoice, [line], reason=reason, by=by, at=at, base_url=base_url)


def _refuse_deducted(invoice: CommissionInvoice) -> None:
    if not invoice.is_deposit:
        raise DeedRefused(f"{invoice.paper.number} is no invoice of a deposit.")
    if invoice.deducted_in is not None:
        raise DeedRefused(
            f"{invoice.paper.number} was taken off in {invoice.deducted_in.paper.number}; credit that one."
        )


def _tax_left(invoice: CommissionInvoice) -> Decimal:
    return invoice.tax - sum((note.tax for note in invoice.credit_notes.all()), ZERO)


def credit_whole(
    invoice: CommissionInvoice, *, reason: str, by: Hand | None, at: datetime, base_url: str = ""
) -> CommissionInvoice:
    """Take all that is left of an invoice off: a wrong name, a wrong rate. Its charges may be invoiced anew."""
    with write_tx():
        invoice = _fresh(invoice)
        if invoice.is_deposit:
            return credit_deposit(invoice, invoice.left, reason=reason, by=by, at=at, base_url=base_url)
        told = InvoicedCharge.objects.filter(invoice__in=[invoice.pk, *_notes(invoice)], stands=True)
        lines = _left_of(invoice, list(told.select_related("charge")))
        note = _credit(invoice, lines, reason=reason, by=by, at=at, base_url=base_url)
        told.update(stands=False)
        invoice.deposits.update(deducted_in=None)
    return note


def _notes(invoice: CommissionInvoice) -> list[int]:
    return list(invoice.credit_notes.values_list("pk", flat=True))


def _left_of(invoice: CommissionInvoice, rows: Sequence[InvoicedCharge]) -> list[Line]:
    """Every line of the invoice and, below zero, what its credit notes and deposits took off already."""
    lines = [Line(row.words, "1", row.net, row.charge.tax_percent, row.tax) for row in rows]
    lines += [deposit_line(one) for one in invoice.deposits.select_related("paper")]
    return lines


def _fresh(invoice: CommissionInvoice) -> CommissionInvoice:
    fresh = CommissionInvoice.objects.select_related("commission__client", "paper", "deducted_in__paper").get(
        pk=invoice.pk
    )
    if not fresh.is_invoice:
        raise DeedRefused(f"{fresh.paper.number} is a credit note itself.")
    if not fresh.stands:
        raise DeedRefused(f"All of {fresh.paper.number} was credited.")
    return fresh


def _credit(
    invoice: CommissionInvoice,
    lines: Sequence[Line],
    *,
    reason: str,
    by: Hand | None,
    at: datetime,
    base_url: str,
) -> CommissionInvoice:
    if not reason.strip():
        raise DeedRefused("Say why: the reason stands in the credit note.", field="reason")
    refuse_words([reason])
    commission, sums = invoice.commission, sum_of(lines)
    if sums.gross > invoice.left or sums.gross < 0:
        raise DeedRefused(
            f"Only {money(invoice.left, commission.currency)} of {invoice.paper.number} is left."
        )
    left = invoice.left - sums.gross
    content = note_content(invoice, lines, reason.strip(), left, Shop.the())
    paper: Paper = papers.issue(
        PaperKind.CREDIT_NOTE, commission.code, content, by=by, at=at, base_url=base_url
    )
    note = CommissionInvoice(
        commission=commission, paper=paper, credits=invoice, issued_on=Shop.the().day_of(at), net=sums.net,
        tax=sums.tax, gross=sums.gross, reason=reason.strip()[:300],
    )  # fmt: skip
    note.full_clean()
    note.save()
    invoice.credited += sums.gross
    invoice.stands = bool(left)
    invoice.save(update_fields=["credited", "stands"])
    journal.note(
        "gave credit note", commission.code, by=by, at=at, reason=reason,
        after={"paper": paper.number, "of": invoice.paper.number, "gross": note.gross},
    )  # fmt: skip
    return note
