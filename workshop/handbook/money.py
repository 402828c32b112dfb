"""Money: the one rounding door, conversion at the bank's rate, and sharing without losing a cent.

Digits of each currency follow ISO 4217. Rounding is half up (halves away from zero), common practice of
invoices.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cache
from typing import Final

from workshop.handbook.errors import DoesNotAddUp, NotANumber, NothingToShareBy, OutOfRange, UnknownCurrency
from workshop.handbook.tables import rows
from workshop.handbook.units import parse_number

MOST_MONEY: Final = Decimal(1_000_000_000_000)
"""Our own limit: an amount above it is a slip of the finger."""

SIGNS: Final = {"EUR": "€", "GBP": "£", "JPY": "¥", "INR": "₹", "THB": "฿"} | dict.fromkeys(
    ("USD", "AUD", "CAD", "NZD", "HKD", "SGD"), "$"
)
"""Signs people type instead of the code; common practice, no source. Read only for the currency that is
asked.
"""


@cache
def currencies() -> dict[str, str]:
    """Codes of ISO 4217 that money is paid in, each with its English name, in the order of the codes."""
    return {row["code"]: row["name"] for row in rows("currencies")}


@cache
def digits(code: str) -> int:
    """How many decimals the currency has: 2 for EUR, 0 for JPY, 3 for KWD. Source: ISO 4217. Raises
    UnknownCurrency.

    >>> digits("EUR"), digits("JPY"), digits("KWD")
    (2, 0, 3)
    """
    for row in rows("currencies"):
        if row["code"] == code:
            return int(row["digits"])
    raise UnknownCurrency(
        f'"{code}" is not a currency code of ISO 4217; give three capital letters, such as EUR.',
        code=code,
    )


def step(currency: str) -> Decimal:
    """The smallest amount of a currency: 0.01 for EUR, 1 for JPY. Raises UnknownCurrency."""
    return Decimal(1).scaleb(-digits(currency))


def round_money(amount: Decimal, currency: str) -> Decimal:
    """The amount in whole smallest units, halves away from zero: the only place where money is rounded.

    >>> round_money(Decimal("2.005"), "EUR"), round_money(Decimal("-2.005"), "EUR")
    (Decimal('2.01'), Decimal('-2.01'))
    """
    return amount.quantize(step(currency), ROUND_HALF_UP)


def convert(amount: Decimal, rate: Decimal, currency: str) -> Decimal:
    """``amount`` at ``rate`` units of ``currency`` for one of its own, rounded. Raises OutOfRange for a rate
    <= 0.
    """
    return round_money(amount * _checked_rate(rate), currency)


def convert_together(amounts: Sequence[Decimal], rate: Decimal, currency: str) -> list[Decimal]:
    """Amounts that the bank took in one go: their sum is rounded once, and the parts are made to tie with it.

    Parts are rounded by largest remainder, so ``sum(parts) == convert(sum(amounts), rate, currency)`` and
    each part is within one smallest unit of its own exact figure. An amount may be negative (a credit).

    Raises OutOfRange for a rate <= 0.

    >>> convert_together([Decimal("1226.70"), Decimal("35.00"), Decimal("62.00")], Decimal("0.9315"), "EUR")
    [Decimal('1142.67'), Decimal('32.60'), Decimal('57.76')]
    """
    _checked_rate(rate)
    exact = [Fraction(amount) * Fraction(rate) for amount in amounts]
    total = convert(sum(amounts, Decimal(0)), rate, currency)
    return _largest_remainder(exact, total, step(currency))


def split(total: Decimal, shares: Sequence[Decimal], step: Decimal) -> list[Decimal]:
    """``total`` in parts by ``shares``, each a whole number of ``step``, summing to ``total`` exactly.

    Largest remainder: every part is cut down to a whole step, then the steps left over go one each to the
    parts that lost most, the earlier one where two lost the same. A share of zero gets zero; a negative total
    is the mirror of the positive one. Shares of any scale (weights, values, counts), none negative.

    Raises NothingToShareBy when every share is zero and the total is not; OutOfRange for a negative share;
    DoesNotAddUp when ``total`` is not a whole number of steps.

    >>> split(Decimal("1000.00"), [Decimal(1)] * 3, Decimal("0.01"))
    [Decimal('333.34'), Decimal('333.33'), Decimal('333.33')]
    """
    if any(share < 0 for share in shares):
        raise OutOfRange("A share cannot be negative.", shares=tuple(shares))
    if total % step != 0:
        raise DoesNotAddUp(
            f"{total} is not a whole number of {step}, so its parts cannot sum to it.", total=total
        )
    if total < 0:
        return [-part for part in split(-total, shares, step)]
    whole = sum(map(Fraction, shares), Fraction(0))
    if whole == 0:
        if total != 0:
            raise NothingToShareBy(f"There is {total} to share, but every share is zero.", total=total)
        return [Decimal(0) * step for _ in shares]
    return _largest_remainder([Fraction(total) * Fraction(share) / whole for share in shares], total, step)


def parse_money(text: str, currency: str) -> Decimal:
    """Read an amount of ``currency``; its code or sign may stand before or behind it. Negative amounts are
    read
    too.

    More decimals than the currency has are refused even when they are zeros: ``1.500`` dollars may well be a
    thousand and five hundred.

    Raises NotANumber, UnknownCurrency, OutOfRange (above 10^12).

    >>> parse_money("1 226,70", "USD"), parse_money("EUR 12", "EUR")
    (Decimal('1226.70'), Decimal('12.00'))
    """
    places = digits(currency)
    mark = rf"(?:{currency}|{re.escape(SIGNS.get(currency, currency))})"
    amount = parse_number(re.sub(rf"^\s*{mark}|{mark}\s*$", "", text, count=1, flags=re.IGNORECASE))
    typed = max(0, -int(amount.as_tuple().exponent))
    if typed > places:
        raise NotANumber(
            f"{currency} has {places} decimals, but {typed} were typed; "
            "type thousands without a mark, such as "
            f"{round_money(Decimal('1234.5'), currency)}.",
            text=text,
        )
    if abs(amount) > MOST_MONEY:
        raise OutOfRange("That amount cannot be right; please check the point.", value=amount)
    return round_money(amount, currency)


def tax_on_net(net: Decimal, percent: Decimal, currency: str) -> Decimal:
    """Tax to add to a net amount, rounded once. Raises OutOfRange for a negative rate.

    >>> tax_on_net(Decimal("765.60"), Decimal(19), "EUR")
    Decimal('145.46')
    """
    return round_money(net * _checked_percent(percent) / 100, currency)


def tax_in_gross(gross: Decimal, percent: Decimal, currency: str) -> Decimal:
    """Tax contained in a gross amount, rounded once. Raises OutOfRange for a negative rate.

    >>> tax_in_gross(Decimal("119.00"), Decimal(19), "EUR")
    Decimal('19.00')
    """
    return round_money(gross * _checked_percent(percent) / (100 + percent), currency)


def _largest_remainder(exact: Sequence[Fraction], total: Decimal, step: Decimal) -> list[Decimal]:
    """``exact`` figures as whole steps that sum to ``total``, their sum rounded to a step."""
    steps = [figure / Fraction(step) for figure in exact]
    whole = [figure.__floor__() for figure in steps]
    over = int(total / step) - sum(whole)
    by_loss = sorted(range(len(steps)), key=lambda i: whole[i] - steps[i])
    for i in by_loss[:over]:
        whole[i] += 1
    return [part * step for part in map(Decimal, whole)]


def _checked_rate(rate: Decimal) -> Decimal:
    if rate <= 0:
        raise OutOfRange("An exchange rate must be above zero.", rate=rate)
    return rate


def _checked_percent(percent: Decimal) -> Decimal:
    if percent < 0:
        raise OutOfRange("A tax rate cannot be negative.", percent=percent)
    return percent
