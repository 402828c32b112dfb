"""A position in a long list that nobody was given: the list from its beginning, no fault of ours, and at once."""

import json
import time
from base64 import urlsafe_b64encode
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from tests.makers import make_lot, make_owner, make_shop, make_stone
from workshop.common.fields import WeightField

pytestmark = pytest.mark.django_db

STRANGE = {
    "a number for a day": 5,
    "more places than are kept": "1.23456",
    "a power that takes minutes to write out": "1e900000",
    "half a character": "\ud800",
    "before the first moment of UTC": "0001-01-01T00:00:00+05:00",
    "after the last one": "9999-12-31T23:59:59-05:00",
    "a whole number no column holds": 10**30,
    "not a number": "NaN",
}
LISTS = {
    "/rough/?sort=received": "a day",
    "/rough/?sort=weight": "a weight",
    "/rough/?sort=seller": "words",
    "/stones/?sort=touched": "a moment",
    "/stones/?sort=hours": "a whole number",
}


def position(value):
    return urlsafe_b64encode(json.dumps([value, 1]).encode()).decode().rstrip("=")


@pytest.fixture
def owner():
    make_shop(zone="Asia/Bangkok")
    client = Client()
    client.force_login(make_owner())
    make_stone(lot=make_lot())
    return client


@pytest.mark.parametrize("value", STRANGE.values(), ids=STRANGE)
@pytest.mark.parametrize("address", LISTS, ids=LISTS.values())
def test_a_strange_position_is_no_fault(owner, address, value):
    assert owner.get(f"{address}&after={position(value)}").status_code == 200


def test_a_huge_power_is_refused_before_it_is_written_out():
    began = time.process_time()
    with pytest.raises(ValidationError, match="too large"):
        WeightField().count(Decimal("1e900000"))
    assert time.process_time() - began < 0.1


@pytest.mark.parametrize("asked", ["since", "until"])
@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_the_ends_of_the_calendar_are_days_too(owner, asked, day):
    assert owner.get(f"/stones/?{asked}={day}").status_code == 200
