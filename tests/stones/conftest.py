"""Three people, a lot that cost something, and a stone drawn from it."""

from decimal import Decimal

import pytest
from django.test import Client

from tests import makers


@pytest.fixture
def shop(db):
    return makers.make_shop(zone="Europe/Lisbon")


@pytest.fixture
def owner(shop):
    return makers.make_owner()


@pytest.fixture
def hand(shop):
    return makers.make_hand()


@pytest.fixture
def reader(shop):
    return makers.make_reader()


@pytest.fixture
def lot(shop):
    return makers.make_lot("100 ct", unit_price=Decimal("777.77"), price_basis="lot", currency="EUR")


@pytest.fixture
def stone(lot):
    return makers.make_stone("10 ct", lot=lot)


@pytest.fixture
def sign_in():
    def sign_in_as(person):
        client = Client()
        client.force_login(person)
        return client

    return sign_in_as


@pytest.fixture
def as_owner(owner, sign_in):
    return sign_in(owner)


@pytest.fixture
def as_hand(hand, sign_in):
    return sign_in(hand)


@pytest.fixture
def as_reader(reader, sign_in):
    return sign_in(reader)


@pytest.fixture
def many():
    """Further stones like one, written straight into the rows: drawing hundreds one by one takes minutes."""

    def like(stone, count):
        Stone = type(stone)
        last = Stone.objects.count()
        fields = [field.attname for field in Stone._meta.concrete_fields if not field.primary_key]
        there = {name: getattr(stone, name) for name in fields}
        rows = [Stone(**{**there, "code": f"S-{last + number:04d}"}) for number in range(1, count + 1)]
        return Stone.objects.bulk_create(rows)

    return like
