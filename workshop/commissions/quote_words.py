"""How a quote is said to the client: ranges, prices, what the client agrees to. Nothing here is the cutter's alone."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, override

from workshop.common import say

from .asks import Triple
from .models import CommissionItem, Quote, QuoteLine
from .quoting import ON_CUT, goes_by, terms_of
from .risks import risks_of, subject_of

TO = "–"
WITHDRAWAL = gettext_lazy(
    "Made to your wishes: where a law gives consumers who order at a distance a right to withdraw (in the European "
    "Union and the United Kingdom usually 14 days), goods made to the customer’s own specification are commonly "
    "excepted from it. This is a hint, not legal advice; the law of your country comes first."
)
VOIDS = (
    gettext_lazy("A hidden fissure, inclusion or strain that only shows while cutting."),
    gettext_lazy(
        "A species, a treatment or a nature of the material other than was stated or taken for granted here."
    ),
    gettext_lazy("A change of your wishes after the work began."),
)


def price_words(low: Decimal, high: Decimal, currency: str) -> str:
    """180.00 to 240.00 EUR, or one figure where both ends are the same."""
    if low == high:
        return say.money(low, currency)
    return f"{say.money(low, currency).partition(say.GAP)[0]}{TO}{say.money(high, currency)}"


def what_words(line: QuoteLine) -> str:
    """What will be done; for a stone that is cut already, from which weight and with what loss."""
    low, high, start = line.weight_low_ct, line.weight_high_ct, line.rough_ct
    if line.item.work not in ON_CUT or low is None or high is None or not start:
        return line.what
    least, most = (100 - 100 * end * line.gems / start for end in (high, low))
    loss = say.percent(most) if least == most else f"{say.number(least, 1)}{TO}{say.percent(most)}"
    told = {"what": line.what, "weight": say.carats(start, 2), "loss": loss}
    return _("%(what)s (from %(weight)s, loss %(loss)s)") % told


def weight_words(line: QuoteLine) -> str:
    """2.10 to 2.60 ct, each where there are several; empty where no weight is promised."""
    if line.weight_low_ct is None or line.weight_high_ct is None:
        return ""
    low, high = say.number(line.weight_low_ct, 2), say.carats(line.weight_high_ct, 2)
    words = (
        say.carats(line.weight_low_ct, 2) if line.weight_low_ct == line.weight_high_ct else f"{low}{TO}{high}"
    )
    return _("%(weight)s each") % {"weight": words} if line.gems > 1 else words


def size_words(line: QuoteLine) -> str:
    """8.20 to 8.60 by 6.90 to 7.20 mm; empty where no size is promised."""
    sides = [
        _side(low, high)
        for low, high in (
            (line.length_low_mm, line.length_high_mm),
            (line.width_low_mm, line.width_high_mm),
        )
        if low is not None and high is not None
    ]
    return f"{' × '.join(sides)}{say.GAP}mm" if sides else ""


def _side(low: Decimal, high: Decimal) -> str:
    return say.number(low, 2) if low == high else f"{say.number(low, 2)}{TO}{say.number(high, 2)}"


def floor_words(line: QuoteLine) -> str:
    """Below this I stop and ask you; empty where no floor is agreed."""
    if line.floor_ct is None:
        return ""
    return _("Below %(weight)s I stop and ask you first.") % {"weight": say.carats(line.floor_ct, 2)}


def tax_words(quote: Quote) -> str:
    """Whether the prices hold the tax."""
    if not quote.tax_percent:
        return _("No tax is charged.")
    rate = {"rate": rate_words(quote)}
    if quote.tax_included:
        return _("Prices hold %(rate)s tax.") % rate
    return _("Prices of the pieces are without tax; %(rate)s comes on top and stands in the sum.") % rate


def rate_words(quote: Quote) -> str:
    """19 %, with no more places than it has."""
    return say.with_unit(Decimal(f"{quote.tax_percent.normalize():f}"), "%", None)


def follows_words(quote: Quote) -> str:
    """How the price comes about in the end."""
    if quote.firm or quote.price_low == quote.price_high:
        return _("The price is firm, whatever the finished weight.")
    found = frozenset[str]().union(*(goes_by(line) for line in _lines(quote)))
    if found == {"weight", "hours"}:
        return _(
            "The price follows what the finished stone weighs and the hours the work takes, and stays inside the range."
        )
    if found == {"hours"}:
        return _("The price follows the hours the work takes and stays inside the range.")
    if found == {"weight"}:
        return _("The price follows what the finished stone weighs and stays inside the range.")
    return _("The price stays inside the range.")


def _lines(quote: Quote) -> list[QuoteLine]:
    lines = list(quote.lines.all())
    for line in lines:
        line.quote = quote
    return lines


def deposit_words(quote: Quote) -> str:
    """How much before the work begins, and whether it comes back."""
    if not quote.deposit:
        return ""
    sum_ = {"sum": say.money(quote.deposit, quote.currency)}
    if quote.deposit_refundable:
        words = _(
            "%(sum)s before the work begins; it is paid back if you cancel before the work begins and counts "
            "towards the price."
        )
        return words % sum_
    words = _("%(sum)s before the work begins; it is not paid back and counts towards the price.")
    return words % sum_


def quote_risks(items: Sequence[CommissionItem]) -> list[str]:
    """The risk topics of several pieces, each once: what holds for all of them first, the rest by its piece.

    The weights stand in the quote itself, with their floors.
    """
    by_piece = {
        item: [risk.words for risk in risks_of(subject_of(item)) if risk.topic != "weight"] for item in items
    }
    if len(by_piece) < 2:
        return [words for said in by_piece.values() for words in said]
    shared = set.intersection(*map(set, by_piece.values()))
    found = [words for words in next(iter(by_piece.values())) if words in shared]
    return found + [
        of_piece(item.number, words)
        for item, said in by_piece.items()
        for words in said
        if words not in shared
    ]


def of_piece(number: object, words: str) -> str:
    """A sentence about one piece of several."""
    return _("Piece %(number)s: %(words)s") % {"number": number, "words": words}


def risks_here(quote: Quote, items: Sequence[CommissionItem]) -> list[str]:
    """The risks of a quote as they were drafted: those the shop's own tables proposed in the language in force, those
    that were typed or changed as typed."""
    told: dict[str, str] = {}
    for some in ([*items], *([item] for item in items)):
        with override("en"):
            english = quote_risks(some)
        told |= dict(zip(english, quote_risks(some), strict=False))
        if len(some) == 1:
            told |= {
                f"Piece {some[0].number}: {before}": of_piece(some[0].number, told[before])
                for before in english
            }
    return [told.get(str(words), str(words)) for words in quote.risk_lines]


def total_words(quote: Quote) -> str:
    """What the client pays in all, tax in."""
    return price_words(quote.price_low, quote.price_high, quote.currency)


def taxes(quote: Quote, lines: Sequence[QuoteLine]) -> Triple:
    """The tax in the sums of all lines: low, middle, high."""
    terms = terms_of(quote)
    low, middle, high = (
        sum((terms.gross(price) - terms.net(price) for price in prices), Decimal(0))
        for prices in zip(*((line.price_low, line.price, line.price_high) for line in lines), strict=True)
    )
    return low, middle, high


def agreement(quote: Quote) -> str:
    """The words the client agrees to, as they are shown and kept."""
    paper = f" ({quote.paper.number})" if quote.paper is not None else ""
    parts = [
        f"I accept version {quote.version} of the quote for {quote.commission.code}{paper}: "
        f"{total_words(quote)} in all, tax included."
        if quote.tax_percent
        else f"I accept version {quote.version} of the quote for {quote.commission.code}{paper}: "
        f"{total_words(quote)} in all.",
        follows_words(quote),
        f"Deposit: {deposit_words(quote)}" if quote.deposit else "",
        "I have read the ranges, the floors, the risks and the terms of that quote and agree to them.",
    ]
    return " ".join(filter(None, parts))
