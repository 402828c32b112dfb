"""Putting a wrong reading right."""

from decimal import Decimal

import pytest

from tests.makers import NOON
from workshop.common.errors import DeedRefused
from workshop.handbook.units import parse_weight
from workshop.stones import actions


@pytest.fixture
def weighing(stone):
    return actions.record_weight(
        stone, parse_weight("8 ct"), by=None, at=NOON, parts=[("chips", Decimal("0.5"))], note="washed"
    )


def url(weighing):
    return f"/stones/weighings/{weighing.pk}/correct/"


def test_it_works_and_both_readings_stay(as_hand, stone, weighing):
    answer = as_hand.post(url(weighing), {"weight": "8.4", "reason": "wax on it"})
    assert answer.status_code == 302
    stone.refresh_from_db()
    assert stone.weight_ct == Decimal("8.4")
    page = as_hand.get(f"/stones/{stone.code}/").content.decode()
    assert "<del>8.000\u00a0ct</del>" in page
    assert "8.400\u00a0ct" in page
    assert "wax on it" in page


def test_named_parts_of_the_loss_and_the_note_outlive_a_correction(as_hand, stone, weighing):
    as_hand.post(url(weighing), {"weight": "8.4", "reason": "wax on it"})
    assert dict(stone.losses.values_list("cause", "weight_ct")) == {
        "chips": Decimal("0.5"), "swarf": Decimal("1.1"),
    }  # fmt: skip
    assert stone.weighings.get(corrects=weighing).note == "washed"


def test_named_parts_shrink_to_the_room_that_is_left(stone, weighing):
    actions.correct_weight(weighing, parse_weight("9.8 ct"), reason="wrong pan", by=None, at=NOON)
    assert dict(stone.losses.values_list("cause", "weight_ct")) == {"chips": Decimal("0.2")}


def test_without_a_reason_it_is_refused(as_hand, stone, weighing):
    answer = as_hand.post(url(weighing), {"weight": "8.4", "reason": " "})
    assert answer.status_code == 422
    assert answer.context["form"].errors["reason"]
    assert stone.weighings.filter(counts=True).count() == 2


@pytest.mark.parametrize(("typed", "why"), [("10.5", "before it"), ("6.5", "after it")])
def test_the_run_must_still_only_fall(as_hand, stone, weighing, typed, why):
    actions.record_weight(stone, parse_weight("7 ct"), by=None, at=NOON)
    answer = as_hand.post(url(weighing), {"weight": typed, "reason": "typed wrong"})
    assert answer.status_code == 422
    assert why in answer.content.decode()


def test_a_corrected_reading_is_not_corrected_again(as_hand, weighing):
    as_hand.post(url(weighing), {"weight": "8.4", "reason": "wax on it"})
    answer = as_hand.post(url(weighing), {"weight": "8.5", "reason": "once more"})
    assert answer.status_code == 422
    assert "corrected already" in answer.content.decode()


def test_a_corrected_first_weight_moves_the_draw_and_the_cost(lot, stone):
    actions.correct_weight(stone.weighings.get(), parse_weight("20 ct"), reason="in grams", by=None, at=NOON)
    for row in (lot, stone):
        row.refresh_from_db()
    assert lot.left_ct == Decimal("80")
    assert stone.draw.__class__.objects.get(pk=stone.draw_id).weight_ct == Decimal("20")
    assert stone.rough_cost + lot.cost_left == Decimal("777.77")
    assert stone.rough_cost == Decimal("155.55")


def test_a_first_weight_above_what_the_lot_holds_is_refused_whole(as_owner, lot, stone):
    answer = as_owner.post(url(stone.weighings.get()), {"weight": "100.5", "reason": "in grams"})
    assert answer.status_code == 422
    stone.refresh_from_db()
    assert stone.start_ct == Decimal("10")
    assert stone.weighings.count() == 1


def test_a_piece_cannot_grow_beyond_its_parent(stone):
    first, _ = actions.split_stone(
        stone, [parse_weight("6 ct"), parse_weight("3.9 ct")], by=None, at=NOON, kerf_ct=Decimal("0.1")
    )
    with pytest.raises(DeedRefused, match="cannot weigh more"):
        actions.correct_weight(first.weighings.get(), parse_weight("6.1 ct"), reason="slip", by=None, at=NOON)


def test_a_reader_corrects_nothing(as_reader, weighing):
    assert as_reader.post(url(weighing), {"weight": "8.4", "reason": "x"}).status_code == 403


def test_no_such_weighing(as_hand, shop):
    assert as_hand.get("/stones/weighings/999999/correct/").status_code == 404
