"""A stone breaks in work."""

from decimal import Decimal

from tests.makers import NOON, make_stone
from workshop.stones import actions


def url(stone):
    return f"/stones/{stone.code}/break/"


def test_it_works_and_its_cost_stays_a_loss(as_owner, lot, stone):
    cost = stone.rough_cost
    answer = as_owner.post(url(stone), {"reason": "cleaved", "fragments": "4.2", "cost_goes": "loss"})
    assert answer.status_code == 302
    stone.refresh_from_db()
    assert (stone.ending, stone.weight_ct, stone.rough_cost) == ("broken", Decimal("4.2"), cost)
    assert stone.losses.get().cause == "chips"


def test_its_cost_may_go_on_the_survivors(as_owner, lot, stone):
    other = make_stone("30 ct", lot=lot)
    as_owner.post(url(stone), {"reason": "cleaved", "cost_goes": "survivors"})
    for row in (stone, other, lot):
        row.refresh_from_db()
    assert stone.rough_cost == 0
    assert other.rough_cost + lot.cost_left == lot.landed_cost == Decimal("777.77")
    assert "laid on what was left of its lot" in as_owner.get(f"/stones/{stone.code}/").content.decode()


def test_hours_stay(as_owner, owner, stone):
    actions.add_time(
        by=owner,
        at=NOON,
        start=NOON.replace(hour=9),
        end=NOON.replace(hour=10),
        activity="preform",
        stones=[stone],
    )
    as_owner.post(url(stone), {"reason": "cleaved", "cost_goes": "survivors"})
    stone.refresh_from_db()
    assert stone.bench_labour == Decimal("45")


def test_off_the_dop_it_comes_by_breaking(as_owner, stone):
    actions.move_on(stone, "first_cut", by=None, at=NOON)
    assert (
        as_owner.post(url(stone), {"reason": "heat", "fragments": "3", "cost_goes": "loss"}).status_code
        == 302
    )
    stone.refresh_from_db()
    assert stone.weight_ct == Decimal("3")


def test_a_hand_is_not_asked_about_cost_and_cannot_smuggle_it_in(as_hand, lot, stone):
    make_stone("30 ct", lot=lot)
    assert "cost_goes" not in as_hand.get(url(stone)).content.decode()
    as_hand.post(url(stone), {"reason": "cleaved", "cost_goes": "survivors"})
    stone.refresh_from_db()
    assert stone.ending == "broken"
    assert stone.bears_cost


def test_fragments_heavier_than_the_stone_are_refused_whole(as_owner, stone):
    answer = as_owner.post(url(stone), {"reason": "cleaved", "fragments": "10.5", "cost_goes": "loss"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["fragments"]
    stone.refresh_from_db()
    assert (stone.ending, stone.weighings.count()) == ("", 1)


def test_what_happened_has_to_be_said(as_owner, stone):
    assert as_owner.post(url(stone), {"reason": "", "cost_goes": "loss"}).status_code == 422


def test_broken_is_final(as_owner, stone):
    actions.break_stone(stone, reason="cleaved", by=None, at=NOON)
    answer = as_owner.post(f"/stones/{stone.code}/again/", {"reason": "glued"})
    assert answer.status_code == 422
