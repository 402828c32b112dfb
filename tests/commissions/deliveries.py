"""Makers for deliveries: a client's spinel to recut, a gem cut from the shop's own rough, and what was accepted of them."""

from datetime import timedelta
from decimal import Decimal

from tests.makers import (
    DAY,
    NOON,
    make_answered_gem,
    make_clients_stone,
    make_commission,
    make_gem,
    make_item_spec,
    make_lot,
    make_stone,
)
from workshop.commissions.actions import account
from workshop.commissions.actions.intake import PieceSpec, take_in
from workshop.commissions.actions.pieces import draw_for_item, link_stone
from workshop.commissions.models import Quote, QuoteLine
from workshop.handbook.units import parse_weight
from workshop.materials.models import Material

D = Decimal
LATER = NOON + timedelta(days=10)
#: Ten days on: the day things are handed over.
GOES = DAY + timedelta(days=10)


def spinel_item(**said):
    return make_item_spec(**{"work": "recut", "wanted": "recut the windowed spinel", **said})


def own_item(**said):
    return make_item_spec(**{"work": "cut_own", "wanted": "an oval tourmaline from your drawer", **said})


def bring_spinel(commission, item, owner, weight="3.46 ct", **said):
    """The client's spinel is taken in and drawn for its piece."""
    spec = PieceSpec(
        stated_to_be="a spinel from my aunt", seen_as="purple oval, windowed", weight=parse_weight(weight), item=item,
        **said,
    )  # fmt: skip
    intake = take_in(
        commission, pieces=[spec], handed_by="Mara Quill", received_at=NOON, sure=True, by=owner, at=NOON
    )
    return draw_for_item(item, intake.pieces.get().lot, parse_weight(weight), by=owner, at=NOON)


def finish_spinel(stone, owner, weight="2.71 ct", **said):
    """Recut as in acceptance scenario 6 of the trade notes: 2.71 ct, 8.60 × 7.15 × 5.02 mm."""
    sides = {"length_mm": D("8.60"), "width_mm": D("7.15"), "depth_mm": D("5.02"), "shape": "oval"}
    return make_gem(weight, stone=stone, by=owner, at=NOON, **{**sides, "colour": "purple", **said})


def accept(commission, lines, *, version=1, **said):
    """An accepted version with a line for each piece: ``{item: {column: value}}``."""
    quote = Quote.objects.create(
        commission=commission, version=version, currency=commission.currency, made_at=NOON,
        price_low=D(0), price=D(0), price_high=D(5000), valid_until=DAY, sent_at=NOON, answered_at=NOON, **said,
    )  # fmt: skip
    for item, columns in lines.items():
        QuoteLine.objects.create(quote=quote, item=item, what=item.wanted, **columns)
    Quote.objects.filter(pk=quote.pk).update(state="accepted")
    return Quote.objects.get(pk=quote.pk)


def spinel_line(**said):
    """Quoted loss 15 to 25 per cent of 3.46 ct: 2.595 to 2.941 ct; fee 220.00."""
    return {
        "rough_ct": D("3.46"), "weight_low_ct": D("2.595"), "weight_ct": D("2.768"), "weight_high_ct": D("2.941"),
        "price_low": D(220), "price": D(220), "price_high": D(220), "seconds_low": 7200, "seconds": 10800,
        "seconds_high": 14400, "cost_low": D(90), "cost": D(135), "cost_high": D(180), "hourly_rate": D(45),
        "earned": D("73.33"), **said,
    }  # fmt: skip


def make_spinel_commission(owner, client=None, charged=True, **said):
    """In work: the spinel is back from the wheel, its fee of 220.00 charged and paid."""
    commission = make_commission(client, items=[spinel_item(**said)], by=owner, state="in_work")
    item = commission.items.get()
    stone = bring_spinel(commission, item, owner)
    accept(commission, {item: spinel_line()})
    gem = finish_spinel(stone, owner)
    if charged:
        charge_and_pay(commission, item, owner)
    return commission, item, gem


def charge_and_pay(commission, item, owner, gross="220.00", paid=None):
    account.charge(
        commission, kind="work", words="recut", gross=D(gross), item=item, on=DAY, by=owner, at=NOON
    )
    if paid != "0":
        account.pay(commission, amount=D(paid or gross), on=DAY, by=owner, at=NOON)


def own_gem_for(item, owner, weight="2.10 ct", answered=True):
    """A gem cut from the shop's own rough for a piece."""
    stone = make_stone("8 ct", lot=make_lot(by=owner), by=owner)
    link_stone(item, stone, by=owner, at=NOON)
    if not answered:
        return make_gem(weight, stone=stone, by=owner)
    return make_answered_gem(
        weight=weight, stone=stone, by=owner, material=Material.objects.get(key="tourmaline-elbaite")
    )


def clients_stone_for(item, owner, weight="10 ct"):
    """A stone of the client's that came without a taking in, linked to its piece."""
    stone = make_clients_stone(item.commission.client, weight, by=owner)
    link_stone(item, stone, by=owner, at=NOON)
    return stone
