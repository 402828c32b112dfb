"""From a piece, the shop's own history and the tariff to one line of a quote: what it may become, take, cost, earn.

What is worked out is a plan, not a promise; what the cutter types over it wins, is kept beside what was worked
out, and needs a reason. Float inside, ``Decimal`` at the door (``planning.figures``).

Assumed, and said here because the figures hang on it: weight and hours are independent; time off the bench is a
fixed share on top of the hours at the bench; several gems of one line go alike; the material's cost is known; the
price that will be asked is the tariff's at the weight (and, where a line of it is by the hour, the hours) found in
the end, held within the range that was promised; a repair takes as long as a repolish until somebody types its
hours. The chance that a price covers its hours and costs follows from that (``handbook.promises``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from workshop.common.errors import DeedRefused
from workshop.handbook.costing import labour_cost
from workshop.handbook.errors import HandbookError
from workshop.handbook.money import round_money
from workshop.handbook.tariffs import PriceStep, WorkToPrice, needed
from workshop.planning import figures, history

from . import pricing
from .asks import PRICES, SECONDS, WEIGHTS, ZERO, Ask, Terms, Triple, Typed, over, rates_from_facts
from .bench import WORK_OF, Bench, most_like
from .models import CommissionItem, Quote, QuoteLine, WorkKind
from .sizes import Sides, sides_of, width_of

if TYPE_CHECKING:
    from workshop.handbook.estimates import Job
    from workshop.handbook.promises import Spread

    from .bench import PastStone

THOUSANDTH = Decimal("0.001")
SHARE = 0.8
#: Work after which a stone keeps most of what it had, not a share of rough.
ON_CUT = (WorkKind.RECUT, WorkKind.REPOLISH)
Earned = tuple[Decimal | None, Decimal | None, Decimal | None]


@dataclass(frozen=True, eq=False)
class WorkedOut:
    """One line: for the client weights, sizes, prices; for the cutter hours, costs, chance and what an hour earns.

    Each triple is low, middle, high. ``worst_hour``: the lightest stone at the most hours. ``weights_by`` says
    where the weights are from; ``worked_out`` the figures that something typed stands over.
    """

    weights: Triple | None
    weights_by: str
    sides: Sides
    seconds: tuple[int, int, int]
    bench_seconds: int
    off_bench_percent: Decimal
    prices: Triple
    steps: tuple[PriceStep, ...]
    costs: Triple
    chance_percent: Decimal | None
    earned: Earned
    worst_hour: Decimal | None
    own_stones: int
    alike: list[PastStone]
    worked_out: dict[str, str]

    share_percent: Decimal = Decimal(int(100 * SHARE))


def work_out(item: CommissionItem, ask: Ask, terms: Terms, bench: Bench) -> WorkedOut:
    """Everything about one line.

    Raises ``DeedRefused`` naming the field for figures that do not go together, or where the tariff cannot price
    what is known and no price was typed.
    """
    estimated, by, own = _weights(item, ask, bench)
    weights, over_weights = over(ask.typed, WEIGHTS, estimated)
    weights = None if weights is None else _each(lambda ct: ct.quantize(THOUSANDTH), weights)
    sides = _sides(item, ask, weights)
    one = _bench_seconds(item, ask, weights, sides, bench)
    whole = _with_off_bench(one, ask.gems, bench.past.off_bench_percent)
    low, middle, high = over(ask.typed, SECONDS, whole)[0]
    seconds = (int(low), int(middle), int(high))
    work = work_of(item, ask)
    priced = pricing.price(terms, work, ask.typed, weights, seconds)
    prices = priced.promise.prices
    return WorkedOut(
        weights=weights,
        weights_by="typed" if _typed(ask, WEIGHTS) else by,
        sides=sides,
        seconds=seconds,
        bench_seconds=one[1] * ask.gems,
        off_bench_percent=bench.past.off_bench_percent,
        prices=prices,
        steps=priced.steps,
        costs=_each(lambda long: _cost(ask, terms, long), seconds),
        chance_percent=_chance(ask, terms, work, priced.promise, seconds, bench),
        earned=_each(
            lambda pair: _earned(pair[0], ask, terms, pair[1]), [*zip(prices, seconds, strict=True)]
        ),
        worst_hour=_earned(prices[0], ask, terms, seconds[2]),
        own_stones=max(own, bench.past.hour_stones),
        alike=most_like(
            bench.stones,
            species=_species(item),
            work=WORK_OF[item.work],
            facets=_facets(ask),
            start_ct=ask.rough_ct,
        ),
        worked_out=over_weights | over(ask.typed, SECONDS, whole)[1] | priced.worked_out,
    )


def work_of(item: CommissionItem, ask: Ask) -> WorkToPrice:
    """What a tariff asks about a line, but for its weight and hours."""
    material = item.material
    return WorkToPrice(
        rough_ct=ask.rough_ct,
        facets=ask.facets if item.work == WorkKind.REPAIR else _facets(ask),
        species=_species(item),
        variety=(material.name or material.variety) if material else "",
        rough_pieces=0 if item.work in (*ON_CUT, WorkKind.REPAIR) else ask.rough_pieces,
        gems=ask.gems,
        extras=ask.extras,
    )


def terms_of(quote: Quote) -> Terms:
    """How a version prices, by the lines of the tariff that it keeps."""
    return Terms(
        rates_from_facts(quote.rates), quote.currency, quote.tax_percent, quote.tax_included, quote.firm
    )


def ask_of(line: QuoteLine) -> Ask:
    """What a kept line rests on, to work it out again or to change a part of it."""
    return Ask(
        what=line.what, plan=line.plan, rough_ct=line.rough_ct, rough_pieces=line.rough_pieces, gems=line.gems,
        facets=line.facets, flawed=line.flawed, extras=tuple(line.extras), floor_ct=line.floor_ct,
        hourly_rate=line.hourly_rate, material_cost=line.material_cost, typed=Typed.from_facts(line.typed),
        reason=line.override_reason,
    )  # fmt: skip


def price_for(line: QuoteLine, finished_ct: Decimal | None, seconds: int | None = None) -> Decimal:
    """What a kept line comes to once the finished weight of each gem is known; tax in or out as its quote says.

    A firm price stays; one that follows the weight goes by the tariff the quote keeps, never outside its range.
    """
    ask = ask_of(line)
    weights = (line.weight_low_ct, line.weight_ct, line.weight_high_ct)
    promise = pricing.Promise(
        (line.price_low, line.price, line.price_high),
        None if None in weights else weights,  # type: ignore[arg-type]
        typed=_typed(ask, ("price_low", "price", "price_high")),
    )
    long = line.seconds if seconds is None else seconds
    return pricing.price_at(terms_of(line.quote), work_of(line.item, ask), promise, finished_ct, long)


def goes_by(line: QuoteLine) -> frozenset[str]:
    """What ``price_for`` lets the price of a kept line follow: its "weight", its "hours", both, or neither."""
    if line.quote.firm or line.price_low == line.price_high:
        return frozenset()
    rates = rates_from_facts(line.quote.rates)
    charged_by = needed(rates)
    # A range typed over the tariff, or one whose tariff is not known, is followed from its lightest stone up.
    typed = not rates or any(name in line.typed for name in PRICES)
    by_weight = line.weight_ct is not None and (typed or "finished_ct" in charged_by)
    by_hours = not typed and "seconds" in charged_by
    return frozenset(name for name, found in (("weight", by_weight), ("hours", by_hours)) if found)


def _typed(ask: Ask, names: Sequence[str]) -> bool:
    return any(getattr(ask.typed, name) is not None for name in names)


def _each(make: Callable[[Any], Any], three: Sequence[Any]) -> tuple[Any, Any, Any]:
    low, middle, high = (make(one) for one in three)
    return low, middle, high


# --- Weight and size ----------------------------------------------------------------------------------------------


def _weights(item: CommissionItem, ask: Ask, bench: Bench) -> tuple[Triple | None, str, int]:
    """Each gem's weights, in words where they are from, and how many own stones they learned from."""
    if ask.plan is not None:
        plan = ask.plan
        ends = (plan.weight_low_ct, plan.weight_ct, plan.weight_high_ct)
        return ends, f"cut plan {plan.code}", plan.own_stones
    if item.work == WorkKind.REPAIR:
        return None, "only its hours count", 0
    if ask.rough_ct is not None:
        return _kept(item, ask, ask.rough_ct, bench)
    if item.least_ct is not None and item.most_ct is not None:
        return (item.least_ct, (item.least_ct + item.most_ct) / 2, item.most_ct), "the wished weight", 0
    return None, "not known", 0


