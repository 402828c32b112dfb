"""What falls under a floor while nobody asked: the law of ``under_floor``, and its cost in questions.

That a client is asked before a stone ends below what was agreed is common practice, no source; the law here is our own.
"""

from dataclasses import dataclass
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st

from tests import makers
from tests.commissions.quoted import accept, an_ask, make_sent
from workshop.commissions import progress
from workshop.commissions.actions import commissions
from workshop.commissions.models import Commission, CommissionItem, ItemStone, StopAsk
from workshop.handbook.units import parse_weight
from workshop.planning.models import CutPlan
from workshop.stones import actions as stones
from workshop.stones.models import Stone

pytestmark = pytest.mark.django_db
NOON = makers.NOON
WEIGHT = st.decimals("0.5", "4", places=1)


def plan_for(stone, low, middle, high, superseded=False):
    """A plan as the options page leaves it; only its weights matter here."""
    figures = dict.fromkeys(
        ("crown_angle_deg", "pavilion_angle_deg", "least_pavilion_deg"), Decimal(40)
    ) | dict.fromkeys(("length_mm", "width_mm", "depth_mm"), Decimal(8))
    return CutPlan.objects.create(
        code=f"PL-{CutPlan.objects.count() + 1:04d}", stone=stone, specific_gravity=Decimal("2.72"),
        refractive_index=Decimal("1.58"), outline="oval", style="brilliant", table_percent=55, girdle_percent=3,
        facets=57, rough={}, lay={}, rough_ct=Decimal(10), bound_ct=Decimal(6), weight_low_ct=low, weight_ct=middle,
        weight_high_ct=high, seconds_low=1, seconds=2, seconds_high=3, share_percent=80, chosen_at=NOON,
        superseded_at=NOON if superseded else None, **figures,
    )  # fmt: skip


@dataclass
class Case:
    """One piece: its floor, its stone's weight now, its plan's low and middle weight, and what has happened."""

    floor: Decimal | None
    weight: Decimal
    plan: tuple[Decimal, Decimal] | None
    old_plan: bool
    asked: str  # "", "open", "answered", "withdrawn"
    ended: str  # "", "lost", "dropped", "closed", "unlinked"

    def wanted(self):
        """The law, told again from the words of the brief."""
        if self.floor is None or self.ended or self.asked == "open":
            return None
        if self.weight < self.floor:
            return "weight"
        if self.plan is None or self.old_plan:
            return None
        low, middle = self.plan
        return "plan" if middle < self.floor else "plan_low" if low < self.floor else None


CASES = st.builds(
    Case,
    floor=st.none() | WEIGHT,
    weight=WEIGHT,
    plan=st.none() | st.tuples(WEIGHT, WEIGHT).map(lambda pair: (min(pair), max(pair))),
    old_plan=st.booleans(),
    asked=st.sampled_from(["", "", "open", "answered", "withdrawn"]),
    ended=st.sampled_from(["", "", "", "lost", "dropped", "closed", "unlinked"]),
)


def build(case, client):
    commission = makers.make_commission(client=client, items=[makers.make_item_spec(floor_ct=case.floor)])
    item, stone = commission.items.get(), makers.make_clients_stone(client)
    link = commissions.link_stone(item, stone, by=None, at=NOON)
    Stone.objects.filter(pk=stone.pk).update(weight_ct=case.weight)
    if case.plan:
        plan_for(stone, *case.plan, Decimal(10), superseded=case.old_plan)
    if case.asked:
        done = {
            "open": {},
            "answered": {"answered_at": NOON, "answer": "yes"},
            "withdrawn": {"withdrawn_at": NOON},
        }
        StopAsk.objects.create(item=item, why="other", words="?", asked_at=NOON, **done[case.asked])
    if case.ended == "lost":
        stones.end_stone(stone, "lost", reason="pinged", by=None, at=NOON)
    elif case.ended == "dropped":
        CommissionItem.objects.filter(pk=item.pk).update(outcome="dropped", outcome_on=makers.DAY)
    elif case.ended == "closed":
        Commission.objects.filter(pk=commission.pk).update(state="cancelled", closed_on=makers.DAY)
    elif case.ended == "unlinked":
        ItemStone.objects.filter(pk=link.pk).update(until=NOON)
    return item


