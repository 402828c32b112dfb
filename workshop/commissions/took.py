"""What a piece of a commission took, beside what its accepted quote said: weight, hours, cost, money, hour by hour."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from workshop.common import say
from workshop.gems.models import FinishedGem, Gone
from workshop.handbook.costing import StoneAccount, account
from workshop.stones.models import Ending, Stone, TimeShare

from .lines import stones_by_item
from .models import Charge, ChargeKind, CommissionItem, ItemStone, Outcome, QuoteLine, QuoteState

ZERO = Decimal(0)
#: A stone that ended so was worked on for its piece, though another took its place.
SPENT = (Ending.BROKEN, Ending.LOST, Ending.SCRAPPED)
#: A stone came for these sums, and its own cost holds them: they are no price of the work.
CHANGED_HANDS = (ChargeKind.BOUGHT, ChargeKind.OFF_CUT)


@dataclass(frozen=True)
class Span:
    """A range that was said, and its middle."""

    low: Decimal
    middle: Decimal
    high: Decimal

    def off_by(self, took: Decimal) -> Decimal:
        """How far outside it lies: below zero under it, above zero over it, zero inside."""
        return min(took - self.low, ZERO) or max(took - self.high, ZERO)


@dataclass(frozen=True)
class Took:
    """What was taken up, paid and kept, of one piece or of several."""

    weights: tuple[Decimal, ...] = ()
    bench_seconds: int = 0
    off_bench_seconds: int = 0
    rework_seconds: int = 0
    material: Decimal = ZERO
    bench_labour: Decimal = ZERO
    off_bench_labour: Decimal = ZERO
    wear: Decimal = ZERO
    other: Decimal = ZERO
    net: Decimal = ZERO
    gross: Decimal = ZERO

    @property
    def seconds(self) -> int:
        """All hours."""
        return self.bench_seconds + self.off_bench_seconds

    @property
    def weight_ct(self) -> Decimal | None:
        """The finished stones together; None where there is none."""
        return sum(self.weights, ZERO) if self.weights else None

    @property
    def cost(self) -> Decimal:
        """Rough, hours, wear and what was paid for its stones alone."""
        return self.material + self.bench_labour + self.off_bench_labour + self.wear + self.other

    def figures(self, currency: str) -> StoneAccount:
        """Cost, margin and what an hour earned."""
        return account(
            self.material, self.bench_seconds, self.off_bench_seconds, self.bench_labour, self.off_bench_labour,
            self.wear, self.other, self.net, ZERO, self.weight_ct, currency,
        )  # fmt: skip


@dataclass(frozen=True)
class Side:
    """One piece, or all of them: what was said, what it took. A span is None where nothing was said of it."""

    took: Took
    weight: Span | None
    seconds: Span | None
    price: Span | None
    cost: Span | None
    earned_said: Decimal | None
    earned: Decimal | None
    charged: Decimal
    ended: bool
    #: Finished and delivered: only then do the ranges say whether the estimate was true.
    compared: bool
    item: CommissionItem | None = None
    line: QuoteLine | None = None

    @property
    def weight_words(self) -> str:
        """Where the finished weight lies against its range."""
        return _words(self.weight, self.took.weight_ct, say.carats) if self.compared else ""

    @property
    def hours_words(self) -> str:
        """Where the hours lie against their range."""
        # Hours nobody clocked say nothing against the estimate.
        told = Decimal(self.took.seconds) if self.took.seconds else None
        return _words(self.seconds, told, say.hours) if self.compared else ""

    @property
    def price_words(self) -> str:
        """Where the sum charged lies against its range."""
        return (
            _words(self.price, self.charged or None, lambda sum_: say.number(sum_, 2))
            if self.compared
            else ""
        )

    @property
    def cost_words(self) -> str:
        """Where the cost lies against its range."""
        return _words(self.cost, self.took.cost, lambda sum_: say.number(sum_, 2)) if self.compared else ""

    @property
    def earned_words(self) -> str:
        """How much more or less an hour earned than was said."""
        if self.earned is None or self.earned_said is None:
            return ""
        more = self.earned - self.earned_said
        return f"{say.number(abs(more), 2)} {'more' if more > 0 else 'less'} than said" if more else "as said"


def _words(span: Span | None, took: Decimal | None, told: object) -> str:
    if span is None or took is None:
        return ""
    off = span.off_by(took)
    if not off:
        return "inside the range"
    assert callable(told)
    return f"{told(abs(off))} {'under' if off < 0 else 'over'} the range"


@dataclass(frozen=True)
class Known:
    """All that is known of some pieces, by the piece's key."""

    stones: dict[int, list[Stone]]
    gems: dict[int, list[FinishedGem]]
    lines: dict[int, QuoteLine]
    charged: dict[int, tuple[Decimal, Decimal]]
    rework: dict[int, int]


