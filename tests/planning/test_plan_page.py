"""One plan's page, and the list of plans."""

import re
from decimal import Decimal

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from workshop.planning.models import CutPlan
from workshop.planning.pieces import Piece, rough_around
from workshop.planning.views.plans import cut_of
from workshop.stones.models import Stone


@pytest.fixture
def plan(as_owner, stone, choose):
    choose(as_owner, stone)
    return CutPlan.objects.get()


@pytest.mark.parametrize("shape", ["block", "pebble", "prism", "bipyramid"])
def test_it_is_drawn_to_scale_inside_its_rough(as_owner, stone, choose, shape):
    said = {"weight": "3.5 ct"} if shape in ("pebble", "bipyramid", "prism") else {}
    choose(as_owner, stone, shape=shape, kind_1="loss", at_1="2.9", **said)
    plan = CutPlan.objects.get()
    answer = as_owner.get(plan.get_absolute_url())
    text = answer.content.decode()
    assert answer.status_code == 200
    assert text.count("<svg") >= 2 and "stroke-dasharray" in text and "style=" not in text
    solid = cut_of(plan).solid(float(plan.width_mm))
    around = rough_around(Piece.from_facts(plan.rough).rough(), plan.lay)
    assert solid.depth == pytest.approx(float(plan.depth_mm), abs=0.02)
    # Sizes are kept to 0.01 mm, so a corner may stand out by that; a pebble is drawn from its tangent planes.
    assert ((solid.vertices @ around.normals.T) <= around.offsets + 0.02).all()


def test_a_block_drawn_round_a_stone_keeps_its_three_calipers(plan):
    around = rough_around(Piece.from_facts(plan.rough).rough(), plan.lay)
    sizes = sorted(np.ptp(around.vertices, axis=0))
    # 9.6 ct at SG 2.72 fill 0.9337 of the box, so each caliper is drawn in by its cube root.
    shrink = (9.6 * 200 / 2.72 / 756) ** (1 / 3)
    assert sizes == pytest.approx([7 * shrink, 9 * shrink, 12 * shrink], rel=1e-6)


def test_it_says_size_weight_hours_and_price(as_owner, plan):
    text = as_owner.get(plan.get_absolute_url()).content.decode()
    assert "Plans, not promises" in text
    assert f"{plan.weight_ct:.2f}" in text and "EUR" in text
    assert re.search(r"Pavilion main.*?8.*?43", text, re.S)


def test_a_hand_sees_no_money_on_it_nor_in_the_list(as_hand, plan):
    for page in (plan.get_absolute_url(), "/planning/", "/planning/?sort=-price"):
        answer = as_hand.get(page)
        assert answer.status_code == 200
        assert "EUR" not in answer.content.decode()


def test_the_stone_leads_to_its_options_and_its_plan(as_owner, plan, stone):
    text = as_owner.get(stone.get_absolute_url()).content.decode()
    assert f"/planning/stones/{stone.code}/" in text
    assert plan.get_absolute_url() in text


def test_how_it_came_out_stands_beside_the_plan(as_owner, plan, stone):
    Stone.objects.filter(pk=stone.pk).update(stage="finished", weight_ct=plan.weight_ct, bench_seconds=60)
    answer = as_owner.get(plan.get_absolute_url())
    assert answer.context["weight_inside"] and not answer.context["hours_inside"]
    assert "How it came out" in answer.content.decode()


def test_a_plan_that_cannot_be_drawn_any_more_shows_its_figures(as_owner, plan):
    CutPlan.objects.filter(pk=plan.pk).update(
        pavilion_angle_deg=Decimal("89.9"), style="step", outline="square"
    )
    answer = as_owner.get(plan.get_absolute_url())
    assert answer.status_code == 200
    assert "cannot be drawn" in answer.content.decode()


def test_no_such_plan(as_owner, shop):
    assert as_owner.get("/planning/plans/PL-9999/").status_code == 404


class TestList:
    def test_nothing_yet_teaches(self, as_owner, shop):
        assert "No plan yet" in as_owner.get("/planning/").content.decode()

    def test_it_lists_and_filters(self, as_owner, plan, stone, choose):
        choose(as_owner, stone, "round", once="b")

        def codes(**asked):
            return [one.code for one in as_owner.get("/planning/", asked).context["page"].rows]

        assert codes() == ["PL-0002", "PL-0001"]
        assert codes(state="stands") == ["PL-0002"]
        assert codes(state="old") == ["PL-0001"]
        assert codes(outline="oval") == ["PL-0001"]
        assert codes(words=f"{stone.code} aquamarine") == ["PL-0002", "PL-0001"]
        assert codes(words="ruby") == []
        assert codes(sort="code") == ["PL-0001", "PL-0002"]
        assert codes(sort="nonsense") == ["PL-0002", "PL-0001"]

    def test_an_odd_filter_is_told_and_does_not_break(self, as_owner, plan):
        assert as_owner.get("/planning/", {"outline": "dodecagon"}).status_code == 422

    def test_queries_do_not_grow_with_the_list(self, as_owner, plan):
        def count():
            with CaptureQueriesContext(connection) as seen:
                as_owner.get("/planning/")
            return len(seen)

        count()
        few = count()
        facts = CutPlan.objects.values().get()
        facts.pop("id")
        lot_id = plan.stone.lot_id
        more = [{**facts, "code": f"PL-{k:04d}", "stone_id": None, "lot_id": lot_id} for k in range(100, 140)]
        CutPlan.objects.bulk_create(CutPlan(**one) for one in more)
        assert count() == few

    def test_a_stranger_is_sent_to_sign_in(self, client, shop):
        for page in (
            "/planning/",
            "/planning/plans/PL-0001/",
            "/planning/depth/",
            "/planning/recut/",
            "/planning/calculators/",
        ):
            assert client.get(page).status_code == 302
