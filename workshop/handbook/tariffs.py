"""The arithmetic of a cutter's price list: from the lines of a tariff and what is known of the work to a price.

A tariff is any mix of lines. They are taken in this order, each step rounded once through ``round_money``:

1. base, per carat, per gem, per piece of rough and per hour are added up;
2. that sum × the factor of the facet class × the factor of the species;
3. at least the minimum, for each gem;
4. plus the extras that were asked for, in money or in per cent of the sum so far;
5. plus the percentages on top, each of the sum before any of them.

The shapes of the lines follow price lists that cutters publish (a base with a step per carat, bands per carat,
hours × rate × class of complexity); the figures are always the shop's own. Tax is no part of it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from enum import StrEnum
from typing import Final

from workshop.handbook.errors import DoesNotAddUp, OutOfRange
from workshop.handbook.money import MOST_MONEY, round_money

ZERO: Final = Decimal(0)
HUNDRED: Final = Decimal(100)
SECONDS_IN_AN_HOUR: Final = 3600
MOST_CARATS: Final = Decimal(5_000_000)
"""Our own limit: a metric ton of rough is no work for a cutter."""
MOST_COUNT: Final = 1_000_000
"""Our own limit for gems, pieces and facets."""
MOST_SECONDS: Final = 100_000 * SECONDS_IN_AN_HOUR
"""Our own limit: fifty years at the bench."""


class RateKind(StrEnum):
    """What one line of a tariff charges for."""

    BASE = "base"
    CARAT = "carat"
    PIECE = "piece"
    ROUGH = "rough"
    HOUR = "hour"
    FACETS = "facets"
    SPECIES = "species"
    MINIMUM = "minimum"
    PERCENT = "percent"
    EXTRA = "extra"


class Weighed(StrEnum):
    """Which weight a line goes by: of each finished gem, or of all the rough together."""

    FINISHED = "finished"
    ROUGH = "rough"


@dataclass(frozen=True)
class Rate:
    """One line of a tariff; which fields count follows from its kind.

    - BASE: ``amount`` for a gem above ``from_ct`` up to ``to_ct`` (empty: from nothing, without end);
      ``step_amount`` for each further carat, or none: then the base ends there.
    - CARAT: ``amount`` per carat of the whole weight, when that weight lies above ``from_ct`` up to ``to_ct``.
    - PIECE, ROUGH, HOUR: ``amount`` per finished gem, per piece of rough, per hour.
    - FACETS: ``factor`` for ``from_facets`` to ``to_facets``, both included; no factor: priced by request.
    - SPECIES: ``factor`` for a species or variety; no factor: priced by request. Others count once.
    - MINIMUM: ``amount``, the least for one gem before extras and percentages.
    - PERCENT: ``percent`` on top.
    - EXTRA: ``amount``, or ``percent``, charged only where the key ``extra`` is asked for.

    ``started`` charges each started carat as a whole one. ``label`` stands before the words of its step.
    Money in the currency that ``price_work`` is told, none negative; weights in carats; factors above zero.
    """

    kind: RateKind
    label: str = ""
    amount: Decimal | None = None
    step_amount: Decimal | None = None
    started: bool = False
    weighed: Weighed = Weighed.FINISHED
    from_ct: Decimal | None = None
    to_ct: Decimal | None = None
    from_facets: int | None = None
    to_facets: int | None = None
    species: str = ""
    factor: Decimal | None = None
    percent: Decimal | None = None
    extra: str = ""


@dataclass(frozen=True)
class WorkToPrice:
    """What is known of the work; None where it is not known.

    ``finished_ct``: carats of each finished gem, above zero. ``rough_ct``: carats of all its rough together,
    above zero. ``seconds``: the whole time, zero or more. ``facets``: of each gem, 1 or more. ``species`` and
    ``variety`` by name. ``rough_pieces`` 0 or more (none for a recut), ``gems`` 1 or more. ``extras``: the
    keys that apply; one that is named twice is charged twice.
    """

    finished_ct: Decimal | None = None
    rough_ct: Decimal | None = None
    seconds: int | None = None
    facets: int | None = None
    species: str = ""
    rough_pieces: int = 1
    gems: int = 1
    extras: tuple[str, ...] = ()
    variety: str = ""


@dataclass(frozen=True)
class PriceStep:
    """One step of the sum: why, in plain words, and what it adds (or takes, for a factor below 1)."""

    kind: RateKind
    words: str
    amount: Decimal


@dataclass(frozen=True)
class Priced:
    """A price and the steps that led to it; the steps sum to the amount exactly."""

    amount: Decimal
    steps: tuple[PriceStep, ...]


def price_work(rates: Sequence[Rate], work: WorkToPrice, currency: str) -> Priced:
    """The price of the work by these lines, before tax, with every step said.

    A price never falls as the weight grows unless a band says so: a rate per carat that is lower in the next
    band, or a base that ends where bands begin, can make a gem just above the edge cheaper than one just below.

    Raises DoesNotAddUp where the lines contradict each other (see ``check_rates``); OutOfRange for figures of
    the work out of range, for a weight, hours or facets that a line needs and that are not known
    (``said["needs"]`` names the field), for a weight or a number of facets that no line covers, for what is
    priced by request, and for an extra that has no price here; UnknownCurrency.

    >>> rates = [Rate(RateKind.BASE, amount=Decimal(350), to_ct=Decimal(3), step_amount=Decimal(50))]
    >>> priced = price_work(rates, WorkToPrice(finished_ct=Decimal("5.5")), "USD")
    >>> priced.amount, [step.words for step in priced.steps]
    (Decimal('475.00'), ['up to 3 ct at 350.00 USD', '2.5 ct above 3 ct at 50.00 USD per carat'])
    """
    raise NotImplementedError


def check_rates(rates: Sequence[Rate], currency: str) -> None:
    """Whether the lines make a tariff.

    Raises DoesNotAddUp, with the places of the lines in ``said["lines"]``: no line at all, or none that charges
    anything; two bases for one weight, or bases by different weights; bands or classes that overlap or leave a
    gap between them; the same species, extra, least, or price per hour twice; a line without its figure; more
    decimals than the currency has. OutOfRange for a negative or too large figure; UnknownCurrency.
    """
    raise NotImplementedError


def needed(rates: Iterable[Rate]) -> frozenset[str]:
    """The fields of ``WorkToPrice`` that these lines cannot do without: finished_ct, rough_ct, seconds, facets.

    >>> sorted(needed([Rate(RateKind.HOUR, amount=Decimal(45)), Rate(RateKind.PIECE, amount=Decimal(20))]))
    ['seconds']
    """
    raise NotImplementedError