def known_of(items: Sequence[CommissionItem]) -> Known:
    """Stones, gems, accepted lines, sums and rework of these pieces; a constant number of queries."""
    stones = _stones(items)
    every = [stone.pk for line in stones.values() for stone in line]
    gems_of: dict[int, list[FinishedGem]] = defaultdict(list)
    for gem in FinishedGem.objects.filter(stone__in=every).exclude(gone_as=Gone.RECUT).order_by("pk"):
        gems_of[gem.stone_id].append(gem)
    lines = QuoteLine.objects.filter(item__in=items, quote__state=QuoteState.ACCEPTED).select_related("quote")
    sums = Charge.objects.filter(item__in=items).exclude(kind__in=CHANGED_HANDS).order_by().values("item")
    worked_again = TimeShare.objects.filter(
        stone__in=every, time__rework=True, time__counts=True, time__ended_at__isnull=False
    )
    return Known(
        stones=stones,
        gems={pk: [gem for stone in line for gem in gems_of[stone.pk]] for pk, line in stones.items()},
        lines={line.item_id: line for line in lines},
        charged={row["item"]: (row["n"], row["g"]) for row in sums.annotate(n=Sum("net"), g=Sum("gross"))},
        rework={
            row["stone"]: row["s"]
            for row in worked_again.order_by().values("stone").annotate(s=Sum("seconds"))
        },
    )


def _stones(items: Sequence[CommissionItem]) -> dict[int, list[Stone]]:
    """The stones of each piece, and those that were spent on it before another took their place."""
    found: dict[int, list[Stone]] = defaultdict(list)
    for pk, line in stones_by_item(items).items():
        found[pk] += line
    spent = ItemStone.objects.filter(
        item__in=items, until__isnull=False, stone__ending__in=SPENT
    ).select_related("stone")
    for link in spent:
        if link.stone not in found[link.item_id]:
            found[link.item_id].append(link.stone)
    return found


def side_of(item: CommissionItem, known: Known, own: str) -> Side:
    """One piece beside its accepted line; ``own`` is the shop's currency."""
    took = _took(item, known)
    line = known.lines.get(item.pk)
    included = line.quote.tax_included if line is not None else True
    same = item.commission.currency == own
    worked = took.figures(own) if same and is_settled(item) else None
    gems = line.gems if line is not None else 1
    return Side(
        took=took,
        weight=_times(_span(line, "weight{}_ct"), gems),
        seconds=_span(line, "seconds{}") if line is not None and line.seconds_high else None,
        price=_span(line, "price{}"),
        cost=_span(line, "cost{}") if line is not None and line.cost_high else None,
        earned_said=line.earned if line is not None else None,
        earned=worked.earned_per_hour if worked is not None else None,
        charged=took.gross if included else took.net,
        ended=not item.is_open,
        compared=item.outcome == Outcome.DELIVERED,
        item=item,
        line=line,
    )


def is_settled(item: CommissionItem) -> bool:
    """Whether what it earned can be told: a piece the shop bought is stock now, and earns when it is sold."""
    return item.outcome not in {Outcome.OPEN, Outcome.BOUGHT}


def _took(item: CommissionItem, known: Known) -> Took:
    stones = known.stones.get(item.pk, [])
    net, gross = known.charged.get(item.pk, (ZERO, ZERO))
    # What was made into several passed its costs on to its pieces; its hours stand with it still.
    cost = sum((stone.cost_to_date for stone in stones if stone.ending != Ending.SPLIT), ZERO)
    apart = {
        "material": _sum(stones, "rough_cost"),
        "bench_labour": _sum(stones, "bench_labour"),
        "off_bench_labour": _sum(stones, "off_bench_labour"),
        "wear": _sum(stones, "wear_cost"),
    }
    return Took(
        weights=tuple(gem.weight_ct for gem in known.gems.get(item.pk, [])),
        bench_seconds=sum(stone.bench_seconds for stone in stones),
        off_bench_seconds=sum(stone.off_bench_seconds for stone in stones),
        rework_seconds=sum(known.rework.get(stone.pk, 0) for stone in stones),
        other=cost - sum(apart.values(), ZERO),
        net=net,
        gross=gross,
        **apart,
    )


def _sum(stones: Iterable[Stone], column: str) -> Decimal:
    return sum((getattr(stone, column) for stone in stones), ZERO)


def _span(line: QuoteLine | None, column: str) -> Span | None:
    if line is None:
        return None
    three = [getattr(line, column.format(end)) for end in ("_low", "", "_high")]
    if any(one is None for one in three):
        return None
    return Span(*(Decimal(one) for one in three))


def _times(span: Span | None, count: int) -> Span | None:
    return None if span is None else Span(span.low * count, span.middle * count, span.high * count)


def added(all_of_them: Sequence[Took]) -> Took:
    """Several pieces as one."""
    names = [name for name in Took.__dataclass_fields__ if name != "weights"]
    return Took(
        weights=tuple(weight for took in all_of_them for weight in took.weights),
        **{
            name: sum((getattr(took, name) for took in all_of_them), type(getattr(Took(), name))(0))
            for name in names
        },
    )


def add_up(spans: Sequence[Span | None]) -> Span | None:
    """Ranges end to end; None unless every piece has one."""
    told = [span for span in spans if span is not None]
    if not told or len(told) < len(spans):
        return None
    return Span(
        sum((span.low for span in told), ZERO), sum((span.middle for span in told), ZERO),
        sum((span.high for span in told), ZERO),
    )  # fmt: skip
