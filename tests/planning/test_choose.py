"""Choosing an option: the plan keeps every figure as it stood, the stone follows, the older plan is superseded."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from tests.makers import NOON
from workshop.common.models import JournalEntry, Shop
from workshop.planning.models import CutPlan
from workshop.stones import actions as stones


def test_an_option_becomes_the_plan(as_owner, owner, stone, asked, choose):
    row = next(
        row
        for row in as_owner.get(asked(f"/planning/stones/{stone.code}/")).context["rows"]
        if row.key == "oval"
    )
    answer = choose(as_owner, stone)
    plan = CutPlan.objects.get()
    assert answer.status_code == 302 and answer["Location"] == f"/planning/plans/{plan.code}/"
    assert plan.code == "PL-0001" and plan.chosen_by == owner and plan.stands
    assert (plan.length_mm, plan.width_mm, plan.depth_mm) == (row.length_mm, row.width_mm, row.depth_mm)
    assert (plan.weight_low_ct, plan.weight_ct, plan.weight_high_ct) == (
        row.weight_low_ct, row.weight_ct, row.weight_high_ct,
    )  # fmt: skip
    assert (plan.cost, plan.price, plan.earned_per_hour) == (
        row.sums.cost,
        row.sums.price,
        row.sums.earned_per_hour,
    )
    assert (plan.hourly_rate, plan.asked_per_ct, plan.currency) == (45, 80, "EUR")
    assert plan.rough["length_mm"] == "12.00" or plan.rough["length_mm"] == "12"
    assert plan.material_name == "beryl, aquamarine"


def test_the_stone_follows_its_plan_and_the_journal_tells(as_owner, stone, choose):
    choose(as_owner, stone)
    stone.refresh_from_db()
    plan = CutPlan.objects.get()
    assert stone.shape == "oval" and stone.plan == plan.words
    verbs = list(JournalEntry.objects.filter(about=stone.code).values_list("verb", flat=True))
    assert "chose cut plan" in verbs and "changed plan" in verbs


def test_a_changed_mind_supersedes_the_older_plan_and_keeps_it(as_owner, stone, choose):
    choose(as_owner, stone, "oval", once="a")
    choose(as_owner, stone, "round", once="b")
    old, new = CutPlan.objects.order_by("pk")
    assert not old.stands and new.stands and old.outline == "oval"
    assert as_owner.get(old.get_absolute_url()).status_code == 200


def test_a_form_sent_twice_makes_one_plan(as_owner, stone, choose):
    first, second = choose(as_owner, stone), choose(as_owner, stone)
    assert first["Location"] == second["Location"]
    assert CutPlan.objects.count() == 1


def test_what_is_asked_is_worked_out_anew_and_never_taken_from_the_page(as_owner, stone, asked):
    address = asked(f"/planning/stones/{stone.code}/choose/")
    as_owner.post(
        address, {"outline": "oval", "once": "a", "weight_ct": "999", "price": "1", "width_mm": "99"}
    )
    plan = CutPlan.objects.get()
    assert plan.weight_ct < Decimal("9.6") and plan.width_mm < 9


@pytest.mark.parametrize("outline", ["", "polygon", "dodecagon", "<script>"])
def test_an_outline_that_was_not_offered_is_refused(as_owner, stone, choose, outline):
    assert choose(as_owner, stone, outline).status_code == 422
    assert not CutPlan.objects.exists()


def test_a_question_that_cannot_be_answered_makes_no_plan(as_owner, stone, choose):
    assert choose(as_owner, stone, weight="40 ct").status_code == 422
    assert choose(as_owner, stone, ri="9").status_code == 422
    assert not CutPlan.objects.exists()


def test_an_outline_that_cannot_be_cut_so_makes_no_plan(as_owner, stone, choose):
    assert choose(as_owner, stone, "square", pavilion_angle="80").status_code == 422
    assert not CutPlan.objects.exists()


def test_a_hand_may_choose_and_the_plan_keeps_no_money(as_hand, stone, choose):
    assert choose(as_hand, stone).status_code == 302
    plan = CutPlan.objects.get()
    assert plan.cost is None and plan.price is None and plan.hourly_rate is None and plan.currency == ""


def test_only_a_post_chooses(as_owner, stone, asked):
    assert as_owner.get(asked(f"/planning/stones/{stone.code}/choose/")).status_code == 405


def test_what_is_written_stands_though_the_shop_changes(as_owner, stone, choose):
    choose(as_owner, stone)
    before = CutPlan.objects.values().get()
    shop = Shop.the()
    shop.hourly_rate = Decimal("90")
    shop.save()
    stones.add_note(stone, "a note", kind="note", by=None, at=NOON)
    assert CutPlan.objects.values().get() == before


class TestTheTableItself:
    """The last line of defence: what the database refuses."""

    @pytest.fixture
    def plan(self, as_owner, stone, choose):
        choose(as_owner, stone)
        return CutPlan.objects.get()

    @pytest.mark.parametrize(
        "change",
        [
            {"weight_low_ct": Decimal(0)},
            {"weight_high_ct": Decimal("99")},
            {"weight_ct": Decimal("0.001")},
            {"seconds_low": 0},
            {"seconds_high": 1},
            {"width_mm": Decimal(0)},
            {"stone": None},
        ],
    )
    def test_it_refuses_figures_out_of_order(self, plan, change):
        with pytest.raises(IntegrityError), transaction.atomic():
            CutPlan.objects.filter(pk=plan.pk).update(**change)

    def test_it_refuses_a_second_standing_plan(self, as_owner, stone, choose, plan):
        choose(as_owner, stone, "round", once="b")
        with pytest.raises(IntegrityError), transaction.atomic():
            CutPlan.objects.filter(pk=plan.pk).update(superseded_at=None)
