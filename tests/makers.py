"""Makers for tests: each fills in only what the test did not say and returns what the deeds returned."""

from datetime import UTC, date, datetime
from decimal import Decimal

from workshop.commissions.actions import commissions
from workshop.commissions.actions.commissions import ItemSpec
from workshop.common import numbers
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.gems import actions as gems
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
    return Hand.objects.create_user(
        username=username, password="a long enough pass phrase", role=role, **said
    )


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
    return rough.receive_lot(by=by, at=at, received_on=received_on, weight=parse_weight(weight), **said)


def make_stone(weight="10 ct", lot=None, by=None, at=NOON, **said):
    return stones.draw_stone(lot or make_lot(), parse_weight(weight), by=by, at=at, **said)


def somebody():
    """Whoever did it, where a test does not care: the owner."""
    return Hand.objects.filter(username="oona").first() or make_owner()


def make_gem(weight="2.345 ct", stone=None, by=None, at=NOON, photo=None, **said):
    """A finished gem of a stone that is set off the dop without its way there."""
    by = by or somebody()
    stone = stone or make_stone(weight="10 ct", by=by, at=at)
    stone.stage = "off_dop"
    stone.save(update_fields=["stage"])
    said = {
        "length_mm": Decimal("9.12"), "width_mm": Decimal("7.04"), "depth_mm": Decimal("5.20"), "shape": "oval",
        "colour": "bluish green, medium", "colour_light": "daylight, facing north", **said,
    }  # fmt: skip
    measured = gems.Measured(weight=parse_weight(weight), **said)
    return gems.finish_gem(stone, measured, by=by, at=at, public_photo=photo, sure=True)


def say(stone, question, evidence=3, by=None, at=NOON, **said):
    """A statement about a stone."""
    said = {"said_by": "Imaginary Stones", "said_on": DAY, "evidence": evidence, "question": question, **said}
    return stones.state_about_stone(stone, said, by=by or somebody(), at=at)


def make_answered_gem(material=None, **said):
    """A gem none of whose questions is open: mined, its species tested here, its treatment told in writing."""
    gem = make_gem(**said)
    material = material or Material.objects.get(key="tourmaline-elbaite")
    say(gem.stone, "nature", 2, nature="mined", how="invoice 17")
    say(gem.stone, "species", 3, material=material, said_by="the cutter", how="RI 1.624–1.644, SG 3.06")
    say(gem.stone, "treatment", 2, treated="treated", treatments=["heat"], how="invoice 17")
    return gem


def make_item_spec(**said):
    """What is wanted of one piece: an oval cut from the client's rough unless said otherwise."""
    return ItemSpec(**{"work": "cut_client", "wanted": "an oval of her aquamarine", **said})


def make_commission(client=None, items=None, by=None, at=NOON, state=None, **said):
    """An enquiry of a client's for one piece, or for the ``ItemSpec``s in ``items``."""
    client = client or make_contact("Mara Quill", is_client=True)
    items = [make_item_spec()] if items is None else items
    commission = commissions.open_commission(
        client, by=by, at=at, items=items, **{"asked_on": DAY, "wish": "for a ring", **said}
    )
    if state is not None:
        commission.state = state
        commission.save(update_fields=["state"])
    return commission


def make_item(commission=None, by=None, at=NOON, **said):
    """A piece of a commission: its first one, or one more where the commission is given."""
    if commission is None:
        return make_commission(by=by, at=at, items=[make_item_spec(**said)]).items.get()
    return commissions.add_item(commission, make_item_spec(**said), by=by, at=at)


def make_clients_stone(client, weight="10 ct", by=None, at=NOON, **said):
    """A stone that belongs to a client, drawn from a lot they left."""
    lot = make_lot(weight=weight, by=by, at=at, came="left", ownership="client", owner=client, pieces=1)
    return make_stone(weight=weight, lot=lot, by=by, at=at, **said)
