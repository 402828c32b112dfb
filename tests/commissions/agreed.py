"""Commissions that stand agreed, for the tests of what happens afterwards: rows as the deeds of a quote leave them."""

from datetime import timedelta
from decimal import Decimal

from tests.makers import (
    DAY,
    NOON,
    make_clients_stone,
    make_commission,
    make_contact,
    make_item_spec,
    make_lot,
)
from workshop.commissions.actions import pieces
from workshop.commissions.actions.intake import PieceSpec, take_in
from workshop.commissions.models import Commission, Quote, QuoteLine
from workshop.handbook.units import parse_weight
from workshop.stones import actions as stones

D = Decimal
LATER = NOON + timedelta(days=1)
LATER_DAY = DAY + timedelta(days=1)


def make_agreed(
    by=None, items=None, *, state="in_work", deposit="0", quoted=None, prices=("180", "220", "260"), **said
):
    """A commission whose first version the client accepted; ``prices``: low, middle, high of each piece."""
    specs = items or [make_item_spec(work="recut", wanted="recut the spinel", floor_ct=D("2.5"))]
    commission = make_commission(by=by, items=specs, **said)
    low, middle, high = (D(price) for price in prices)
    count = len(specs)
    quote = Quote.objects.create(
        commission=commission, version=1, currency=commission.currency, deposit=D(deposit), made_at=NOON, made_by=by,
        price_low=low * count, price=middle * count, price_high=high * count, **(quoted or {}),
    )  # fmt: skip
    for item in commission.items.all():
        QuoteLine.objects.create(
            quote=quote, item=item, what=item.wanted, price_low=low, price=middle, price_high=high,
            weight_low_ct=D("2.5"), weight_ct=D("2.8"), weight_high_ct=D("3.1"), seconds=3600, seconds_high=7200,
        )  # fmt: skip
    Quote.objects.filter(pk=quote.pk).update(
        state="accepted", sent_at=NOON, valid_until=DAY, answered_at=NOON, answered_name="Mara Quill"
    )
    Commission.objects.filter(pk=commission.pk).update(
        state=state, accepted_at=NOON, go_ahead_at=NOON if state == "in_work" else None
    )
    commission.refresh_from_db()
    return commission


def with_stone(commission, weight="3.46 ct", number=1, by=None):
    """The commission's piece with a stone of the client's on the bench."""
    item = commission.items.get(number=number)
    stone = make_clients_stone(commission.client, weight=weight, by=by)
    pieces.link_stone(item, stone, by=by, at=NOON)
    return item, stone


def with_goods(commission, weight="3.46 ct", number=1, by=None):
    """The commission's piece taken in and not drawn yet: its lot."""
    item = commission.items.get(number=number)
    spec = PieceSpec(
        stated_to_be="a spinel", seen_as="a pink stone", weight=parse_weight(weight), item=item, length_mm=D("9.12"),
        width_mm=D("7.60"), depth_mm=D("6.31"),
    )  # fmt: skip
    intake = take_in(commission, pieces=[spec], handed_by="Mara Quill", received_at=NOON, by=by, at=NOON)
    return item, intake.pieces.get().lot


def with_own_stone(commission, weight="10 ct", number=1, by=None):
    """The commission's piece with a stone of the shop's own on the bench."""
    item = commission.items.get(number=number)
    stone = stones.draw_stone(make_lot(weight="50 ct", by=by), parse_weight(weight), by=by, at=NOON)
    pieces.link_stone(item, stone, by=by, at=NOON)
    return item, stone


def somebody_else():
    return make_contact("Odo Other", is_client=True)
