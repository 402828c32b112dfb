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
from typing import Final

from workshop.handbook.errors import OutOfRange
from workshop.handbook.money import MOST_MONEY, round_money
from workshop.handbook.rates import MOST_CARATS, MOST_COUNT, ZERO, of_kind, plain, same_name
from workshop.handbook.rates import Rate as Rate
from workshop.handbook.rates import RateKind as RateKind
from workshop.handbook.rates import Weighed as Weighed
from workshop.handbook.rates import check_rates as check_rates

HUNDRED: Final = Decimal(100)
SECONDS_IN_AN_HOUR: Final = 3600
MOST_SECONDS: Final = 100_000 * SECONDS_IN_AN_HOUR
"""Our own limit: fifty years at the bench."""


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


_WEIGHT_FIELD: Final = {Weighed.FINISHED: "finished_ct", Weighed.ROUGH: "rough_ct"}
_BY: Final = {
    "finished_ct": "by the finished weight",
    "rough_ct": "by the weight of the rough",
    "seconds": "by the hour",
    "facets": "by the number of facets",
}


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
    (Decimal('475.00'), ['a gem up to 3 ct at 350.00 USD', '2.5 ct above 3 ct at 50.00 USD per carat'])
    """
    check_rates(rates, currency)
    _check_work(work)
    _Needs(rates, work).check()
    steps: list[PriceStep] = []
    for rate in rates:
        steps += _charged(rate, work, currency)
    for rate, words in _factors(rates, work):
        steps.append(_times(rate, words, _sum(steps), currency))
    steps += _raised(rates, work, _sum(steps), currency)
    steps += _on_top(rates, work, _sum(steps), currency)
    before = _sum(steps)
    for rate in of_kind(rates, RateKind.PERCENT):
        steps.append(_share(rate, before, currency))
    amount = round_money(_sum(steps), currency)
    if amount > MOST_MONEY:
        raise OutOfRange("That price cannot be right; please check the figures.", amount=amount)
    return Priced(amount, tuple(steps))


def needed(rates: Iterable[Rate]) -> frozenset[str]:
    """The fields of ``WorkToPrice`` that these lines cannot do without: finished_ct, rough_ct, seconds, facets.

    >>> sorted(needed([Rate(RateKind.HOUR, amount=Decimal(45)), Rate(RateKind.PIECE, amount=Decimal(20))]))
    ['seconds']
    """
    wanted = set()
    for rate in rates:
        match rate.kind:
            case RateKind.CARAT:
                wanted.add(_WEIGHT_FIELD[rate.weighed])
            case RateKind.BASE if rate.from_ct is not None or rate.to_ct is not None:
                wanted.add(_WEIGHT_FIELD[rate.weighed])
            case RateKind.HOUR:
                wanted.add("seconds")
            case RateKind.FACETS:
                wanted.add("facets")
    return frozenset(wanted)


# --- The steps of a price -----------------------------------------------------------------------------------------


def _charged(rate: Rate, work: WorkToPrice, currency: str) -> list[PriceStep]:
    """What a line that stands for itself charges."""
    price = f"{_figure(rate.amount, currency)}"
    match rate.kind:
        case RateKind.BASE:
            return _base(rate, work, currency)
        case RateKind.CARAT:
            return _per_carat(rate, work, currency)
        case RateKind.PIECE:
            words, amount = f"{_count(work.gems, 'gem')} at {price}", work.gems * _given(rate.amount)
        case RateKind.ROUGH:
            words = f"{_count(work.rough_pieces, 'piece')} of rough at {price}"
            amount = work.rough_pieces * _given(rate.amount)
        case RateKind.HOUR:
            seconds = work.seconds or 0
            words = f"{_hours(seconds)} at {price} an hour"
            amount = seconds * _given(rate.amount) / SECONDS_IN_AN_HOUR
        case _:
            return []
    return [PriceStep(rate.kind, _labelled(rate, words), round_money(amount, currency))]


def _base(rate: Rate, work: WorkToPrice, currency: str) -> list[PriceStep]:
    weight = _weight(rate, work)
    times = work.gems if rate.weighed is Weighed.FINISHED else 1
    over = max(ZERO, weight - rate.to_ct) if weight is not None and rate.to_ct is not None else ZERO
    if weight is not None and (weight <= (rate.from_ct or ZERO) or (over and rate.step_amount is None)):
        return []
    each = f"{_count(times, 'gem')}, each " if times > 1 else ""
    thing = "rough" if rate.weighed is Weighed.ROUGH else "a gem"
    words = f"{each or f'{thing} '}{_band(rate.from_ct, rate.to_ct)}".strip()
    words = f"{words} at {_figure(rate.amount, currency)}"
    steps = [PriceStep(rate.kind, _labelled(rate, words), round_money(times * _given(rate.amount), currency))]
    if over and rate.step_amount is not None:
        carats = over.to_integral_value(ROUND_CEILING) if rate.started else over
        told = f"{plain(carats)} {'started ' if rate.started else ''}ct above {plain(rate.to_ct)} ct"
        words = f"{each}{told} at {_figure(rate.step_amount, currency)} per carat"
        amount = times * round_money(carats * rate.step_amount, currency)
        steps.append(PriceStep(rate.kind, _labelled(rate, words), amount))
    return steps


def _per_carat(rate: Rate, work: WorkToPrice, currency: str) -> list[PriceStep]:
    weight = _weight(rate, work)
    if weight is None or not rate.holds(weight):
        return []
    times = work.gems if rate.weighed is Weighed.FINISHED else 1
    each = f"{_count(times, 'gem')}, each " if times > 1 else ""
    carats = weight.to_integral_value(ROUND_CEILING) if rate.started else weight
    told = f"{plain(carats)} {'started ' if rate.started else ''}ct"
    what = " of rough" if rate.weighed is Weighed.ROUGH else ""
    band = _band(rate.from_ct, rate.to_ct)
    words = f"{each}{told}{what} at {_figure(rate.amount, currency)} per carat{f' ({band})' if band else ''}"
    return [
        PriceStep(
            rate.kind,
            _labelled(rate, words),
            times * round_money(carats * _given(rate.amount), currency),
        )
    ]


def _factors(rates: Sequence[Rate], work: WorkToPrice) -> list[tuple[Rate, str]]:
    """The facet class and the species line that hold here, each with its words."""
    found = []
    for rate in of_kind(rates, RateKind.FACETS):
        if work.facets is not None and rate.holds_facets(work.facets):
            found.append((rate, f"{_count(work.facets, 'facet')} ({_class(rate)})"))
    by_name = {same_name(rate.species): rate for rate in of_kind(rates, RateKind.SPECIES)}
    # A variety has its own line where the list says more of it than of its species.
    for name in (work.variety, work.species):
        if name and same_name(name) in by_name:
            found.append((by_name[same_name(name)], by_name[same_name(name)].species))
            break
    for rate, words in found:
        if rate.factor is None:
            raise OutOfRange(f"{words}: priced by request; set the price by hand.", kind=rate.kind)
    return found


def _times(rate: Rate, words: str, before: Decimal, currency: str) -> PriceStep:
    factor = _given(rate.factor)
    more = round_money(before * factor, currency) - before
    return PriceStep(rate.kind, _labelled(rate, f"{words}: × {plain(factor)}"), more)


def _raised(rates: Sequence[Rate], work: WorkToPrice, before: Decimal, currency: str) -> list[PriceStep]:
    for rate in of_kind(rates, RateKind.MINIMUM):
        least = work.gems * _given(rate.amount)
        if before < least:
            words = f"raised to the least for {'each' if work.gems > 1 else 'a'} gem, "
            words += _figure(rate.amount, currency)
            return [PriceStep(rate.kind, _labelled(rate, words), round_money(least - before, currency))]
    return []


def _on_top(rates: Sequence[Rate], work: WorkToPrice, before: Decimal, currency: str) -> list[PriceStep]:
    prices = {rate.extra: rate for rate in of_kind(rates, RateKind.EXTRA)}
    steps = []
    for key, times in Counter(work.extras).items():
        if key not in prices:
            raise OutOfRange(f"This tariff has no price for the extra “{key}”.", extra=key)
        rate, often = prices[key], f"{times} × " if times > 1 else ""
        name = rate.label or rate.extra
        if rate.amount is not None:
            words, amount = f"{often}{name}", times * rate.amount
        else:
            percent = _given(rate.percent)
            words, amount = f"{often}{name}: {plain(percent)} %", times * before * percent / HUNDRED
        steps.append(PriceStep(rate.kind, words, round_money(amount, currency)))
    return steps


def _share(rate: Rate, before: Decimal, currency: str) -> PriceStep:
    percent = _given(rate.percent)
    amount = round_money(before * percent / HUNDRED, currency)
    return PriceStep(rate.kind, _labelled(rate, f"{plain(percent)} % on top"), amount)


# --- What is known of the work ------------------------------------------------------------------------------------


def _check_work(work: WorkToPrice) -> None:
    for field, words in (("finished_ct", "finished weight"), ("rough_ct", "weight of the rough")):
        weight = getattr(work, field)
        if weight is not None and not (weight.is_finite() and 0 < weight <= MOST_CARATS):
            raise OutOfRange(f"A {words} lies above 0 and up to {MOST_CARATS} ct.", field=field)
    bounds = (("gems", 1, MOST_COUNT), ("rough_pieces", 0, MOST_COUNT), ("facets", 1, MOST_COUNT))
    for field, least, most in (*bounds, ("seconds", 0, MOST_SECONDS)):
        count = getattr(work, field)
        if count is not None and not least <= count <= most:
            raise OutOfRange(f"{field}: give {least} to {most}, not {count}.", field=field)


@dataclass(frozen=True)
class _Needs:
    """Whether all is known that the lines ask, and every figure lies in a band."""

    rates: Sequence[Rate]
    work: WorkToPrice

    def check(self) -> None:
        for field in ("finished_ct", "rough_ct", "seconds", "facets"):
            if field in needed(self.rates) and getattr(self.work, field) is None:
                raise OutOfRange(f"This tariff charges {_BY[field]}; it is not known.", needs=field)
        for weighed in Weighed:
            self._weight_lies_in_a_band(weighed)
        classes = of_kind(self.rates, RateKind.FACETS)
        facets = self.work.facets
        if classes and facets is not None and not any(rate.holds_facets(facets) for rate in classes):
            raise OutOfRange(f"No class of this tariff holds {facets} facets.", facets=facets)

    def _weight_lies_in_a_band(self, weighed: Weighed) -> None:
        bases, bands = (_by_weight(self.rates, kind, weighed) for kind in (RateKind.BASE, RateKind.CARAT))
        weight = getattr(self.work, _WEIGHT_FIELD[weighed])
        if weight is None or not (bases or bands):
            return
        covered = any(rate.holds(weight) for rate in (*bases, *bands))
        past_the_bands = bands and all(rate.to_ct is not None and weight > rate.to_ct for rate in bands)
        if not covered or past_the_bands:
            raise OutOfRange(
                f"No line of this tariff says what {plain(weight)} ct cost.",
                field=_WEIGHT_FIELD[weighed],
                weight=weight,
            )


# --- Small pieces -------------------------------------------------------------------------------------------------


def _by_weight(rates: Iterable[Rate], kind: RateKind, weighed: Weighed) -> list[Rate]:
    return [rate for rate in rates if rate.kind is kind and rate.weighed is weighed]


def _sum(steps: Iterable[PriceStep]) -> Decimal:
    return sum((step.amount for step in steps), ZERO)


def _given(figure: Decimal | None) -> Decimal:
    """A figure that ``check_rates`` has seen."""
    return ZERO if figure is None else figure


def _weight(rate: Rate, work: WorkToPrice) -> Decimal | None:
    return work.finished_ct if rate.weighed is Weighed.FINISHED else work.rough_ct


def _class(rate: Rate) -> str:
    if rate.to_facets is None:
        return f"{rate.from_facets} and more" if rate.from_facets is not None else "any number"
    return (
        f"{rate.from_facets} to {rate.to_facets}"
        if rate.from_facets is not None
        else f"up to {rate.to_facets}"
    )


def _band(low: Decimal | None, high: Decimal | None) -> str:
    above = f"above {plain(low)} ct" if low else ""
    return " ".join(filter(None, [above, f"up to {plain(high)} ct" if high is not None else ""]))


def _labelled(rate: Rate, words: str) -> str:
    return f"{rate.label}: {words}" if rate.label else words


def _figure(amount: Decimal | None, currency: str) -> str:
    return f"{round_money(_given(amount), currency)} {currency}"


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def _hours(seconds: int) -> str:
    minutes, rest = divmod(seconds, 60)
    return f"{minutes // 60} h {minutes % 60:02d} min{f' {rest} s' if rest else ''}"
