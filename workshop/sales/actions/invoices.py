"""Invoicing a sale, and taking off what was invoiced by a credit note that names it. Nothing issued is changed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db.models import Sum

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.say import money
from workshop.common.tx import write_tx
from workshop.gems.trade_words import refuse_words
from workshop.papers import actions as papers
from workshop.papers.invoicing import Line, Terms, check, sum_of
from workshop.papers.models import PaperKind

from ..models import Sale, SaleInvoice, SaleInvoiceLine, SaleLine
from ..papers import customer_of, line_of, said_of, sale_credit_content, sale_invoice_content

ZERO = Decimal(0)
Off = Sequence[tuple[SaleInvoiceLine, Line]]


def invoice_of(sale: Sale) -> SaleInvoice | None:
    """The invoice of a sale that still counts."""
    return sale.invoices.filter(stands=True, credits__isnull=True).select_related("paper").first()


def issue_invoice(
    sale: Sale, *, terms: Terms, by: Hand | None, at: datetime, base_url: str = ""
) -> SaleInvoice:
    """Invoice a whole sale, once. Raises DeedRefused, PleaseConfirm, QuestionOpen, WordsRefused."""
    with write_tx():
        shop = Shop.the()
        sale = Sale.objects.select_related("buyer", "commission").get(pk=sale.pk)
        _refuse_sale(sale)
        today = shop.day_of(at)
        if terms.due_on is not None and terms.due_on < today:
            raise DeedRefused("It cannot be due before it is issued.", field="due_on")
        sold = _sold(sale)
        said = said_of(sold)
        refuse_words([terms.note, terms.tax_words])
        lines = [line_of(line, said[line.gem_id]) for line in sold]
        check(shop, customer_of(sale.buyer), terms, lines)
        content = sale_invoice_content(sale, sold, lines, said, terms, shop)
        paper = papers.issue(PaperKind.INVOICE, sale.code, content, by=by, at=at, base_url=base_url)
        sums = sum_of(lines)
        invoice = SaleInvoice(
            sale=sale,
            paper=paper,
            issued_on=today,
            due_on=terms.due_on,
            net=sums.net,
            tax=sums.tax,
            gross=sums.gross,
        )
        invoice.full_clean()
        invoice.save()
        for line, told in zip(sold, lines, strict=True):
            _keep(invoice, line, told)
        journal.note(
            "invoiced", sale.code, by=by, at=at, after={"paper": paper.number, "gross": invoice.gross}
        )
    return invoice


def _refuse_sale(sale: Sale) -> None:
    if sale.commission is not None:
        raise DeedRefused(
            f"{sale.code} stands on the account of {sale.commission.code}; its charges are invoiced there."
        )
    if sale.cancelled_on is not None:
        raise DeedRefused(f"{sale.code} was taken back; there is nothing to invoice.")
    standing = invoice_of(sale)
    if standing is not None:
        raise DeedRefused(
            f"{standing.paper.number} stands for {sale.code}. What is wrong in it is put right by a credit note."
        )


def _sold(sale: Sale) -> list[SaleLine]:
    rows = sale.lines.filter(stands=True).select_related(
        "sale", "gem__stone__material", "gem__stone__lot", "gem__owner", "gem__public_photo__photo"
    )
    return list(rows)


def _keep(invoice: SaleInvoice, line: SaleLine, told: Line) -> None:
    row = SaleInvoiceLine(
        invoice=invoice, line=line, words=told.words, quantity=told.quantity, net=told.net, tax=told.tax,
        stands=invoice.is_invoice,
    )  # fmt: skip
    row.full_clean()
    row.save()


def to_credit(invoice: SaleInvoice) -> list[tuple[SaleInvoiceLine, Line]]:
    """What an invoice says over what its sale comes to now, line by line; an empty list where they agree."""
    gone = invoice.sale.cancelled_on is not None
    return [
        (row, off)
        for row in _rows(invoice)
        if (off := _off(row, ZERO if gone else row.line.net, ZERO if gone else row.line.tax)).gross > 0
    ]


def _rows(invoice: SaleInvoice) -> list[SaleInvoiceLine]:
    return list(invoice.lines.select_related("line__sale"))


def _off(row: SaleInvoiceLine, net: Decimal, tax: Decimal) -> Line:
    """What is still invoiced of a line, less what shall be left of it."""
    notes = SaleInvoiceLine.objects.filter(invoice__credits=row.invoice_id, line=row.line_id)
    gone = notes.aggregate(net=Sum("net"), tax=Sum("tax"))
    net_off = row.net - (gone["net"] or ZERO) - net
    tax_off = row.tax - (gone["tax"] or ZERO) - tax
    return Line(row.words, row.quantity, net_off, row.line.rate, tax_off)


def credit_difference(
    sale: Sale, *, reason: str, by: Hand | None, at: datetime, base_url: str = ""
) -> SaleInvoice:
    """A credit note of what the invoice says over what the sale comes to now: a price lowered, a sale taken back."""
    with write_tx():
        invoice = _standing_invoice(sale)
        off = to_credit(invoice)
        if not off:
            raise DeedRefused(
                f"{invoice.paper.number} says what {sale.code} comes to; there is nothing to credit."
            )
        return _credit(invoice, off, reason=reason, by=by, at=at, base_url=base_url)


def credit_whole(
    sale: Sale, *, reason: str, by: Hand | None, at: datetime, base_url: str = ""
) -> SaleInvoice:
    """Take the whole of an invoice off: a wrong name, a wrong rate. The sale may then be invoiced anew."""
    with write_tx():
        invoice = _standing_invoice(sale)
        off = [(row, off) for row in _rows(invoice) if (off := _off(row, ZERO, ZERO)).gross > 0]
        return _credit(invoice, off, reason=reason, by=by, at=at, base_url=base_url)


def _standing_invoice(sale: Sale) -> SaleInvoice:
    sale = Sale.objects.select_related("buyer").get(pk=sale.pk)
    invoice = invoice_of(sale)
    if invoice is None:
        raise DeedRefused(f"No invoice stands for {sale.code}.")
    invoice.sale = sale
    return invoice


def _credit(
    invoice: SaleInvoice, off: Off, *, reason: str, by: Hand | None, at: datetime, base_url: str
) -> SaleInvoice:
    if not reason.strip():
        raise DeedRefused("Say why: the reason stands in the credit note.", field="reason")
    refuse_words([reason])
    shop, sale = Shop.the(), invoice.sale
    sums = sum_of([line for _, line in off])
    if sums.gross > invoice.left:
        raise DeedRefused(f"Only {money(invoice.left, sale.currency)} of {invoice.paper.number} is left.")
    content = sale_credit_content(sale, invoice, off, reason.strip(), shop)
    paper = papers.issue(PaperKind.CREDIT_NOTE, sale.code, content, by=by, at=at, base_url=base_url)
    note = SaleInvoice(
        sale=sale, paper=paper, credits=invoice, issued_on=shop.day_of(at), net=sums.net, tax=sums.tax,
        gross=sums.gross, reason=reason.strip()[:300],
    )  # fmt: skip
    note.full_clean()
    note.save()
    for row, line in off:
        _keep(note, row.line, line)
    invoice.credited += sums.gross
    if not invoice.left:
        invoice.stands = False
        invoice.lines.update(stands=False)
    invoice.save(update_fields=["credited", "stands"])
    journal.note(
        "credited", sale.code, by=by, at=at, reason=reason,
        after={"paper": paper.number, "of": invoice.paper.number, "gross": note.gross},
    )  # fmt: skip
    return note
