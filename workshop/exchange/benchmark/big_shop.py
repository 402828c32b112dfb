"""A big shop, written straight into the tables: what years of work would leave, without waiting years for it.

Everything the deeds keep in step (weights left, shares, hours, roll-ups) is filled in, so that the laws hold and
the pages have to do all their usual work.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import islice
from typing import Any

from workshop.common.models import Hand, JournalEntry, Role, Series, Shop
from workshop.gems.models import FinishedGem, Shape
from workshop.handbook.costing import labour_cost
from workshop.materials.models import Material
from workshop.people.models import Contact
from workshop.rough.models import CostKind, Draw, LotCost, RoughLot
from workshop.sales.models import Sale, SaleLine
from workshop.stones.models import (
    BENCH_ACTIVITIES,
    Activity,
    BenchTime,
    DayHours,
    Ending,
    Loss,
    Stage,
    StageChange,
    Stone,
    TimeShare,
    Wait,
    Weighing,
)

STONES_A_LOT = 100
FIRST = datetime(2015, 1, 5, 8, 0, tzinfo=UTC)
RATE = Decimal("45")
BATCH = 2000


@dataclass
class Size:
    """How big the shop is to be."""

    stones: int
    times: int


def build(size: Size, seed: int = 7) -> Hand:
    """Write the shop; the owner signs in to look at it."""
    shop = Shop.the()
    shop.name, shop.hourly_rate, shop.set_up_at = "A big shop", RATE, FIRST
    shop.save()
    dice = random.Random(seed)  # noqa: S311 - no secret hangs on it
    owner = Hand.objects.create_user("bench", role=Role.OWNER)
    hands = [owner, Hand.objects.create_user("second", role=Role.HAND)]
    people = _people()
    _lots(size, people, dice)
    _stones(size, dice)
    _weighings(owner)
    _times(size, hands, dice)
    _gems(dice)
    _sales(people, dice)
    _journal(owner)
    return owner


def _batches(rows: Any) -> Iterator[tuple[Any, ...]]:
    """Rows in batches that bulk writes like."""
    stream = iter(rows)
    while batch := tuple(islice(stream, BATCH)):
        yield batch


def _people() -> list[Contact]:
    found = [
        Contact(code=f"P-{n:04d}", name=f"Invented person {n}", is_supplier=n % 3 == 0, is_buyer=n % 3 != 0)
        for n in range(1, 301)
    ]
    return Contact.objects.bulk_create(found)


def _lots(size: Size, people: list[Contact], dice: random.Random) -> None:
    materials = list(Material.objects.order_by("pk"))
    count = max(size.stones // STONES_A_LOT, 1)
    sellers = [one for one in people if one.is_supplier]
    lots = []
    for n in range(1, count + 1):
        drawn = Decimal(STONES_A_LOT * 10)
        lots.append(
            RoughLot(
                code=f"L-{n:04d}",
                seller=dice.choice(sellers),
                received_on=(FIRST + timedelta(days=n * 3600 // count)).date(),
                sold_as=f"mixed rough {n}",
                material=dice.choice(materials),
                weight_ct=drawn + 50,
                entered_weight=f"{(drawn + 50) / 5} g",
                pieces=STONES_A_LOT + 5,
                price_basis="lot",
                unit_price=Decimal(1050),
                currency=Shop.the().currency,
                rate=Decimal(1),
                landed_cost=Decimal(1050),
                left_ct=Decimal(50),
                cost_left=Decimal(50),
            )
        )
    RoughLot.objects.bulk_create(lots, batch_size=BATCH)
    LotCost.objects.bulk_create(
        [
            LotCost(
                lot=lot,
                kind=CostKind.GOODS,
                amount=Decimal(1050),
                currency=Shop.the().currency,
                amount_home=Decimal(1050),
                paid_on=lot.received_on,
            )
            for lot in lots
        ],
        batch_size=BATCH,
    )
    Series.objects.create(prefix="L", last=count)


def _stones(size: Size, dice: random.Random) -> None:
    lots = list(RoughLot.objects.order_by("pk"))
    stages = [stage for stage in Stage if stage != Stage.FINISHED]
    endings = [Ending.BROKEN, Ending.LOST, Ending.PUT_BY, Ending.SCRAPPED]
    for numbers in _batches(range(1, size.stones + 1)):
        homes = [lots[(n - 1) // STONES_A_LOT % len(lots)] for n in numbers]
        draws = Draw.objects.bulk_create(
            [
                Draw(lot=lot, weight_ct=Decimal(10), drawn_on=lot.received_on, cost=Decimal(10))
                for lot in homes
            ]
        )
        made = []
        for n, lot, draw in zip(numbers, homes, draws, strict=True):
            drawn_at = FIRST + timedelta(days=n * 3650 / size.stones)
            # Nine in ten are finished, a few ended, the rest stand on the bench: what ten years leave behind.
            fate = dice.random()
            ending = dice.choice(endings) if 0.90 <= fate < 0.95 else ""
            stage = Stage.FINISHED if fate < 0.90 else dice.choice(stages)
            waits = Wait.GLUE if not ending and stage != Stage.FINISHED and dice.random() < 0.2 else ""
            made.append(
                Stone(
                    code=f"S-{n:04d}",
                    lot=lot,
                    draw=draw,
                    material_id=lot.material_id,
                    plan=f"oval, plan {n % 97}",
                    shape=dice.choice(Shape.values),
                    stage=stage,
                    ending=ending,
                    ended_at=drawn_at if ending else None,
                    waiting_for=waits,
                    waiting_since=drawn_at if waits else None,
                    drawn_at=drawn_at,
                    touched_at=drawn_at,
                    start_ct=Decimal(10),
                    weight_ct=Decimal("3.5"),
                    rough_cost=Decimal(10),
                )
            )
        Stone.objects.bulk_create(made)
    Series.objects.create(prefix="S", last=size.stones)


def _all_stones() -> Iterator[Stone]:
    return Stone.objects.order_by("pk").iterator(chunk_size=BATCH)


def _weighings(owner: Hand) -> None:
    for stones in _batches(_all_stones()):
        rows = []
        for stone in stones:
            steps = [("10", Stage.SELECTED), ("6", Stage.PREFORMED), ("3.5", Stage.OFF_DOP)]
            rows += [
                Weighing(
                    stone=stone, weight_ct=Decimal(ct), entered=f"{ct} ct", stage=stage, at=stone.drawn_at, by=owner,
                    order=order,
                )
                for order, (ct, stage) in enumerate(steps)
            ]  # fmt: skip
        kept = Weighing.objects.bulk_create(rows, batch_size=BATCH)
        Loss.objects.bulk_create(
            [
                Loss(
                    stone_id=row.stone_id,
                    weighing=row,
                    weight_ct=Decimal(4) if row.order == 1 else Decimal("2.5"),
                    cause=row.cause,
                    at=row.at,
                )
                for row in kept
                if row.order
            ],
            batch_size=BATCH,
        )
        StageChange.objects.bulk_create(
            [
                StageChange(stone=stone, old=Stage.SELECTED, new=Stage.PREFORMED, at=stone.drawn_at, by=owner)
                for stone in stones
            ],
            batch_size=BATCH,
        )


def _times(size: Size, hands: list[Hand], dice: random.Random) -> None:
    """Times end to end for each hand, ten minutes each, so that none overlap; shared among the stones in turn."""
    stones = list(Stone.objects.order_by("pk").values_list("pk", flat=True))
    activities = [one for one in Activity if one not in (Activity.MACHINE, Activity.OTHER)]
    spent: dict[int, list[int]] = {pk: [0, 0] for pk in stones}
    days: dict[tuple[date, int, str, bool], int] = {}
    clock = {hand.pk: FIRST for hand in hands}
    for numbers in _batches(range(size.times)):
        rows, owners = [], []
        for n in numbers:
            hand = hands[n % len(hands)]
            seconds = dice.randrange(180, 600)
            start = clock[hand.pk]
            clock[hand.pk] = start + timedelta(seconds=600)
            activity = activities[n % len(activities)]
            on_bench = activity in BENCH_ACTIVITIES
            stone = stones[n * len(stones) // size.times]
            spent[stone][0 if on_bench else 1] += seconds
            day = (start.date(), hand.pk, activity.value, on_bench)
            days[day] = days.get(day, 0) + seconds
            rows.append(
                BenchTime(
                    hand=hand, activity=activity, started_at=start, ended_at=start + timedelta(seconds=seconds),
                    rate=RATE, on_bench=on_bench,
                )
            )  # fmt: skip
            owners.append((stone, seconds))
        kept = BenchTime.objects.bulk_create(rows)
        TimeShare.objects.bulk_create(
            [
                TimeShare(time=row, stone_id=stone, seconds=seconds)
                for row, (stone, seconds) in zip(kept, owners, strict=True)
            ]
        )
    DayHours.objects.bulk_create(
        [
            DayHours(
                day=day, hand_id=hand, activity=activity, on_bench=on_bench, rework=False, on_stones=True,
                seconds=seconds,
            )
            for (day, hand, activity, on_bench), seconds in days.items()
        ],
        batch_size=BATCH,
    )  # fmt: skip
    _put_hours_on_stones(spent)


def _put_hours_on_stones(spent: dict[int, list[int]]) -> None:
    currency = Shop.the().currency
    columns = ["bench_seconds", "off_bench_seconds", "bench_labour", "off_bench_labour"]
    for stones in _batches(_all_stones()):
        for stone in stones:
            stone.bench_seconds, stone.off_bench_seconds = spent[stone.pk]
            stone.bench_labour = labour_cost([(stone.bench_seconds, RATE)], currency)
            stone.off_bench_labour = labour_cost([(stone.off_bench_seconds, RATE)], currency)
        Stone.objects.bulk_update(stones, columns, batch_size=500)


def _gems(dice: random.Random) -> None:
    finished = Stone.objects.filter(stage=Stage.FINISHED, ending="").order_by("pk").iterator(chunk_size=BATCH)
    number = 0
    for stones in _batches(finished):
        gems = []
        for stone in stones:
            number += 1
            gems.append(
                FinishedGem(
                    code=f"G-{number:04d}",
                    stone=stone,
                    weight_ct=stone.weight_ct,
                    whole_ct=stone.start_ct,
                    length_mm=Decimal("9.10"),
                    width_mm=Decimal("7.20"),
                    depth_mm=Decimal("5.10"),
                    shape=stone.shape,
                    colour=dice.choice(["green", "red", "blue", "violet", "colourless"]),
                    finished_on=stone.drawn_at.date(),
                    price=Decimal(dice.randrange(50, 2000)),
                )
            )
        FinishedGem.objects.bulk_create(gems)
    Series.objects.create(prefix="G", last=number)


def _sales(people: list[Contact], dice: random.Random) -> None:
    """Two thirds of the gems are sold, one a sale."""
    buyers = [one for one in people if one.is_buyer]
    currency = Shop.the().currency
    sold = FinishedGem.objects.select_related("stone").order_by("pk")
    number = 0
    for gems in _batches(sold.iterator(chunk_size=BATCH)):
        leaving = [gem for gem in gems if gem.pk % 3]
        sales = []
        for gem in leaving:
            number += 1
            price = gem.price or Decimal(0)
            sales.append(
                Sale(
                    code=f"SA-{number:04d}", buyer=dice.choice(buyers), sold_on=gem.finished_on, currency=currency,
                    net=price, gross=price, paid=price, cost=gem.stone.cost_to_date,
                )
            )  # fmt: skip
        kept = Sale.objects.bulk_create(sales)
        SaleLine.objects.bulk_create(
            [
                SaleLine(
                    sale=sale, gem=gem, price=sale.net, net=sale.net, tax=Decimal(0), material=gem.stone.rough_cost,
                    bench_labour=gem.stone.bench_labour, off_bench_labour=gem.stone.off_bench_labour,
                    bench_seconds=gem.stone.bench_seconds, off_bench_seconds=gem.stone.off_bench_seconds,
                )
                for sale, gem in zip(kept, leaving, strict=True)
            ]
        )  # fmt: skip
        for gem in leaving:
            gem.gone_as, gem.gone_on, gem.place = "sold", gem.finished_on, "buyer"
        FinishedGem.objects.bulk_update(leaving, ["gone_as", "gone_on", "place"], batch_size=500)
        Stone.objects.filter(pk__in=[gem.stone_id for gem in leaving]).update(cost_fixed=True)
    Series.objects.create(prefix="SA", last=number)


def _journal(owner: Hand) -> None:
    for stones in _batches(_all_stones()):
        JournalEntry.objects.bulk_create(
            [
                JournalEntry(
                    happened_at=stone.drawn_at, by=owner, verb=verb, about=stone.code, after={"weight_ct": "10.000"}
                )
                for stone in stones
                for verb in ("drew stone", "weighed", "moved on")
            ]
        )  # fmt: skip
