"""From the rows of a sale to the content of its invoice and credit notes. What each stone is comes from its gem."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final

from workshop.common import say
from workshop.common.models import Shop
from workshop.gems.trade_words import carats_words, cards_of, line_words, said_in_trade, stone_facts
from workshop.materials.disclosure import ROLE_LINE, Disclosure
from workshop.papers.document import Facts
from workshop.papers.invoicing import Customer, Line, Terms, credit_content, invoice_content
from workshop.people.models import Contact

from .models import LineKind, Sale, SaleInvoice, SaleInvoiceLine, SaleLine

ZERO = Decimal(0)
COMPENSATION: Final = "owed for a stone lent on memo and lost"


def customer_of(contact: Contact) -> Customer:
    """A contact as an invoice names it."""
    return Customer(contact.name, contact.firm, contact.address, contact.country, contact.tax_number)


def said_of(lines: Sequence[SaleLine]) -> dict[int, Disclosure]:
    """What is said of each gem sold, by its key. Raises QuestionOpen, WordsRefused."""
    return {line.gem_id: said_in_trade(line.gem) for line in lines}


def line_of(line: SaleLine, said: Disclosure) -> Line:
    """A line of a sale as its invoice says it: the sums are those of the sale, to the cent."""
    words = line_words(line.gem, said)
    if line.kind == LineKind.COMPENSATION:
        words = f"{words}; {COMPENSATION}"
    return Line(words[:300], f"1 stone, {carats_words(line.gem)}", line.net, line.rate, line.tax)


def sale_invoice_content(
    sale: Sale,
    sold: Sequence[SaleLine],
    lines: Sequence[Line],
    said: dict[int, Disclosure],
    terms: Terms,
    shop: Shop,
) -> dict[str, Any]:
    """The content record of a sale's invoice."""
    return invoice_content(
        shop=shop, customer=customer_of(sale.buyer), terms=terms, lines=lines, currency=sale.currency,
        reference=f"sale {sale.code}",
        facts=[("Date of supply", say.moment(sale.sold_on))],
        account=_account(sale), stones=_stones(sold, said), role=str(ROLE_LINE),
    )  # fmt: skip


def _account(sale: Sale) -> list[tuple[str, str]]:
    rows = [("Total", say.money(sale.gross, sale.currency))]
    for row in sale.payments.all():
        verb = "Paid" if row.amount > 0 else "Given back"
        label = f"{verb} {say.moment(row.on)}, {row.get_way_display()}"
        rows.append((label, say.money(abs(row.amount), sale.currency)))
    return [*rows, ("Still due", say.money(sale.owed, sale.currency))]


def _stones(sold: Sequence[SaleLine], said: dict[int, Disclosure]) -> list[Facts]:
    cards = cards_of([line.gem for line in sold])
    return [stone_facts(line.gem, said[line.gem_id], cards.get(line.gem.code, "")) for line in sold]


def sale_credit_content(
    sale: Sale, of: SaleInvoice, off: Sequence[tuple[SaleInvoiceLine, Line]], reason: str, shop: Shop
) -> dict[str, Any]:
    """The content record of a credit note: what is taken off, line by line, in the words of the invoice."""
    left = of.left - sum((line.gross for _, line in off), ZERO)
    return credit_content(
        shop=shop, customer=customer_of(sale.buyer), of=of.paper.number, of_day=of.issued_on, reason=reason,
        lines=[line for _, line in off], currency=sale.currency, reference=f"sale {sale.code}",
        facts=[
            ("Date of supply", say.moment(sale.sold_on)),
            ("Left of that invoice", say.money(left, sale.currency)),
        ],
        role=str(ROLE_LINE),
    )  # fmt: skip
