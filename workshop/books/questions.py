"""What the books ask of the rooms below: each function one or a few queries, however many stones there are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Count, Exists, F, Max, OuterRef, Q, QuerySet, Sum

from workshop.commissions.floors import UnderFloor
from workshop.commissions.looks import Look, look_at
from workshop.commissions.models import Commission, Intake
from workshop.commissions.progress import under_floor
from workshop.commissions.steps import Step, next_step
from workshop.common.models import Hand
from workshop.gems.models import FinishedGem, Gone
from workshop.handbook.costing import StoneAccount, account
from workshop.materials.models import Material
from workshop.papers.models import Paper
from workshop.people.models import Contact, Ownership, Place
from workshop.planning.models import CutPlan
from workshop.rough.models import RoughLot
from workshop.sales.models import Sale, SaleLine
from workshop.stones.models import Activity, BenchTime, DayHours, Ending, Stage, Stone, TimeShare

ZERO = Decimal(0)
_MONEY = Sale._meta.get_field("gross")
SHOWN = 8


@dataclass(frozen=True)
class StageCount:
    """How many stones stand at a stage, what they weigh, and how many of them wait."""

    stage: str
    word: str
    stones: int
    waiting: int
    weight_ct: Decimal


def stones_by_stage() -> list[StageCount]:
    """Stones on the bench by stage, in the order of work; one query."""
    counted = {
        row["stage"]: row
        for row in Stone.objects.on_the_bench()
        .order_by()
        .values("stage")
        .annotate(stones=Count("pk"), waiting=Count("pk", filter=~Q(waiting_for="")), weight=Sum("weight_ct"))
    }
    return [
        StageCount(stage.value, stage.label, row["stones"], row["waiting"], row["weight"])
        for stage in Stage
        if (row := counted.get(stage.value))
    ]


@dataclass(frozen=True)
class Answers:
    """What needs an answer today. Each list is short; the counts say how much more there is."""

    doubtful_times: list[BenchTime]
    waiting: list[Stone]
    idle: list[Stone]
    without_card: list[FinishedGem]
    unpaid: list[Sale]
    unpaid_count: int
    without_card_count: int
    owed_commissions: list[Commission]
    owed_commissions_count: int
    owed_in_all: Decimal


def what_needs_an_answer(hand: Hand, now: datetime, currency: str) -> Answers:
    """Doubtful times of this hand (an owner sees everybody's), what waits, what lies idle, what lacks card or money."""
    times = BenchTime.objects.doubtful().select_related("hand").prefetch_related("shares__stone")
    bench = Stone.objects.on_the_bench().select_related("material")
    bare = gems_without_card()
    unpaid = Sale.objects.unpaid().select_related("buyer")
    owing = Commission.objects.unpaid().select_related("client")
    unpaid_count, owing_count, owed = _owed(currency)
    return Answers(
        doubtful_times=list((times if hand.runs_the_shop else times.filter(hand=hand))[:SHOWN]),
        waiting=list(Stone.objects.waiting().select_related("material").order_by("waiting_since")[:SHOWN]),
        idle=list(
            bench.idle_since(now - timedelta(days=30)).filter(waiting_for="").order_by("touched_at")[:SHOWN]
        ),
        without_card=list(bare.select_related("stone__material")[:SHOWN]),
        unpaid=list(unpaid.order_by("sold_on")[:SHOWN]),
        unpaid_count=unpaid_count,
        without_card_count=bare.count(),
        owed_commissions=list(owing.order_by("pk")[:SHOWN]),
        owed_commissions_count=owing_count,
        owed_in_all=owed,
    )


def _owed(currency: str) -> tuple[int, int, Decimal]:
    """How many sales and commissions owe, and what in all in the shop's own currency; two queries.

    A sale on a commission owes through its account, so it is counted once.
    """
    sales = Sale.objects.unpaid().aggregate(
        n=Count("pk"), owed=Sum(F("gross") - F("paid"), output_field=_MONEY)
    )
    accounts = Commission.objects.unpaid().aggregate(
        n=Count("pk"), owed=Sum("balance", filter=Q(currency=currency))
    )
    return sales["n"], accounts["n"], (sales["owed"] or ZERO) + (accounts["owed"] or ZERO)


def gems_without_card() -> QuerySet[FinishedGem]:
    """Gems on the books about which no paper stands."""
    standing = Paper.objects.standing().filter(about=OuterRef("code"))
    return FinishedGem.objects.here().filter(~Exists(standing))


#: How many of a hand's last times are looked through for the stones it has in hand.
LOOK_BACK = 60


def at_hand(hand: Hand) -> list[Stone]:
    """The stones this hand worked on last, newest first, that are still on the bench; three short queries."""
    times = list(
        BenchTime.objects.filter(hand=hand, counts=True)
        .order_by("-started_at")
        .values_list("pk", flat=True)[:LOOK_BACK]
    )
    shares = TimeShare.objects.filter(time__in=times).order_by("-time_id").values_list("stone_id", flat=True)
    order = list(dict.fromkeys(shares))
    found = Stone.objects.on_the_bench().select_related("material").in_bulk(order)
    return [found[pk] for pk in order if pk in found][:SHOWN]


@dataclass(frozen=True)
class Promises:
    """Commissions that stand, the next due first, each with its next step; and what falls under a floor."""

    steps: list[tuple[Look, Step]]
    count: int
    alarms: list[UnderFloor]


def promises(today: date) -> Promises:
    """What was promised to clients, and what is to be done next for each; the same few queries however many stand."""
    standing = Commission.objects.standing()
    rows = standing.select_related("client").order_by(F("due_on").asc(nulls_last=True), "pk")
    looks = look_at(list(rows[:SHOWN]), today)
    return Promises([(look, next_step(look)) for look in looks], standing.count(), under_floor())


@dataclass(frozen=True)
class DaySum:
    """Seconds of one day, at the bench and off it."""

    day: date
    bench: int
    off: int


def hours_of_last_days(hand: Hand | None, today: date, days: int = 7) -> list[DaySum]:
    """The last days' hours from the roll-up, of one hand or of all."""
    first = today - timedelta(days=days - 1)
    rows = DayHours.objects.filter(day__gte=first, day__lte=today)
    if hand is not None:
        rows = rows.filter(hand=hand)
    summed: dict[date, dict[str, Any]] = {
        row["day"]: dict(row)
        for row in rows.order_by()
        .values("day")
        .annotate(bench=Sum("seconds", filter=Q(on_bench=True)), off=Sum("seconds", filter=Q(on_bench=False)))
    }
    week = [first + timedelta(days=n) for n in range(days)]
    return [
        DaySum(day, summed.get(day, {}).get("bench") or 0, summed.get(day, {}).get("off") or 0)
        for day in week
    ]


@dataclass(frozen=True)
class StockLine:
    """One kind of stock: how many pieces, what they weigh, what they cost."""

    word: str
    count: int
    weight_ct: Decimal
    cost: Decimal
    link: str = ""


def own_stock() -> list[StockLine]:
    """The shop's own goods at cost: rough, unfinished, finished here, finished elsewhere. Four queries."""
    rough = RoughLot.objects.own().aggregate(
        n=Count("pk", filter=Q(left_ct__gt=0)), ct=Sum("left_ct"), cost=Sum("cost_left")
    )
    unfinished = (
        _unfinished()
        .filter(ownership=Ownership.SHOP)
        .aggregate(n=Count("pk"), ct=Sum("weight_ct"), cost=_cost())
    )
    here = FinishedGem.objects.in_stock()
    memo = here.filter(place=Place.MEMO)
    return [
        _line("Rough in lots", rough, "rough:lots"),
        _line("Unfinished stones", unfinished, "stones:stones"),
        _line("Finished gems", _gems(here.exclude(place=Place.MEMO)), "gems:gems"),
        _line("Gems out on memo", _gems(memo), "gems:gems"),
    ]


def _unfinished() -> QuerySet[Stone]:
    """Stones that are still goods: on the bench, put by, or broken with something left that cost went into."""
    return Stone.objects.exclude(stage=Stage.FINISHED).filter(ending__in=["", Ending.PUT_BY])


def _cost(prefix: str = "") -> Any:
    parts = ("rough_cost", "bench_labour", "off_bench_labour", "wear_cost", "other_cost")
    total: Any = F(f"{prefix}{parts[0]}")
    for part in parts[1:]:
        total = total + F(f"{prefix}{part}")
    return Sum(total, output_field=Stone._meta.get_field("rough_cost"))


def _gems(rows: QuerySet[FinishedGem]) -> dict[str, Any]:
    return rows.aggregate(n=Count("pk"), ct=Sum("weight_ct"), cost=_cost("stone__"))


def _line(word: str, row: dict[str, Any], link: str) -> StockLine:
    return StockLine(word, row["n"] or 0, row["ct"] or ZERO, row["cost"] or ZERO, link)


def goods_of_others() -> list[StockLine]:
    """Clients' and lent goods, at nil and apart: they are in the house but in nobody's stock here."""
    rough = RoughLot.objects.exclude(ownership=Ownership.SHOP).filter(left_ct__gt=0)
    stones = _unfinished().exclude(ownership=Ownership.SHOP)
    gems = FinishedGem.objects.here().exclude(ownership=Ownership.SHOP)
    return [
        _line(
            "Rough in lots", {**rough.aggregate(n=Count("pk"), ct=Sum("left_ct")), "cost": ZERO}, "rough:lots"
        ),
        _line(
            "Unfinished stones",
            {**stones.aggregate(n=Count("pk"), ct=Sum("weight_ct")), "cost": ZERO},
            "stones:stones",
        ),
        _line(
            "Finished gems", {**gems.aggregate(n=Count("pk"), ct=Sum("weight_ct")), "cost": ZERO}, "gems:gems"
        ),
    ]


@dataclass(frozen=True)
class Tie:
    """Where all landed cost of all lots stands; ``adds_up`` says whether nothing is missing."""

    landed: Decimal
    in_lots: Decimal
    in_unfinished: Decimal
    in_gems: Decimal
    gone: Decimal
    ended: Decimal
    differences: Decimal
    written_off: Decimal

    @property
    def parts(self) -> list[tuple[str, Decimal]]:
        """Each place cost went, in words."""
        return [
            ("left in lots", self.in_lots),
            ("in unfinished stones", self.in_unfinished),
            ("in gems in the house", self.in_gems),
            ("in gems that left the books", self.gone),
            ("in stones broken, lost or scrapped", self.ended),
            ("differences on what was sold", self.differences),
            ("written off from lots", self.written_off),
        ]

    @property
    def adds_up(self) -> bool:
        """The law of money over the whole shop."""
        return self.landed == sum((part for _, part in self.parts), ZERO)


def rough_cost_ties() -> Tie:
    """The law of money for the whole shop, from sums the database makes; three queries."""
    lots = RoughLot.objects.aggregate(
        landed=Sum("landed_cost"), left=Sum("cost_left"), off=Sum("cost_written_off")
    )
    finished = Q(stage=Stage.FINISHED, ending="")
    open_ = Q(ending__in=["", Ending.PUT_BY]) & ~Q(stage=Stage.FINISHED)
    stones = Stone.objects.aggregate(
        open=Sum("rough_cost", filter=open_),
        finished=Sum("rough_cost", filter=finished),
        ended=Sum("rough_cost", filter=~open_ & ~finished),
        differences=Sum("cost_difference"),
    )
    gone = FinishedGem.objects.exclude(gone_as__in=["", Gone.RECUT]).aggregate(cost=Sum("stone__rough_cost"))
    gone_cost = gone["cost"] or ZERO
    return Tie(
        landed=lots["landed"] or ZERO,
        in_lots=lots["left"] or ZERO,
        in_unfinished=stones["open"] or ZERO,
        in_gems=(stones["finished"] or ZERO) - gone_cost,
        gone=gone_cost,
        ended=stones["ended"] or ZERO,
        differences=stones["differences"] or ZERO,
        written_off=lots["off"] or ZERO,
    )


def below_cost() -> list[tuple[FinishedGem, Decimal]]:
    """The shop's own gems in stock priced under what they cost, worst first. The price is compared as asked."""
    rows = (
        FinishedGem.objects.in_stock()
        .filter(price__isnull=False)
        .select_related("stone__material")
        .annotate(
            short=F("stone__rough_cost") + F("stone__bench_labour") + F("stone__off_bench_labour")
            + F("stone__wear_cost") + F("stone__other_cost") - F("price")
        )
        .filter(short__gt=0)
        .order_by("-short")[:50]
    )  # fmt: skip
    return [(gem, gem.stone.cost_to_date - (gem.price or ZERO)) for gem in rows]


@dataclass(frozen=True)
class Account:
    """One stone's account: hours by activity, cost by kind, and what it earned or would earn at its price."""

    stone: Stone
    gem: FinishedGem | None
    line: SaleLine | None
    figures: StoneAccount
    price_net: Decimal | None
    fees: Decimal
    hours: list[tuple[str, bool, int, Decimal]]
    costs: list[tuple[str, Decimal]]


def account_of(stone: Stone, currency: str) -> Account:
    """The account of one stone, at the price it was sold for, else asked for, else none."""
    gem = stone.gems.exclude(gone_as=Gone.RECUT).first()  # type: ignore[attr-defined]
    line = gem.sale_lines.filter(stands=True).select_related("sale__buyer").first() if gem else None
    price = line.net if line else gem.price if gem and gem.is_own else None
    fees = line.fees if line else ZERO
    # A sale keeps the figures of its day, here as on the gem's own page; hours put in later are shown there apart.
    material = line.material if line else stone.rough_cost
    labour = (
        (line.bench_labour, line.off_bench_labour) if line else (stone.bench_labour, stone.off_bench_labour)
    )
    seconds = (line or stone).bench_seconds, (line or stone).off_bench_seconds
    wear, other = (line.wear, line.other) if line else (stone.wear_cost, stone.other_cost)
    figures = account(
        material, *seconds, *labour, wear, other, price, fees, gem.weight_ct if gem else None, currency
    )
    costs = [
        ("Rough", material),
        ("Hours at the bench", labour[0]),
        ("Hours off the bench", labour[1]),
        ("Wear of laps and polish", wear),
        ("Paid for this stone", other),
    ]
    return Account(stone, gem, line, figures, price, fees, _hours(stone), costs)


def _hours(stone: Stone) -> list[tuple[str, bool, int, Decimal]]:
    rows = (
        TimeShare.objects.filter(stone=stone, time__counts=True, time__ended_at__isnull=False)
        .order_by()
        .values("time__activity", "time__on_bench")
        .annotate(seconds=Sum("seconds"), last=Max("time__started_at"))
        .order_by("last")
    )
    return [
        (
            Activity(row["time__activity"]).label,
            row["time__on_bench"],
            row["seconds"],
            Decimal(row["seconds"]) / 3600,
        )
        for row in rows
    ]


@dataclass(frozen=True)
class Found:
    """What a search found, by room."""

    lots: list[RoughLot]
    stones: list[Stone]
    gems: list[FinishedGem]
    sales: list[Sale]
    commissions: list[Commission]
    people: list[Contact]
    materials: list[Material]
    papers: list[Paper]

    @property
    def nothing(self) -> bool:
        """Whether there is no match at all."""
        return not any(vars(self).values())


def find(words: str, *, sees_money: bool) -> Found:
    """Rows that answer to a code or a word, a few of each kind; one query a room. Sales only for who sees prices."""
    words = words.strip()
    return Found(
        lots=list(RoughLot.objects.filter(Q(code__iexact=words) | Q(sold_as__icontains=words))[:SHOWN]),
        stones=list(Stone.objects.matching(words).select_related("material")[:SHOWN]),
        gems=list(FinishedGem.objects.matching(words).select_related("stone__material")[:SHOWN]),
        sales=list(Sale.objects.matching(words).select_related("buyer")[:SHOWN]) if sees_money else [],
        commissions=list(Commission.objects.matching(words).select_related("client")[:SHOWN]),
        people=list(Contact.objects.matching(words)[:SHOWN]),
        materials=list(Material.objects.matching(words)[:SHOWN]),
        papers=list(Paper.objects.filter(Q(number__iexact=words) | Q(about__iexact=words))[:SHOWN]),
    )


_CODED: tuple[Any, ...] = (
    Stone.objects, FinishedGem.objects, RoughLot.objects, Commission.objects, Sale.objects, Contact.objects,
    CutPlan.objects, Intake.objects.select_related("commission"),
)  # fmt: skip


def by_code(words: str) -> Any:
    """The one row whose code this is, in any room; None when there is none."""
    code = words.strip().upper()
    for rows in _CODED:
        row = rows.filter(code=code).first()
        if row is not None:
            return row
    return Paper.objects.filter(number=code).first()
