"""The main job through the deeds: a parcel of rough becomes a sold gem, to the cent and to the thousandth of a carat.

The figures are acceptance scenarios 1, 2 and 4 of the project's own trade sheet (invented data, sums by hand).
"""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from tests.makers import make_contact, make_lot, make_owner, make_shop, make_stone
from workshop.gems import actions as gems
from workshop.handbook.units import parse_weight
from workshop.rough.models import RoughLot
from workshop.rough.sharing import CostLine, gap_ct
from workshop.sales import actions as sales
from workshop.stones import actions as stones
from workshop.stones.models import Activity, Stage, Stone

pytestmark = pytest.mark.django_db
D = Decimal
MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)


def tourmaline_parcel(owner):
    return make_lot(
        "84.60 g",
        by=owner,
        sold_as="tourmaline",
        pieces=40,
        price_basis="g",
        unit_price=D("14.50"),
        currency="USD",
        rate=D("0.9315"),
        extras=[
            CostLine("fee", D("35.00"), "USD", D("0.9315")),
            CostLine("freight", D("62.00"), "USD", D("0.9315")),
            CostLine("clearance", D("18.50"), "EUR"),
            CostLine("recoverable", D("228.08"), "EUR"),
        ],
    )


def groups(*, rule_factors=("3", "1")):
    return [
        stones.GroupSpec("A", parse_weight("21.30 g").ct, pieces=9, factor=D(rule_factors[0])),
        stones.GroupSpec("B", parse_weight("33.10 g").ct, pieces=22, factor=D(rule_factors[1])),
        stones.GroupSpec("C", parse_weight("24.00 g").ct, kind="cull"),
        stones.GroupSpec("rejects", parse_weight("6.05 g").ct, kind="reject"),
    ]


def test_a_parcel_lands_at_its_cost_and_is_shared_by_grade_and_weight():
    make_shop()
    owner = make_owner()
    lot = tourmaline_parcel(owner)
    assert lot.weight_ct == D("423.000")
    assert lot.landed_cost == D("1251.53")
    assert lot.recoverable_tax == D("228.08")

    lot = stones.sort_lot(lot, groups(), rule="grade", by=owner, at=MORNING + timedelta(hours=6))
    assert gap_ct(lot) == D("0.750")  # 0.15 g
    left = {group.name: group.cost_left for group in lot.groups.all()}
    assert left == {"A": D("824.46"), "B": D("427.07"), "C": D(0), "rejects": D(0)}


def test_changing_ones_mind_shares_afresh_but_nothing_sold_changes():
    make_shop()
    owner = make_owner()
    lot = tourmaline_parcel(owner)
    at = MORNING + timedelta(hours=6)
    lot = stones.sort_lot(lot, groups(), rule="grade", by=owner, at=at)
    gem = finished_gem(owner, lot, at)
    assert gem.stone.rough_cost == D("164.89")
    sell(owner, gem, "765.60", at)

    specs = [
        stones.GroupSpec(g.name, g.weight_ct, kind=g.kind, pieces=g.pieces, factor=g.factor, pk=g.pk)
        for g in lot.groups.all()
    ]
    lot = stones.sort_lot(lot, specs, rule="weight", by=owner, at=at + timedelta(days=1))
    # 1251.53 over 54.40 g = 23.0061/g; the sold piece of 4.26 g would now bear 98.01.
    stone = Stone.objects.get(pk=gem.stone_id)
    assert (stone.rough_cost, stone.cost_difference) == (D("164.89"), D("98.01") - D("164.89"))
    carried = stone.rough_cost + stone.cost_difference
    assert carried + lot.cost_left + lot.cost_written_off == lot.landed_cost


def finished_gem(owner, lot, at, *, weight="4.26 g", finished="6.38 ct"):
    group = lot.groups.get(name="A") if lot.is_sorted else None
    stone = stones.draw_stone(lot, parse_weight(weight), group=group, by=owner, at=at)
    stone = stones.move_on(stone, Stage.OFF_DOP, by=owner, at=at)
    measured = gems.Measured(
        weight=parse_weight(finished), length_mm=D("11.20"), width_mm=D("9.10"), depth_mm=D("6.40"),
        shape="oval", colour="green, medium light",
    )  # fmt: skip
    return gems.finish_gem(stone, measured, by=owner, at=at)


