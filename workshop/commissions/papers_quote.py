"""The printed quote. What is the cutter's alone (cost, chance, what an hour earns, the tariff's notes) stays out.

Points of a sound quote: currency, tax in or out, valid until, what is expected as ranges, what voids it, the
deposit and whether it comes back, when it will be ready (common practice, no source). The right to withdraw:
Directive 2011/83/EU, Art. 16(c), and the Court of Justice in C-529/19.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, override

from workshop.common import say
from workshop.common.models import Shop
from workshop.materials.naming import capital, choice
from workshop.papers.document import Block, Column, Document, Facts, Party, Points, Signatures, Table, Text
from workshop.papers.languages import language_for

from .models import CommissionItem, Quote, QuoteLine
from .quote_words import (
    VOIDS,
    WITHDRAWAL,
    deposit_words,
    floor_words,
    follows_words,
    of_piece,
    price_words,
    rate_words,
    risks_here,
    size_words,
    tax_words,
    taxes,
    total_words,
    weight_words,
    what_words,
)

ROLE = gettext_lazy(
    "The workshop’s own offer and terms; nothing in it is a laboratory’s finding or legal advice. "
    "Weights and sizes are expected ranges, not promises beyond what is said here."
)


def content_of_quote(
    quote: Quote,
    lines: Sequence[QuoteLine],
    leaving_out: Sequence[CommissionItem] = (),
    language: str = "",
) -> dict[str, Any]:
    """The frozen record of one version, in the shop's language of papers unless told another."""
    with override(language_for(language)):
        return _content(quote, lines, leaving_out)


def _content(
    quote: Quote, lines: Sequence[QuoteLine], leaving_out: Sequence[CommissionItem]
) -> dict[str, Any]:
    commission, client = quote.commission, quote.commission.client
    facts = [
        (_("Valid until"), say.moment(quote.valid_until)),
        (_("Expected in the week of"), say.moment(quote.expected_week) if quote.expected_week else ""),
        (_("Place in the queue"), str(quote.queue_place or "")),
        (_("Currency"), quote.currency),
    ]
    return Document(
        title=_("Quote"),
        shop=Shop.the(),
        reference=_("%(code)s, version %(version)s") % {"code": commission.code, "version": quote.version},
        parties=[Party(_("For"), [client.name, client.firm, client.address, client.country])],
        facts=facts,
        blocks=_blocks(quote, lines, leaving_out),
        role=str(ROLE),
    ).content()


def _blocks(quote: Quote, lines: Sequence[QuoteLine], leaving_out: Sequence[CommissionItem]) -> list[Block]:
    left_out = [
        _("Piece %(number)s (%(what)s) is not part of this quote.")
        % {"number": item.number, "what": item.wanted}
        for item in leaving_out
    ]
    why = _("This version follows the one before: %(why)s") % {"why": quote.why} if quote.why else ""
    return [
        Text([why, quote.note]),
        _offer(quote, lines),
        Text([*left_out, follows_words(quote), tax_words(quote)]),
        Points([_floor(line) for line in lines], heading=_("Where I stop and ask")),
        Points(
            [str(one) for one in VOIDS],
            heading=_("What voids these figures: I stop, tell you, and quote anew"),
        ),
        Points(
            risks_here(quote, [line.item for line in lines]),
            heading=_("Risks you should know"),
            numbered=True,
        ),
        Facts(_held(quote, lines), heading=_("Deposit and off-cuts")),
        Text([quote.terms], heading=_("Terms")),
        Text([str(WITHDRAWAL)], heading=_("Right to withdraw")),
        Signatures(
            [
                _("Accepted by the client: name, day"),
                _("For %(shop)s: name, day") % {"shop": Shop.the().name},
            ],
            heading=_("Agreed"),
        ),
    ]


def _offer(quote: Quote, lines: Sequence[QuoteLine]) -> Table:
    foot: list[list[str]] = []
    if quote.tax_percent:
        low, _middle, high = taxes(quote, lines)
        held = _("Tax held in it (%(rate)s)") if quote.tax_included else _("Tax (%(rate)s)")
        rate = held % {"rate": rate_words(quote)}
        foot.append([rate, "", "", price_words(low, high, quote.currency)])
    foot.append([_("In all, tax in") if quote.tax_percent else _("In all"), "", "", total_words(quote)])
    return Table(
        [
            Column(_("What will be done")),
            Column(_("Finished weight"), numeric=True),
            Column(_("Finished size"), numeric=True),
            Column(_("Price"), numeric=True),
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
        heading=_("What I offer"),
        note=_(
            "Ranges hold the usual case. Should a stone end outside them, you hear of it before the work goes on."
        ),
    )


def _floor(line: QuoteLine) -> str:
    said = floor_words(line)
    return of_piece(line.item.number, said) if said else ""


def _held(quote: Quote, lines: Sequence[QuoteLine]) -> list[tuple[str, str]]:
    off_cuts = {choice(line.item.get_off_cuts_display()) for line in lines}
    by_piece = "; ".join(
        _("piece %(number)s: %(words)s")
        % {"number": line.item.number, "words": choice(line.item.get_off_cuts_display())}
        for line in lines
    )
    return [
        (_("Deposit"), deposit_words(quote)),
        (_("Off-cuts"), f"{capital(next(iter(off_cuts)))}." if len(off_cuts) == 1 else by_piece),
    ]
