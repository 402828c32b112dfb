"""Days and moments that are a slip of the year: told beside the field, and no fault where UTC cannot name them."""

import pytest
from django.test import Client

from tests.makers import make_lot, make_owner, make_shop
from workshop.stones.models import BenchTime

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    # East of Greenwich the calendar's first hours lie before the first moment of UTC.
    make_shop(zone="Asia/Bangkok")
    client = Client()
    client.force_login(make_owner())
    return client


@pytest.mark.parametrize("start", ["0001-01-01T00:00", "1899-12-31T09:00"])
def test_a_time_of_another_age_is_asked_about(owner, start):
    typed = {"start": start, "end": "2026-01-05T10:00", "activity": "sort"}
    answer = owner.post("/stones/times/add/", typed)
    assert answer.status_code == 422
    assert answer.context["form"].errors["start"] == ["Look at the year."]
    assert not BenchTime.objects.exists()


@pytest.mark.parametrize("day", ["0001-01-01", "0206-01-05"])
def test_so_is_the_day_of_a_bill(owner, day):
    lot = make_lot()
    answer = owner.post(f"/stones/from/{lot.code}/bill/", {"paid_on": day, "currency": "EUR", "freight": "9"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["paid_on"] == ["Look at the year."]
    assert not lot.costs.exists()
