"""The plan of a stone."""

from decimal import Decimal

import pytest

from tests.makers import NOON
from workshop.common.models import JournalEntry
from workshop.stones import actions

TYPED = {
    "plan": "oval 8 × 6",
    "shape": "oval",
    "first_side": "crown",
    "length_mm": "12,4",
    "width_mm": "9.1 mm",
    "depth_mm": "",
}


def url(stone):
    return f"/stones/{stone.code}/plan/"


def test_it_works(as_hand, stone):
    assert as_hand.post(url(stone), TYPED).status_code == 302
    stone.refresh_from_db()
    assert (stone.plan, stone.shape, stone.first_side) == ("oval 8 × 6", "oval", "crown")
    assert (stone.length_mm, stone.width_mm, stone.depth_mm) == (Decimal("12.40"), Decimal("9.10"), None)


def test_a_changed_design_leaves_the_old_words_in_the_journal(as_hand, stone):
    as_hand.post(url(stone), TYPED)
    as_hand.post(url(stone), {**TYPED, "plan": "round 7"})
    line = JournalEntry.objects.filter(verb="changed plan").first()
    assert (line.before["plan"], line.after["plan"]) == ("oval 8 × 6", "round 7")


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"length_mm": "-1"}, "length_mm"),
        ({"length_mm": "12 parsecs"}, "length_mm"),
        ({"width_mm": "0"}, "width_mm"),
        ({"depth_mm": "1e9"}, "depth_mm"),
        ({"shape": "banana"}, "shape"),
        ({"first_side": ""}, "first_side"),
        ({"plan": "x" * 201}, "plan"),
    ],
)
def test_slips_are_refused(as_hand, stone, sent, field):
    answer = as_hand.post(url(stone), {**TYPED, **sent})
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    stone.refresh_from_db()
    assert stone.plan == ""


def test_an_ended_stone_keeps_its_plan(as_hand, stone):
    actions.end_stone(stone, "scrapped", reason="flawed", by=None, at=NOON)
    assert as_hand.post(url(stone), TYPED).status_code == 422