def _kept(item: CommissionItem, ask: Ask, rough_ct: Decimal, bench: Bench) -> tuple[Triple, str, int]:
    from workshop.handbook import estimates

    each = float(rough_ct) / ask.gems
    try:
        if item.work in ON_CUT:
            belief, row = bench.kept[WORK_OF[item.work]], list(estimates.KEPT_ROW)
        else:
            belief, row = bench.rough_share, list(estimates.Take(each, ask.flawed).row)
        found = estimates.share_range(belief, row, each, share=SHARE)
    except HandbookError as error:
        raise DeedRefused(str(error), field="rough_ct") from error
    words = "what such stones keep" if item.work in ON_CUT else "the usual share of the rough"
    return _each(figures.carats, (found.low, found.middle, found.high)), words, found.stones


def _sides(item: CommissionItem, ask: Ask, weights: Triple | None) -> Sides:
    measured = (ask.length_mm, ask.width_mm)
    found = sides_of(item, plan=ask.plan, measured=measured, start_ct=ask.rough_ct, weights=weights)
    given = {name: getattr(ask.typed, f"{name}_mm") for name in Sides._fields}
    return found._replace(**{name: side for name, side in given.items() if side is not None}).checked()


# --- Hours --------------------------------------------------------------------------------------------------------


def _species(item: CommissionItem) -> str:
    return item.material.species if item.material else ""


