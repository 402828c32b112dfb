"""From the charges of a commission to the content of its invoices and credit notes.

A deposit is a payment on account with a day of its own (Directive 2006/112/EC, Art. 226(7); that it is taxed when it
comes, Art. 65, is from memory): it has an invoice of its own, and the invoice of the work takes it off again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from workshop.common import say
from workshop.common.models import Shop
from workshop.gems.models import FinishedGem
from workshop.gems.trade_words import cards_of, said_as_it_stands, said_in_trade, stone_facts
from workshop.handbook.weights import state_weight
from workshop.materials.disclosure import ROLE_LINE
from workshop.papers.document import Facts
from workshop.papers.invoicing import Customer, Line, Terms, credit_content, invoice_content
from workshop.people.models import Contact, Ownership

from .models import (
    ON_CLIENTS_GOODS,
    Charge,
    ChargeKind,
    Commission,
    CommissionInvoice,
    CommissionItem,
    CommissionPayment,
    InvoicedCharge,
)
from .progress import gems_of

ZERO = Decimal(0)


def customer_of(contact: Contact) -> Customer:
    """A client as an invoice names them."""
    return Customer(contact.name, contact.firm, contact.address, contact.country, contact.tax_number)


def line_of(charge: Charge) -> Line:
    """A charge as an invoice says it: the sums are those of the account, to the cent."""
    piece = f", piece {charge.item.number}: {charge.item.wanted}" if charge.item is not None else ""
    extent = "1 stone" if charge.kind == ChargeKind.STONE else _extent(charge.item)
    return Line(f"{charge.words}{piece}"[:300], extent, charge.net, charge.tax_percent, charge.tax)


def _extent(item: CommissionItem | None) -> str:
    """Extent of the work: the stones it was done on, and what they weigh finished."""
    gems = gems_of(item) if item is not None else []
    if not gems:
        return "1"
    together = sum((gem.weight_ct for gem in gems), ZERO)
    stones = "1 stone" if len(gems) == 1 else f"{len(gems)} stones"
    weight = state_weight(together, scale_step=Shop.the().scale_step_ct)
    return f"{stones}, {weight}\u00a0ct"


def deposit_line(deposit: CommissionInvoice) -> Line:
    """A deposit invoiced before, taken off."""
    percent = deposit.tax_percent or ZERO
    words = f"Less payment on account, invoice {deposit.paper.number} of {say.moment(deposit.issued_on)}"
    return Line(words, "1", -deposit.net, percent, -deposit.tax)


def charges_content(
    commission: Commission,
    charges: Sequence[Charge],
    lines: Sequence[Line],
    gross: Decimal,
    terms: Terms,
    shop: Shop,
) -> dict[str, Any]:
    """The content record of an invoice of charges. Raises QuestionOpen, WordsRefused for stones of the shop's own."""
    return invoice_content(
        shop=shop, customer=customer_of(commission.client), terms=terms, lines=lines, currency=commission.currency,
        reference=f"commission {commission.code}", facts=[("Date of supply", _supplied(charges))],
        account=_account(commission, gross), stones=list(_stones(charges)), role=str(ROLE_LINE),
    )  # fmt: skip


def _supplied(charges: Sequence[Charge]) -> str:
    days = sorted({charge.on for charge in charges})
    first, last = say.moment(days[0]), say.moment(days[-1])
    return first if first == last else f"{first} to {last}"


def _account(commission: Commission, gross: Decimal) -> list[tuple[str, str]]:
    due = min(max(commission.balance, ZERO), max(gross, ZERO))
    money = [say.money(amount, commission.currency) for amount in (gross, gross - due, due)]
    return list(
        zip(("Total of this invoice", "Paid or set off on the account", "Still due"), money, strict=True)
    )


def _stones(charges: Iterable[Charge]) -> Iterable[Facts]:
    items = {charge.item_id: charge.item for charge in charges if charge.item is not None}
    gems = {gem.pk: (gem, item) for item in items.values() for gem in gems_of(item)}
    cards = cards_of([gem for gem, _ in gems.values()])
    for gem, item in gems.values():
        own = item.work not in ON_CLIENTS_GOODS and gem.ownership == Ownership.SHOP
        yield stone_facts(gem, _said(gem, own=own), cards.get(gem.code, ""))


def _said(gem: FinishedGem, *, own: bool) -> Any:
    return said_in_trade(gem) if own else said_as_it_stands(gem)


def deposit_content(
    commission: Commission, payment: CommissionPayment, line: Line, terms: Terms, shop: Shop
) -> dict[str, Any]:
    """The content record of an invoice of a payment on account."""
    came = say.money(payment.amount, commission.currency)
    return invoice_content(
        title="Invoice of a payment on account", shop=shop, customer=customer_of(commission.client), terms=terms,
        lines=[line], currency=commission.currency, reference=f"commission {commission.code}",
        facts=[("Payment came on", say.moment(payment.on))],
        account=[
            ("Total of this invoice", came),
            (f"Paid {say.moment(payment.on)}, {payment.get_way_display()}", came),
            ("Still due", say.money(ZERO, commission.currency)),
        ],
        role=str(ROLE_LINE),
    )  # fmt: skip


def deposit_words(payment: CommissionPayment, commission: Commission) -> str:
    """What a payment on account is for."""
    pieces = "; ".join(f"piece {item.number}: {item.wanted}" for item in commission.items.all())
    return f"Payment on account for commission {commission.code} ({pieces})"[:300]


def off_line(row: InvoicedCharge, charge: Charge) -> Line:
    """A charge taken back, as a credit note says it: the words of the invoice, sums above zero."""
    return Line(row.words, "1", -charge.net, charge.tax_percent, -charge.tax)


def note_content(
    of: CommissionInvoice, lines: Sequence[Line], reason: str, left: Decimal, shop: Shop
) -> dict[str, Any]:
    """The content record of a credit note."""
    commission = of.commission
    return credit_content(
        shop=shop, customer=customer_of(commission.client), of=of.paper.number, of_day=of.issued_on, reason=reason,
        lines=lines, currency=commission.currency, reference=f"commission {commission.code}",
        facts=[("Left of that invoice", say.money(left, commission.currency))], role=str(ROLE_LINE),
    )  # fmt: skip
