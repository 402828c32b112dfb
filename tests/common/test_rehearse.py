"""A rehearsed deed answers as if it were done, and leaves nothing behind."""

import pytest

from tests.makers import make_lot, make_shop
from workshop.common.errors import DeedRefused
from workshop.common.models import DoneDeed, JournalEntry, Series
from workshop.common.tx import rehearse, write_tx
from workshop.rough.models import RoughLot

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shop():
    return make_shop()


def test_the_answer_comes_back_and_the_deed_does_not_stay():
    assert rehearse(lambda: make_lot("3 ct").code) == "L-0001"
    assert not RoughLot.objects.exists()
    assert not JournalEntry.objects.exists()
    assert not Series.objects.filter(last__gt=0).exists()
    assert not DoneDeed.objects.exists()
    # The number was given back, so the next lot takes it.
    assert make_lot("3 ct").code == "L-0001"


def test_inside_a_deed_only_the_rehearsal_is_undone():
    with write_tx():
        make_lot("3 ct")
        rehearse(lambda: make_lot("4 ct").code)
        make_lot("5 ct")
    assert [lot.code for lot in RoughLot.objects.order_by("pk")] == ["L-0001", "L-0002"]


def test_a_refusal_passes_through():
    def refused():
        make_lot("3 ct")
        raise DeedRefused("no")

    with pytest.raises(DeedRefused):
        rehearse(refused)
    assert not RoughLot.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_the_write_lock_is_free_again_afterwards():
    make_shop()
    rehearse(lambda: make_lot("3 ct").code)
    assert make_lot("4 ct").code == "L-0001"