def _facets(ask: Ask) -> int:
    return ask.facets or (ask.plan.facets if ask.plan is not None else history.USUAL_FACETS)


def _bench_seconds(
    item: CommissionItem, ask: Ask, weights: Triple | None, sides: Sides, bench: Bench
) -> tuple[int, int, int]:
    """Seconds of one gem at the bench."""
    from workshop.handbook import estimates

    if ask.plan is not None and ask.facets in (None, ask.plan.facets):
        return ask.plan.seconds_low, ask.plan.seconds, ask.plan.seconds_high
    try:
        found = estimates.hours_range(bench.past.hours, _job(item, ask, weights, sides), share=SHARE)
    except HandbookError as error:
        raise DeedRefused(str(error), field="facets") from error
    return figures.seconds(found.low), figures.seconds(found.middle), figures.seconds(found.high)


def _job(item: CommissionItem, ask: Ask, weights: Triple | None, sides: Sides) -> Job:
    from workshop.handbook import estimates

    material = item.material
    factor = history.hardness_factor(_species(item), history.mohs_of(material.hardness if material else ""))
    care = history.needs_care(material.key) if material and material.from_handbook else False
    width = width_of(item, sides, weights[1] if weights is not None else ask.rough_ct)
    return estimates.Job(_facets(ask), factor, care, width, WORK_OF[item.work])


def _with_off_bench(one: tuple[int, int, int], gems: int, percent: Decimal) -> Triple:
    return _each(lambda long: Decimal(int(gems * long * (1 + percent / 100))), one)


# --- For the cutter alone -----------------------------------------------------------------------------------------


def _cost(ask: Ask, terms: Terms, seconds: int) -> Decimal:
    return ask.material_cost + labour_cost([(seconds, ask.hourly_rate or ZERO)], terms.currency)


def _earned(price: Decimal, ask: Ask, terms: Terms, seconds: int) -> Decimal | None:
    """What is left of the net price for an hour of the work."""
    if not seconds:
        return None
    left = terms.net(price) - ask.material_cost
    return round_money(left * figures.SECONDS_IN_AN_HOUR / seconds, terms.currency)


def _chance(
    ask: Ask,
    terms: Terms,
    work: WorkToPrice,
    promise: pricing.Promise,
    seconds: tuple[int, int, int],
    bench: Bench,
) -> Decimal | None:
    """The chance that the price pays material and hours, from ranges with the tails of the shop's own beliefs."""
    if not seconds[0]:
        return None
    hours = _spread(seconds, 2 * bench.past.hours.shape).times(1 / figures.SECONDS_IN_AN_HOUR)
    weight = None
    if promise.weights is not None:
        most = float("inf") if ask.rough_ct is None else float(ask.rough_ct) / ask.gems
        most = max(most, float(promise.weights[2]))
        weight = _spread(promise.weights, 2 * bench.rough_share.shape, most)
    return pricing.chance(
        terms, work, promise, weight, hours, rate=ask.hourly_rate or ZERO, costs=ask.material_cost
    )


def _spread(three: Sequence[Any], freedom: float, most: float = float("inf")) -> Spread:
    from workshop.handbook.promises import Spread

    low, middle, high = map(float, three)
    return Spread(low, middle, high, SHARE, freedom, most)
