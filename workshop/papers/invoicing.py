"""What an invoice and a credit note say, and what they may not be issued without.

Fields after Directive 2006/112/EC, Art. 226 (full) and 226b (simplified), the numbers (8) to (15) of Art. 226 from
memory. A correction is a credit note that names the invoice by number and date (Art. 219).

No margin scheme: "second-hand goods" leaves out precious stones (Art. 311(1)(1); Court of Justice C-154/17, E LATS;
gov.uk lists them as not eligible), so it is not offered for loose stones.

All of this is the Union's frame; what has to stand in an invoice is set by local law, and nothing here is advice.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from workshop.common import say
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import Shop

from .document import Block, Column, Document, Facts, Party, Rows, Table, Text

ZERO = Decimal(0)
REVERSE_CHARGE: Final = "Reverse charge: the customer accounts for the tax."
MARGIN: Final = re.compile(r"margin[\s-]+scheme|margin[\s-]+tax|second[\s-]+hand\s+goods", re.IGNORECASE)
NO_MARGIN: Final = (
    "Loose precious stones are no “second-hand goods” (Directive 2006/112/EC, Art. 311(1)(1); C-154/17, E LATS): "
    "the margin scheme is not offered for them. Have the tax checked against your local law."
)


@dataclass(frozen=True)
class Line:
    """One supply: what it is, how much of it, and its sums as they were booked. A reduction is below zero."""

    words: str
    quantity: str
    net: Decimal
    percent: Decimal
    tax: Decimal

    @property
    def gross(self) -> Decimal:
        """With tax."""
        return self.net + self.tax


@dataclass(frozen=True)
class Customer:
    """Whom it is for."""

    name: str
    firm: str = ""
    address: str = ""
    country: str = ""
    tax_number: str = ""

    def lines(self) -> list[str]:
        """As they stand on the paper; the tax number where there is one."""
        number = f"Tax number {self.tax_number}" if self.tax_number.strip() else ""
        return [self.name, self.firm, self.address, self.country, number]


@dataclass(frozen=True)
class Terms:
    """What the cutter chose for one invoice; ``tax_words`` are typed, and to be checked against local law."""

    due_on: date | None = None
    tax_words: str = ""
    reverse_charge: bool = False
    simplified: bool = False
    note: str = ""
    sure: bool = False


@dataclass(frozen=True)
class Sums:
    """Net, tax and gross of lines together."""

    net: Decimal
    tax: Decimal

    @property
    def gross(self) -> Decimal:
        """With tax."""
        return self.net + self.tax


def sum_of(lines: Sequence[Line]) -> Sums:
    """What lines come to; each was rounded by itself, so the sum is to the cent."""
    return Sums(sum((line.net for line in lines), ZERO), sum((line.tax for line in lines), ZERO))


def by_rate(lines: Sequence[Line]) -> list[tuple[Decimal, Sums]]:
    """Taxable amount and tax of each rate, the highest first.

    >>> lines = [Line("a", "1", Decimal("100.00"), Decimal(20), Decimal("20.00")),
    ...          Line("b", "1", Decimal("50.00"), Decimal(20), Decimal("10.00"))]
    >>> [(rate, sums.net, sums.tax) for rate, sums in by_rate(lines)]
    [(Decimal('20'), Decimal('150.00'), Decimal('30.00'))]
    """
    rates: dict[Decimal, list[Line]] = defaultdict(list)
    for line in lines:
        rates[line.percent].append(line)
    return [(rate, sum_of(rates[rate])) for rate in sorted(rates, reverse=True)]


def check(shop: Shop, customer: Customer, terms: Terms, lines: Sequence[Line]) -> None:
    """Refuse what may not leave the house; ask about what is odd. Raises DeedRefused, PleaseConfirm."""
    for words in (terms.tax_words, terms.note, *(line.words for line in lines)):
        if MARGIN.search(words):
            raise DeedRefused(NO_MARGIN, field="tax_words")
    if not shop.address.strip():
        raise DeedRefused(
            "An invoice names the seller's address (Art. 226(5)); write the shop's in its settings."
        )
    if not terms.simplified and not customer.address.strip():
        raise DeedRefused(
            f"A full invoice names the customer's address (Art. 226(5)); write it on the page of {customer.name}."
        )
    _check_tax(shop, customer, terms, sum_of(lines), lines)


def _check_tax(shop: Shop, customer: Customer, terms: Terms, sums: Sums, lines: Sequence[Line]) -> None:
    if sums.tax and not shop.tax_number.strip():
        raise DeedRefused(
            "Tax is charged, but the shop has no tax number (Art. 226(3)); write it in its settings."
        )
    if terms.reverse_charge and any(line.tax for line in lines):
        raise DeedRefused("With reverse charge no line bears tax (Art. 226(11a)).", field="reverse_charge")
    if terms.reverse_charge and not customer.tax_number.strip():
        raise DeedRefused(
            f"Reverse charge needs the customer's tax number (Art. 226(4)); write it on the page of {customer.name}.",
            field="reverse_charge",
        )
    untaxed = any(line.net and not line.percent for line in lines)
    if (
        untaxed
        and shop.tax_number.strip()
        and not (terms.reverse_charge or terms.tax_words.strip() or terms.sure)
    ):
        raise PleaseConfirm(
            "A line bears no tax, and nothing says why: an exemption is named in the invoice (Art. 226(11)).",
            field="tax_words",
        )


def invoice_content(
    *,
    shop: Shop,
    customer: Customer,
    terms: Terms,
    lines: Sequence[Line],
    currency: str,
    reference: str,
    facts: Rows,
    account: Rows,
    stones: Sequence[Block] = (),
    role: str,
    title: str = "",
) -> dict[str, Any]:
    """The content record of an invoice. ``account``: what was paid and is due; ``stones``: what each one is."""
    return Document(
        title=title or ("Simplified invoice" if terms.simplified else "Invoice"),
        shop=shop,
        reference=reference,
        parties=[Party("For", customer.lines())],
        facts=[
            *facts,
            ("Currency", currency),
            ("To be paid by", say.moment(terms.due_on) if terms.due_on else ""),
        ],
        blocks=[
            _lines(lines, currency),
            _rates(lines, currency),
            Facts(account, heading="Account"),
            Text(
                [REVERSE_CHARGE if terms.reverse_charge else "", terms.tax_words], heading="Tax", strong=True
            ),
            *stones,
            Text([terms.note]),
        ],
        role=role,
    ).content()


def credit_content(
    *,
    shop: Shop,
    customer: Customer,
    of: str,
    of_day: date,
    reason: str,
    lines: Sequence[Line],
    currency: str,
    reference: str,
    facts: Rows = (),
    stones: Sequence[Block] = (),
    role: str,
) -> dict[str, Any]:
    """The content record of a credit note; ``of`` is the number of the invoice it amends. Lines above zero."""
    named = f"This credit note amends invoice {of} of {say.moment(of_day)}."
    return Document(
        title="Credit note",
        shop=shop,
        reference=reference,
        parties=[Party("For", customer.lines())],
        facts=[
            ("Amends invoice", of),
            ("Invoice of", say.moment(of_day)),
            *facts,
            ("Currency", currency),
        ],
        blocks=[
            Text([named, f"Reason: {reason}"], strong=True),
            _lines(lines, currency, heading="What is credited", unit="Without tax", note="Weights by scale."),
            _rates(lines, currency),
            *stones,
        ],
        role=role,
    ).content()


WHOLE_PRICES: Final = (
    "Each line is one thing or one work at its whole price; reductions that were agreed are in it, or stand below "
    "zero. Weights by scale."
)


def _lines(
    lines: Sequence[Line],
    currency: str,
    *,
    heading: str = "What was supplied",
    unit: str = "Unit price without tax",
    note: str = WHOLE_PRICES,
) -> Table:
    return Table(
        [
            Column("What"),
            Column("Quantity", numeric=True),
            Column(unit, numeric=True),
            Column("Rate", numeric=True),
            Column("Tax", numeric=True),
            Column("With tax", numeric=True),
        ],
        [
            [
                line.words,
                line.quantity,
                say.money(line.net, currency),
                rate_words(line.percent),
                say.money(line.tax, currency),
                say.money(line.gross, currency),
            ]
            for line in lines
        ],
        heading=heading,
        note=note,
    )


def _rates(lines: Sequence[Line], currency: str) -> Table:
    sums = sum_of(lines)
    return Table(
        [
            Column("Tax by rate"),
            Column("Taxable amount", numeric=True),
            Column("Tax", numeric=True),
            Column("With tax", numeric=True),
        ],
        [[rate_words(rate), *_said(part, currency)] for rate, part in by_rate(lines)],
        foot=[["Total", *_said(sums, currency)]],
        heading="Tax and total",
    )


def _said(sums: Sums, currency: str) -> list[str]:
    return [say.money(amount, currency) for amount in (sums.net, sums.tax, sums.gross)]


def rate_words(percent: Decimal) -> str:
    """19 %, without zeros nobody typed."""
    return f"{percent.normalize():f}\u00a0%"