# Several cases an example, each through the deeds: a third of the usual number finds what the usual number does.
@settings(max_examples=max(settings().max_examples // 3, 10))
@given(st.lists(CASES, min_size=1, max_size=4))
def test_the_law(cases):
    CutPlan.objects.all().delete()
    StopAsk.objects.all().delete()
    ItemStone.objects.all().delete()
    CommissionItem.objects.all().delete()
    makers.make_shop()
    client = makers.make_contact()
    wanted = {build(case, client).pk: case for case in cases}
    found = {alarm.item.pk: alarm for alarm in progress.under_floor()}
    assert {pk: alarm.what for pk, alarm in found.items()} == {
        pk: case.wanted() for pk, case in wanted.items() if case.wanted()
    }
    for pk, alarm in found.items():
        assert alarm.found_ct < alarm.floor_ct == wanted[pk].floor
        assert alarm.stone.code in alarm.words


def test_which_figure_it_is_stands_in_the_words():
    item = build(
        Case(Decimal(2), Decimal(5), (Decimal("1.5"), Decimal("2.5")), False, "", ""), makers.make_contact()
    )
    (alarm,) = progress.under_floor()
    assert (
        alarm.words == f"{alarm.stone.code} may end at 1.500\u00a0ct by PL-0001; the floor is 2.000\u00a0ct."
    )
    CutPlan.objects.update(weight_low_ct=Decimal("1.2"), weight_ct=Decimal("1.8"))
    (alarm,) = progress.under_floor()
    assert (
        alarm.words
        == f"{alarm.stone.code} ends at about 1.800\u00a0ct by PL-0001; the floor is 2.000\u00a0ct."
    )
    assert progress.under_floor(CommissionItem.objects.exclude(pk=item.pk)) == []


def test_a_second_smaller_stone_breaks_no_promise_and_a_pair_is_watched_one_by_one():
    commission = makers.make_commission(items=[makers.make_item_spec(floor_ct=Decimal(2))])
    item, stone = commission.items.get(), makers.make_clients_stone(commission.client)
    commissions.link_stone(item, stone, by=None, at=NOON)
    big, _ = stones.split_stone(
        stone, [parse_weight("8 ct"), parse_weight("1.5 ct")], by=None, at=NOON, kerf_ct=Decimal("0.5")
    )
    assert progress.under_floor() == []
    Stone.objects.filter(pk=big.pk).update(weight_ct=Decimal("1.9"))
    assert [alarm.stone for alarm in progress.under_floor()] == [big]
    other = makers.make_clients_stone(commission.client, weight="1.8 ct")
    commissions.link_stone(item, other, by=None, at=NOON)
    assert [alarm.stone for alarm in progress.under_floor()] == [big, other]


def test_a_lower_weight_that_was_agreed_is_the_floor_from_then_on():
    case = Case(Decimal(2), Decimal("1.7"), None, False, "", "")
    item = build(case, makers.make_contact())
    StopAsk.objects.create(
        item=item, why="floor", words="?", asked_at=NOON, answered_at=NOON, answer="go on",
        weight_low_ct=Decimal("1.6"), weight_high_ct=Decimal("1.9"),
    )  # fmt: skip
    assert progress.under_floor() == []
    Stone.objects.update(weight_ct=Decimal("1.5"))
    assert [alarm.floor_ct for alarm in progress.under_floor()] == [Decimal("1.6")]


def test_a_gem_that_was_finished_below_its_floor_is_told_too():
    commission = makers.make_commission(items=[makers.make_item_spec(floor_ct=Decimal(3))])
    item, stone = commission.items.get(), makers.make_clients_stone(commission.client)
    commissions.link_stone(item, stone, by=None, at=NOON)
    makers.make_gem("2.5 ct", stone=stone)
    assert [alarm.found_ct for alarm in progress.under_floor()] == [Decimal("2.5")]


def test_the_same_number_of_questions_for_3_and_30():
    client, counted = makers.make_contact(), []
    low = Case(Decimal(2), Decimal(1), (Decimal(1), Decimal(1)), False, "answered", "")
    for rows in (3, 30):
        while CommissionItem.objects.count() < rows:
            build(low, client)
        with CaptureQueriesContext(connection) as queries:
            assert len(progress.under_floor()) == rows
        counted.append(len(queries))
    # Pieces with their commissions, their questions, the links with their stones, what was made of those,
    # the gems promised of each, plans.
    assert counted == [6, 6]


def test_of_two_gems_promised_from_one_stone_the_smaller_is_watched_too(client):
    """Two were promised at 2.00 ct each: the heavier one does not keep the promise for the other."""
    makers.make_shop()
    client.force_login(makers.make_owner())
    commission = makers.make_commission(items=[makers.make_item_spec(floor_ct=Decimal(2))])
    item, stone = commission.items.get(), makers.make_clients_stone(commission.client)
    commissions.link_stone(item, stone, by=None, at=NOON)
    accept(make_sent(commission, asks={1: an_ask(gems=2)}))
    _, small, chip = stones.split_stone(
        stone,
        [parse_weight("5 ct"), parse_weight("3 ct"), parse_weight("1 ct")],
        by=None,
        at=NOON,
        kerf_ct=Decimal(1),
    )
    assert progress.under_floor() == []
    Stone.objects.filter(pk=small.pk).update(weight_ct=Decimal("1.9"))
    assert [alarm.stone for alarm in progress.under_floor()] == [small]
    page = client.get(f"/commissions/at-the-wheel/{small.code}/").content.decode()
    assert f"{small.code} weighs 1.900" in page
    page = client.get(f"/commissions/at-the-wheel/{chip.code}/").content.decode()
    assert "under the floor of" in page and "to go" not in page


def test_at_the_wheel_the_floor_is_the_one_that_was_agreed_last(client):
    makers.make_shop()
    client.force_login(makers.make_owner())
    commission = makers.make_commission(items=[makers.make_item_spec(floor_ct=Decimal(2))])
    item, stone = commission.items.get(), makers.make_clients_stone(commission.client, weight="1.8 ct")
    commissions.link_stone(item, stone, by=None, at=NOON)
    StopAsk.objects.create(
        item=item,
        why="floor",
        words="?",
        asked_at=NOON,
        answered_at=NOON,
        answer="yes",
        weight_low_ct=Decimal("1.5"),
    )
    page = client.get(f"/commissions/at-the-wheel/{stone.code}/").content.decode()
    assert "Floor 1.500" in page and "0.300" in page