def sell(owner, gem, price, at, **said):
    buyer = make_contact(f"Buyer of {gem.code}")
    return sales.sell(
        [sales.Asked(gem, D(price))], buyer=buyer, sold_on=date(2026, 3, 2), by=owner, at=at, **said
    )


HOURS = [
    (Activity.SORT, "0.20"), (Activity.PLAN, "0.50"), (Activity.PREFORM, "0.70"), (Activity.CUT_PAVILION, "1.60"),
    (Activity.POLISH_PAVILION, "1.10"), (Activity.TRANSFER, "0.30"), (Activity.CUT_CROWN, "1.40"),
    (Activity.POLISH_CROWN, "1.00"), (Activity.CLEAN, "0.30"), (Activity.PHOTOGRAPH, "0.80"), (Activity.PAPERS, "0.20"),
]  # fmt: skip


def put_in_hours(owner, stone, hours, start):
    for activity, length in hours:
        end = start + timedelta(seconds=int(D(length) * 3600))
        stones.add_time(by=owner, at=end, start=start, end=end, activity=activity, stones=[stone])
        start = end
    return start


def test_one_stone_earns_what_it_truly_earned():
    make_shop()
    owner = make_owner()
    lot = tourmaline_parcel(owner)
    lot = stones.sort_lot(lot, groups(), rule="grade", by=owner, at=MORNING)
    stone = stones.draw_stone(
        lot, parse_weight("4.26 g"), group=lot.groups.get(name="A"), by=owner, at=MORNING
    )
    end = put_in_hours(owner, stone, HOURS, MORNING)
    stones.charge_stone(stone, kind="wear", amount=D("6.50"), on=date(2026, 3, 2), by=owner, at=end)
    stones.move_on(stone, Stage.OFF_DOP, by=owner, at=end)
    measured = gems.Measured(
        weight=parse_weight("6,38 ct"), length_mm=D("11.20"), width_mm=D("9.10"), depth_mm=D("6.40"),
        shape="oval", colour="green",
    )  # fmt: skip
    gem = gems.finish_gem(stone, measured, by=owner, at=end)
    assert gem.recovery_from_whole == D("30.0")
    assert gem.cost_at_finish == D("535.89")

    sale = sell(owner, gem, "765.60", end)
    line = sale.lines.get()
    assert line.bench_seconds == 6.10 * 3600
    assert line.bench_seconds + line.off_bench_seconds == 8.10 * 3600
    assert (line.cost, sale.margin) == (D("535.89"), D("229.71"))


def test_a_crystal_that_falls_apart_in_the_saw_keeps_its_cost_and_weight():
    make_shop()
    owner = make_owner()
    lot = make_lot("38.50 ct", by=owner, price_basis="lot", unit_price=D("1155.00"))
    stone = make_stone("38.50 ct", lot=lot, by=owner)
    at = MORNING + timedelta(hours=6)
    pieces = stones.split_stone(
        stone,
        [parse_weight(text) for text in ("15.20 ct", "12.65 ct", "6.10 ct")],
        kerf_ct=D("3.00"),
        chips_ct=D("1.55"),
        by=owner,
        at=at,
    )
    assert [piece.rough_cost for piece in pieces] == [D("517.11"), D("430.36"), D("207.53")]
    stone.refresh_from_db()
    assert (stone.rough_cost, stone.gap_ct) == (D(0), D(0))
    stones.end_stone(pieces[2], "put_by", reason="low grade", by=owner, at=at)
    with pytest.raises(Exception, match="made into several"):
        stones.record_weight(stone, parse_weight("10 ct"), by=owner, at=at)
    assert RoughLot.objects.get().landed_cost == D("1155.00")
