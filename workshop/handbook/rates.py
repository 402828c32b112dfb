"""The lines of a cutter's price list: what one may say, and whether several make a tariff.

The shapes follow price lists that cutters publish (a base with a step per carat, bands per carat, hours × rate ×
class of complexity); the figures are always the shop's own. ``tariffs`` reckons with them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from itertools import pairwise
from typing import Final

from workshop.handbook.errors import DoesNotAddUp, OutOfRange
from workshop.handbook.money import MOST_MONEY, round_money

ZERO: Final = Decimal(0)
MOST_COUNT: Final = 1_000_000
"""Our own limit for gems, pieces and facets."""
MOST_FACTOR: Final = 1000
"""Our own limit for factors and percentages."""
MOST_CARATS: Final = Decimal(5_000_000)
"""Our own limit: a metric ton of rough is no work for a cutter."""


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

    @property
    def end_ct(self) -> Decimal | None:
        """Where the band ends; a base with a price for each further carat goes on without end."""
        return None if self.step_amount is not None else self.to_ct

    def holds(self, weight: Decimal) -> bool:
        """Whether a weight lies in the band of a base or a price per carat."""
        return (self.from_ct or ZERO) < weight and (self.end_ct is None or weight <= self.end_ct)

    @property
    def edges(self) -> tuple[int, int]:
        """The first and the last number of facets of a class."""
        low = 1 if self.from_facets is None else self.from_facets
        return low, MOST_COUNT if self.to_facets is None else self.to_facets

    def holds_facets(self, facets: int) -> bool:
        """Whether a number of facets lies in the class."""
        low, high = self.edges
        return low <= facets <= high


_CHARGING: Final = frozenset(RateKind) - {RateKind.FACETS, RateKind.SPECIES, RateKind.PERCENT}
_NEEDS_AMOUNT: Final = _CHARGING - {RateKind.EXTRA}
_TWICE: Final = {
    RateKind.SPECIES: "{name} has two factors: keep one.",
    RateKind.EXTRA: "The extra “{name}” has two prices: keep one.",
    RateKind.MINIMUM: "There are two leasts for a gem: keep one.",
    RateKind.HOUR: "There are two prices per hour: keep one.",
    RateKind.PIECE: "Two prices per gem with the same name: keep one, or name them.",
    RateKind.ROUGH: "Two prices per piece of rough with the same name: keep one, or name them.",
    RateKind.PERCENT: "Two percentages with the same name: keep one, or name them.",
}


def check_rates(rates: Sequence[Rate], currency: str) -> None:
    """Whether the lines make a tariff.

    Raises DoesNotAddUp, with the places of the lines in ``said["lines"]``: no line at all, or none that charges
    anything; two bases for one weight, or bases by different weights; bands or classes that overlap or leave a
    gap between them; the same species, extra, least, or price per hour twice; a line without its figure; more
    decimals than the currency has. OutOfRange for a negative or too large figure; UnknownCurrency.
    """
    round_money(ZERO, currency)
    if not rates:
        raise DoesNotAddUp("A tariff needs at least one line.", lines=())
    for place, rate in enumerate(rates):
        _check_line(place, rate, currency)
    _check_once(rates)
    _check_bands(rates)
    _check_classes(rates)
    if not any(rate.kind in _CHARGING for rate in rates):
        raise DoesNotAddUp("No line of this tariff charges anything.", lines=())


def _check_line(place: int, rate: Rate, currency: str) -> None:
    def refuse(words: str) -> DoesNotAddUp:
        return DoesNotAddUp(words, lines=(place,))

    for sum_ in (rate.amount, rate.step_amount):
        if sum_ is not None and not (sum_.is_finite() and 0 <= sum_ <= MOST_MONEY):
            raise OutOfRange("A price in a tariff is zero or more, and not that large.", lines=(place,))
        if sum_ is not None and round_money(sum_, currency) != sum_:
            raise refuse(f"{plain(sum_)} has more decimals than {currency} has.")
    for figure, words in ((rate.factor, "factor"), (rate.percent, "percentage")):
        if figure is not None and not (figure.is_finite() and 0 < figure <= MOST_FACTOR):
            raise OutOfRange(f"A {words} lies above 0 and up to {MOST_FACTOR}.", lines=(place,))
    if rate.kind in _NEEDS_AMOUNT and rate.amount is None:
        raise refuse("This line needs its price.")
    if rate.kind is RateKind.PERCENT and rate.percent is None:
        raise refuse("This line needs its percentage.")
    if rate.kind is RateKind.SPECIES and not rate.species.strip():
        raise refuse("Say which species or variety the factor is for.")
    if rate.kind is RateKind.EXTRA and not rate.extra:
        raise refuse("Say which extra this is.")
    if rate.kind is RateKind.EXTRA and (rate.amount is None) == (rate.percent is None):
        raise refuse("An extra needs its price, in money or in per cent, not both.")
    _check_edges(rate, refuse)


def _check_edges(rate: Rate, refuse: Callable[[str], DoesNotAddUp]) -> None:
    if rate.kind in {RateKind.BASE, RateKind.CARAT}:
        low = rate.from_ct or ZERO
        if low < 0 or (rate.to_ct is not None and rate.to_ct <= low):
            raise refuse("The upper weight must lie above the lower one.")
        if rate.step_amount is not None and rate.to_ct is None:
            raise refuse("A price for each further carat needs the weight it begins at.")
    if rate.kind is RateKind.FACETS:
        low_class, high_class = rate.edges
        if low_class < 1 or high_class < low_class:
            raise refuse("The upper number of facets must not lie below the lower one.")


def _check_once(rates: Sequence[Rate]) -> None:
    seen: dict[tuple[str, ...], int] = {}
    for place, rate in enumerate(rates):
        key = _said_once(rate)
        if key is not None and key in seen:
            words = _TWICE[rate.kind].format(name=rate.species.strip() or rate.label or rate.extra)
            raise DoesNotAddUp(words, lines=(seen[key], place))
        if key is not None:
            seen[key] = place


def _said_once(rate: Rate) -> tuple[str, ...] | None:
    """What no second line may say; None where lines of a kind add up."""
    match rate.kind:
        case RateKind.SPECIES:
            return (rate.kind, same_name(rate.species))
        case RateKind.EXTRA:
            return (rate.kind, rate.extra)
        case RateKind.MINIMUM | RateKind.HOUR:
            return (rate.kind,)
        case RateKind.PIECE | RateKind.ROUGH | RateKind.PERCENT:
            # Cutting and polishing may each have their price per gem; two without a name are a slip.
            return (rate.kind, same_name(rate.label))
        case _:
            return None


def _check_bands(rates: Sequence[Rate]) -> None:
    bases = [(place, rate) for place, rate in enumerate(rates) if rate.kind is RateKind.BASE]
    if len({rate.weighed for _, rate in bases}) > 1:
        raise DoesNotAddUp(
            "Two bases, one by the finished weight and one by the rough: keep one of them.",
            lines=tuple(place for place, _ in bases),
        )
    for weighed in Weighed:
        own = [spot for spot in bases if spot[1].weighed is weighed]
        carats = [
            (place, rate)
            for place, rate in enumerate(rates)
            if rate.kind is RateKind.CARAT and rate.weighed is weighed
        ]
        _check_ladder(own, "Two bases for the same weight: keep one, or say from and up to which weight.")
        _check_ladder(carats, "Two prices per carat for the same weight: say from and up to which weight.")
        _check_no_gap([*own, *carats])


def _check_ladder(bands: list[tuple[int, Rate]], overlap: str) -> None:
    ladder = sorted(bands, key=lambda spot: spot[1].from_ct or ZERO)
    for (lower_place, lower), (place, rate) in pairwise(ladder):
        end = lower.end_ct
        if end is None or end > (rate.from_ct or ZERO):
            raise DoesNotAddUp(overlap, lines=(lower_place, place))
    _check_no_gap(bands)


def _check_no_gap(bands: list[tuple[int, Rate]]) -> None:
    reached: Decimal | None = None
    for position, (place, rate) in enumerate(sorted(bands, key=lambda spot: spot[1].from_ct or ZERO)):
        start = rate.from_ct or ZERO
        if position and reached is not None and start > reached:
            raise DoesNotAddUp(
                f"Nothing is said of weights above {plain(reached)} ct up to {plain(start)} ct.",
                lines=(place,),
            )
        end = rate.end_ct
        if end is None:
            return
        reached = end if reached is None else max(reached, end)


def _check_classes(rates: Sequence[Rate]) -> None:
    classes = [(place, rate) for place, rate in enumerate(rates) if rate.kind is RateKind.FACETS]
    classes.sort(key=lambda spot: spot[1].edges)
    for (lower_place, lower), (place, rate) in pairwise(classes):
        end, start = lower.edges[1], rate.edges[0]
        if start <= end:
            raise DoesNotAddUp("Two classes hold the same number of facets.", lines=(lower_place, place))
        if start > end + 1:
            raise DoesNotAddUp(f"No class holds {plain(end + 1)} facets.", lines=(place,))


def of_kind(rates: Iterable[Rate], kind: RateKind) -> list[Rate]:
    """The lines of one kind, in their order."""
    return [rate for rate in rates if rate.kind is kind]


def same_name(words: str) -> str:
    """A name as it is compared: case and blanks do not count."""
    return " ".join(words.split()).casefold()


def plain(figure: Decimal | int | None) -> str:
    """A figure without the zeros behind it: 2.500 as 2.5, 100 as 100."""
    words = f"{figure:f}"
    return words.rstrip("0").rstrip(".") if "." in words else words
