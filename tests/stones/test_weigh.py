"""Weighing a stone."""

from decimal import Decimal

import pytest

from tests.makers import NOON, make_shop
from workshop.common.models import JournalEntry
from workshop.handbook.units import parse_weight
from workshop.stones import actions
from workshop.stones.models import Loss, Weighing


def url(stone):
    return f"/stones/{stone.code}/weigh/"


def test_it_works(as_hand, stone):
    answer = as_hand.post(url(stone), {"weight": "8.25", "cause": "trim"})
    assert answer.status_code == 302
    assert answer["Location"] == f"/stones/{stone.code}/"
    stone.refresh_from_db()
    assert stone.weight_ct == Decimal("8.25")
    assert [(loss.weight_ct, loss.cause) for loss in stone.losses.all()] == [(Decimal("1.75"), "trim")]


def test_the_loss_is_told(as_hand, stone):
    answer = as_hand.post(url(stone), {"weight": "8.25", "cause": "swarf"}, follow=True)
    assert "1.750\u00a0ct went" in answer.content.decode()


def test_from_the_bench_it_leads_back_to_the_bench(as_hand, stone):
    answer = as_hand.post(f"{url(stone)}?from=bench", {"weight": "8.25"})
    assert answer["Location"] == f"/stones/bench/{stone.code}/"


@pytest.mark.parametrize(
    ("typed", "carats"),
    [("1,5 g", "7.5"), ("1.5g", "7.5"), ("8,25", "8.25"), ("8.25 ct", "8.25"), ("1 650 mg", "8.25")],
)
def test_comma_point_gram_and_carat_are_read(as_hand, stone, typed, carats):
    assert as_hand.post(url(stone), {"weight": typed}).status_code == 302
    stone.refresh_from_db()
    assert stone.weight_ct == Decimal(carats)


def test_a_bare_number_is_in_the_shops_unit(as_hand, stone):
    make_shop(weight_unit="g")
    as_hand.post(url(stone), {"weight": "1.65"})
    weighing = stone.weighings.last()
    assert (weighing.weight_ct, weighing.entered) == (Decimal("8.25"), "1.65 g")


@pytest.mark.parametrize("typed", ["", "0", "-3", "abc", "8.25 stone", "NaN", "1e2", "8..2", "9999999999"])
def test_what_is_no_weight_is_refused_beside_the_field(as_hand, stone, typed):
    answer = as_hand.post(url(stone), {"weight": typed, "note": "kept words"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["weight"]
    assert "kept words" in answer.content.decode()
    assert stone.weighings.count() == 1


def test_a_weight_above_the_last_is_refused(as_hand, stone):
    answer = as_hand.post(url(stone), {"weight": "10.001"})
    assert answer.status_code == 422
    assert "above the last weight" in answer.content.decode()
    assert stone.weighings.count() == 1


def test_a_tenfold_slip_upwards_names_what_was_meant(as_hand, stone):
    actions.record_weight(stone, parse_weight("6.24 ct"), by=None, at=NOON)
    answer = as_hand.post(url(stone), {"weight": "62.1"})
    assert "Did you mean 6.21" in answer.content.decode()


def test_a_tenfold_slip_downwards_is_asked_about_and_goes_through_when_meant(as_hand, stone):
    answer = as_hand.post(url(stone), {"weight": "0.95", "once": "k"})
    assert answer.status_code == 422
    assert 'name="sure"' in answer.content.decode()
    assert stone.weighings.count() == 1
    assert as_hand.post(url(stone), {"weight": "0.95", "sure": "on", "once": "k"}).status_code == 302
    stone.refresh_from_db()
    assert stone.weight_ct == Decimal("0.95")


def test_a_part_of_the_loss_may_have_a_cause_of_its_own(as_hand, stone):
    as_hand.post(url(stone), {"weight": "8", "cause": "swarf", "part": "0.5", "part_cause": "chips"})
    assert dict(stone.losses.values_list("cause", "weight_ct")) == {
        "chips": Decimal("0.5"), "swarf": Decimal("1.5"),
    }  # fmt: skip


def test_a_part_larger_than_the_loss_is_refused_whole(as_hand, stone):
    answer = as_hand.post(url(stone), {"weight": "8", "part": "2.5"})
    assert answer.status_code == 422
    assert Weighing.objects.count() == 1
    assert not Loss.objects.exists()


def test_on_the_dop_it_is_refused_and_led_to_a_note(as_hand, stone):
    actions.move_on(stone, "first_cut", by=None, at=NOON)
    answer = as_hand.post(url(stone), {"weight": "9"})
    assert answer.status_code == 422
    assert "kind=on_dop" in answer.content.decode()
    stone.refresh_from_db()
    assert stone.weight_ct == Decimal("10")


def test_sent_twice_it_is_weighed_once(as_hand, stone):
    once = as_hand.get(url(stone)).context["form"]["once"].value()
    for _ in range(2):
        assert as_hand.post(url(stone), {"weight": "8.25", "once": once}).status_code == 302
    assert stone.weighings.count() == 2
    assert JournalEntry.objects.filter(verb="weighed").count() == 1


def test_an_ended_stone_is_weighed_no_more(as_hand, stone):
    actions.end_stone(stone, "scrapped", reason="flawed through", by=None, at=NOON)
    assert as_hand.post(url(stone), {"weight": "8"}).status_code == 422


def test_an_unknown_cause_is_refused(as_hand, stone):
    assert as_hand.post(url(stone), {"weight": "8", "cause": "magic"}).status_code == 422


def test_no_such_stone(as_hand, shop):
    assert as_hand.get("/stones/S-9999/weigh/").status_code == 404


def test_a_reader_weighs_nothing(as_reader, stone):
    assert as_reader.get(url(stone)).status_code == 403
    assert as_reader.post(url(stone), {"weight": "8"}).status_code == 403
    assert stone.weighings.count() == 1
