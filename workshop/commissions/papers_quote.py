"""The printed quote. What is the cutter's alone (cost, chance, what an hour earns, the tariff's notes) stays out.

Points of a sound quote: currency, tax in or out, valid until, what is expected as ranges, what voids it, the
deposit and whether it comes back, when it will be ready (common practice, no source). The right to withdraw:
Directive 2011/83/EU, Art. 16(c), and the Court of Justice in C-529/19.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from workshop.common import say
from workshop.common.models import Shop
from workshop.papers.document import Block, Column, Document, Facts, Party, Points, Signatures, Table, Text

from .models import CommissionItem, Quote, QuoteLine
from .quote_words import (
    VOIDS,
    WITHDRAWAL,
    deposit_words,
    floor_words,
    follows_words,
    price_words,
    rate_words,
    size_words,
    tax_words,
    taxes,
    total_words,
    weight_words,
    what_words,
)

ROLE = (
    "The workshop’s own offer and terms; nothing in it is a laboratory’s finding or legal advice. "
    "Weights and sizes are expected ranges, not promises beyond what is said here."
)


def content_of_quote(
    quote: Quote, lines: Sequence[QuoteLine], leaving_out: Sequence[CommissionItem] = ()
) -> dict[str, Any]:
    """The frozen record of one version."""
    commission, client = quote.commission, quote.commission.client
    facts = [
        ("Valid until", say.moment(quote.valid_until)),
        ("Expected in the week of", say.moment(quote.expected_week) if quote.expected_week else ""),
        ("Place in the queue", str(quote.queue_place or "")),
        ("Currency", quote.currency),
    ]
    return Document(
        title="Quote",
        shop=Shop.the(),
        reference=f"{commission.code}, version {quote.version}",
        parties=[Party("For", [client.name, client.firm, client.address, client.country])],
        facts=facts,
        blocks=_blocks(quote, lines, leaving_out),
        role=ROLE,
    ).content()


def _blocks(quote: Quote, lines: Sequence[QuoteLine], leaving_out: Sequence[CommissionItem]) -> list[Block]:
    left_out = [f"Piece {item.number} ({item.wanted}) is not part of this quote." for item in leaving_out]
    return [
        Text([quote.why and f"This version follows the one before: {quote.why}", quote.note]),
        _offer(quote, lines),
        Text([*left_out, follows_words(quote), tax_words(quote)]),
        Points([_floor(line) for line in lines], heading="Where I stop and ask"),
        Points([*VOIDS], heading="What voids these figures: I stop, tell you, and quote anew"),
        Points([str(words) for words in quote.risk_lines], heading="Risks you should know", numbered=True),
        Facts(_held(quote, lines), heading="Deposit and off-cuts"),
        Text([quote.terms], heading="Terms"),
        Text([WITHDRAWAL], heading="Right to withdraw"),
        Signatures(
            ["Accepted by the client: name, day", f"For {Shop.the().name}: name, day"], heading="Agreed"
        ),
    ]


def _offer(quote: Quote, lines: Sequence[QuoteLine]) -> Table:
    foot: list[list[str]] = []
    if quote.tax_percent:
        low, _, high = taxes(quote, lines)
        held = "Tax held in it" if quote.tax_included else "Tax"
        foot.append([f"{held} ({rate_words(quote)})", "", "", price_words(low, high, quote.currency)])
    foot.append(["In all, tax in" if quote.tax_percent else "In all", "", "", total_words(quote)])
    return Table(
        [
            Column("What will be done"),
            Column("Finished weight", numeric=True),
            Column("Finished size", numeric=True),
            Column("Price", numeric=True),
        ],
        [
            [
                f"{line.item.number}. {what_words(line)}",
                weight_words(line),
                size_words(line),
                price_words(line.price_low, line.price_high, quote.currency),
            ]
            for line in lines
        ],
        foot=foot,
        total=len(foot) - 1,
        heading="What I offer",
        note="Ranges hold the usual case. Should a stone end outside them, you hear of it before the work goes on.",
    )


def _floor(line: QuoteLine) -> str:
    said = floor_words(line)
    return f"Piece {line.item.number}: {said}" if said else ""


def _held(quote: Quote, lines: Sequence[QuoteLine]) -> list[tuple[str, str]]:
    off_cuts = {line.item.get_off_cuts_display() for line in lines}
    by_piece = "; ".join(f"piece {line.item.number}: {line.item.get_off_cuts_display()}" for line in lines)
    return [
        ("Deposit", deposit_words(quote)),
        ("Off-cuts", next(iter(off_cuts)).capitalize() + "." if len(off_cuts) == 1 else by_piece),
    ]
