"""Makers for tests: each fills in only what the test did not say and returns what the deeds returned."""

from datetime import UTC, date, datetime
from decimal import Decimal

from workshop.common import numbers
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.handbook.units import parse_weight
from workshop.materials.models import Material
from workshop.people.models import Contact
from workshop.rough import actions as rough
from workshop.stones import actions as stones

#: A plain working day, noon UTC, in the past of every test.
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
DAY = date(2026, 3, 2)


def make_shop(**said):
    shop = Shop.the()
    for name, value in {"name": "Test shop", "currency": "EUR", "hourly_rate": Decimal("45"), **said}.items():
        setattr(shop, name, value)
    shop.set_up_at = NOON
    shop.save()
    return shop


def make_person(username, role, **said):
    return Hand.objects.create_user(username=username, password="a long enough pass phrase", role=role, **said)


def make_owner(username="oona", **said):
    return make_person(username, "owner", **said)


def make_hand(username="hal", **said):
    return make_person(username, "hand", **said)


def make_reader(username="rhea", **said):
    return make_person(username, "reader", **said)


def make_contact(name="Imaginary Stones", **said):
    with write_tx():
        return Contact.objects.create(code=numbers.take("P"), name=name, **said)


def make_material(key="tourmaline-test", **said):
    return Material.objects.get_or_create(
        key=key, defaults={"species": "tourmaline", "variety": key, **said}
    )[0]


def make_lot(weight="100 ct", by=None, at=NOON, received_on=DAY, **said):
    said.setdefault("sold_as", "mixed rough")
    return rough.receive_lot(
        by=by, at=at, received_on=received_on, weight=parse_weight(weight), **said
    )


def make_stone(weight="10 ct", lot=None, by=None, at=NOON, **said):
    return stones.draw_stone(lot or make_lot(), parse_weight(weight), by=by, at=at, **said)
