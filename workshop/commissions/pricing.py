"""Prices of a line: by the tariff at the three cases, later at the weight found, and the chance that they pay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from workshop.common.errors import DeedRefused
from workshop.handbook.errors import HandbookError
from workshop.handbook.money import round_money
from workshop.handbook.promises import Spread, chance_covered
from workshop.handbook.tariffs import PriceStep, WorkToPrice, needed, price_work
from workshop.planning import figures

from .asks import PRICES, ZERO, Terms, Triple, Typed, over

THOUSANDTH = Decimal("0.001")
#: Which box of the form a refusal of the tariff belongs beside.
BOXES = {"finished_ct": "weight_low_ct", "seconds": "seconds", "facets": "facets", "rough_ct": "rough_ct"}


@dataclass(frozen=True)
class Promise:
    """What a line promises: prices low, middle, high; the weights they go with; whether they were typed."""

    prices: Triple
    weights: Triple | None
    typed: bool


@dataclass(frozen=True)
class Priced:
    """A promise, the steps of its middle case, and what the tariff said where something was typed over it."""

    promise: Promise
    steps: tuple[PriceStep, ...]
    worked_out: dict[str, str]


def price(
    terms: Terms, work: WorkToPrice, typed: Typed, weights: Triple | None, seconds: tuple[int, int, int]
) -> Priced:
    """The price of each case. Refused where the tariff cannot price the work and nothing was typed."""
    by_hand = any(getattr(typed, name) is not None for name in PRICES)
    found: Triple | None = None
    steps: tuple[PriceStep, ...] = ()
    try:
        found, steps = _by_tariff(terms, work, weights, seconds)
    except HandbookError as error:
        if not by_hand:
            box = BOXES.get(str(error.said.get("needs", "")), "price")
            raise DeedRefused(f"{error} Or type a price, with a reason.", field=box) from error
    prices, under = over(typed, PRICES, found)
    low, middle, high = (round_money(one, terms.currency) for one in prices)
    if low < 0:
        raise DeedRefused("A price is zero or more.", field="price_low")
    three = (middle, middle, middle) if terms.firm else (low, middle, high)
    return Priced(Promise(three, weights, by_hand), steps, under)


def _by_tariff(
    terms: Terms, work: WorkToPrice, weights: Triple | None, seconds: tuple[int, int, int]
) -> tuple[Triple, tuple[PriceStep, ...]]:
    """The tariff at each case, put in order: a band may make the heavier stone the cheaper one."""
    carats: Sequence[Decimal | None] = weights or (None, None, None)
    priced = [
        price_work(terms.rates, replace(work, finished_ct=ct, seconds=long), terms.currency)
        for ct, long in zip(carats, seconds, strict=True)
    ]
    amounts = [one.amount for one in priced]
    return (min(amounts), amounts[1], max(amounts)), priced[1].steps


def price_at(
    terms: Terms, work: WorkToPrice, promise: Promise, carats: Decimal | None, seconds: int
) -> Decimal:
    """The price once weight (each gem) and hours are known: by the tariff, or along what was typed; as promised.

    It never leaves the range that was promised, whatever the stone weighs in the end.
    """
    low, middle, high = promise.prices
    if low == high:
        return middle
    found = None
    if not promise.typed:
        try:
            found = price_work(
                terms.rates, replace(work, finished_ct=carats, seconds=seconds), terms.currency
            ).amount
        except HandbookError:
            # A weight that no line covers: the promise itself says between which prices it stays.
            found = None
    if found is None:
        found = round_money(_along(promise, carats), terms.currency)
    return min(max(found, low), high)


def _along(promise: Promise, carats: Decimal | None) -> Decimal:
    """Straight lines from the lightest stone's price over the middle one's to the heaviest one's."""
    low, middle, high = promise.prices
    if promise.weights is None or carats is None:
        return middle
    least, likely, most = promise.weights
    if carats <= likely:
        part = ZERO if likely == least else (likely - max(carats, least)) / (likely - least)
        return middle - (middle - low) * part
    part = ZERO if most == likely else (min(carats, most) - likely) / (most - likely)
    return middle + (high - middle) * part


def chance(
    terms: Terms,
    work: WorkToPrice,
    promise: Promise,
    weight: Spread | None,
    hours: Spread,
    *,
    rate: Decimal,
    costs: Decimal,
) -> Decimal:
    """The chance that the net price pays ``costs`` and every hour at ``rate``, in per cent to 0.1."""
    firm = promise.prices[0] == promise.prices[2]

    def net(carats: float | None, long: float) -> float:
        ct = None if carats is None else max(figures.carats(carats), THOUSANDTH)
        return float(terms.net(price_at(terms, work, promise, ct, figures.seconds(long))))

    by_hours = not (firm or promise.typed) and "seconds" in needed(terms.rates)
    return figures.per_cent(
        chance_covered(
            net, None if firm else weight, hours, rate=float(rate), costs=float(costs), by_hours=by_hours
        )
    )
