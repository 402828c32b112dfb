"""The ranges learn from the shop's own finished stones, and say how many."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.makers import NOON, make_gem, make_owner, make_stone
from workshop.gems import actions as gems
from workshop.handbook import estimates
from workshop.handbook.units import parse_weight
from workshop.planning.history import USUAL_OFF_BENCH, history
from workshop.planning.models import CutPlan
from workshop.stones import actions as stones
from workshop.stones.models import Stone

JOB = estimates.Job(57, 1.0, False, 6.0)


def finished(lot, *, hours, weight="0.6", off=0.0, material=None, width="6"):
    stone = make_stone("2 ct", lot=lot, material=material, width_mm=Decimal(width))
    Stone.objects.filter(pk=stone.pk).update(
        stage="finished", weight_ct=Decimal(weight), bench_seconds=int(hours * 3600), off_bench_seconds=int(off * 3600)
    )  # fmt: skip
    return stone


def test_on_the_first_day_the_stated_prior_answers(shop):
    past = history()
    hours = estimates.hours_range(past.hours, JOB)
    # 1.6 + 0.02 x 57 = 2.74 hours for a plain quartz of the usual size [assume].
    assert hours.middle == pytest.approx(2.74, abs=0.01)
    assert (past.hour_stones, past.off_bench_percent, past.off_bench_own) == (0, USUAL_OFF_BENCH, False)


def test_a_slow_bench_makes_its_ranges_slow_and_narrow(lot):
    before = estimates.hours_range(history().hours, JOB)
    for _ in range(20):
        finished(lot, hours=6)
    past = history()
    after = estimates.hours_range(past.hours, JOB)
    assert past.hour_stones == 20
    assert before.middle < after.middle < 6.5
    assert after.high / after.low < before.high / before.low
    assert after.own_bench > 0.5


def test_time_off_the_bench_is_the_shop_s_own_once_there_is_some(lot):
    finished(lot, hours=4, off=1)
    finished(lot, hours=4, off=3)
    past = history()
    assert past.off_bench_own and past.off_bench_percent == Decimal("50.0")


def test_stones_on_the_bench_or_ended_teach_nothing(lot):
    stone = finished(lot, hours=9)
    Stone.objects.filter(pk=stone.pk).update(stage="preformed")
    assert history().hour_stones == 0


def test_a_stone_without_hours_or_size_teaches_nothing_about_hours(lot):
    Stone.objects.filter(pk=finished(lot, hours=0).pk).update(width_mm=None)
    finished(lot, hours=0)
    assert history().hour_stones == 0


def test_recovery_learns_from_stones_that_had_a_plan(as_owner, stone, choose):
    choose(as_owner, stone)
    plan = CutPlan.objects.get()
    kept = (plan.bound_ct * Decimal("0.9")).quantize(Decimal("0.001"))
    before = estimates.weight_range(history().recovery, estimates.Take(9.6), 3.0)
    Stone.objects.filter(pk=stone.pk).update(stage="finished", weight_ct=kept)
    past = history()
    after = estimates.weight_range(past.recovery, estimates.Take(9.6), 3.0)
    assert past.recovery_stones == 1
    assert before.middle < after.middle < 3.0 * 0.9


def test_a_superseded_plan_teaches_nothing(as_owner, stone, choose):
    choose(as_owner, stone, "oval", once="a")
    choose(as_owner, stone, "round", once="b")
    Stone.objects.filter(pk=stone.pk).update(stage="finished", weight_ct=Decimal("2"))
    assert history().recovery_stones == 1


def test_the_gem_s_own_facets_and_width_count(owner, lot):
    gem = make_gem(stone=make_stone("10 ct", lot=lot), facets=200)
    Stone.objects.filter(pk=gem.stone_id).update(bench_seconds=20000)
    assert history().hour_stones == 1


def test_a_stone_with_two_plans_and_two_gems_counts_once(as_owner, stone, choose):
    choose(as_owner, stone, "oval", once="a")
    choose(as_owner, stone, "round", once="b")
    Stone.objects.filter(pk=stone.pk).update(stage="finished", bench_seconds=9000, width_mm=Decimal("6"))
    assert history().hour_stones == 1


def test_it_is_one_query_however_many_there_are(lot):
    for hours in (2, 3, 4):
        finished(lot, hours=hours)
    with CaptureQueriesContext(connection) as seen:
        history()
    assert len(seen) == 1


def test_a_recut_teaches_recuts_and_leaves_the_hours_of_new_stones_alone(lot):
    for _ in range(20):
        finished(lot, hours=6)
    new = estimates.hours_range(history().hours, JOB)
    for _ in range(20):
        Stone.objects.filter(pk=finished(lot, hours=1).pk).update(work="recut")
    past = history()
    assert past.hour_stones == 40
    # Had they counted as new, the middle would have fallen to about the root of 6 × 1.
    assert estimates.hours_range(past.hours, JOB).middle == pytest.approx(new.middle, rel=0.05)
    recut = estimates.Job(57, 1.0, False, 6.0, "recut")
    assert 0.9 < estimates.hours_range(past.hours, recut).middle < 1.6


@pytest.mark.parametrize(("work", "learned"), [("new", 1), ("recut", 1), ("repolish", 1), ("repair", 0)])
def test_each_kind_of_work_teaches_its_own_kind_and_a_repair_none(lot, work, learned):
    Stone.objects.filter(pk=finished(lot, hours=2).pk).update(work=work)
    assert history().hour_stones == learned


def test_only_a_stone_cut_new_teaches_recovery(as_owner, stone, choose):
    choose(as_owner, stone)
    Stone.objects.filter(pk=stone.pk).update(stage="finished", weight_ct=Decimal("2"), work="recut")
    assert history().recovery_stones == 0


def test_a_gem_that_went_back_for_work_teaches_nothing_twice(lot, owner):
    """Its row holds the hours and the last weight of two jobs."""
    gem = make_gem(stone=make_stone("10 ct", lot=lot))
    Stone.objects.filter(pk=gem.stone_id).update(bench_seconds=20000)
    assert history().hour_stones == 1
    gems.send_back(gem, to="off_dop", reason="a scratch", by=owner, at=NOON)
    make_gem(weight="2.1 ct", stone=gem.stone.__class__.objects.get(pk=gem.stone_id))
    assert history().hour_stones == 0


def test_the_kind_of_work_is_a_deed_kept_in_the_journal_and_goes_to_the_pieces(lot):
    owner = make_owner()
    stone = make_stone("10 ct", lot=lot)
    stones.describe_stone(stone, {"work": "recut"}, by=owner, at=NOON)
    stone.refresh_from_db()
    assert stone.work == "recut"
    pieces = stones.split_stone(stone, [parse_weight("6 ct"), parse_weight("3.9 ct")], by=owner, at=NOON)
    assert {piece.work for piece in pieces} == {"recut"}
