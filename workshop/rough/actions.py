"""What people do with a lot of rough itself. What moves its cost on to stones is a deed of the stones floor."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.formfields import as_typed
from workshop.common.models import Hand, Photo, Shop
from workshop.common.tx import write_tx
from workshop.handbook.units import Weight, from_carats
from workshop.materials.models import Material, Question, best_based
from workshop.people.models import Contact, Ownership, Place

from . import sharing
from .models import CostKind, LotDocument, LotPhoto, LotStatement, Origin, RoughLot

#: Our own bounds of what is asked about: a parcel above 20 kg, and pieces below 2 mg or above 2 kg on average.
HEAVY_LOT_CT, LIGHT_PIECE_CT, HEAVY_PIECE_CT = Decimal(100_000), Decimal("0.01"), Decimal(10_000)


def receive_lot(
    *,
    by: Hand | None,
    at: datetime,
    sold_as: str,
    weight: Weight,
    received_on: date,
    came: str = Origin.BOUGHT,
    seller: Contact | None = None,
    ownership: str = Ownership.SHOP,
    owner: Contact | None = None,
    material: Material | None = None,
    pieces: int | None = None,
    price_basis: str = "",
    unit_price: Decimal | None = None,
    currency: str = "",
    rate: Decimal | None = None,
    extras: Sequence[sharing.CostLine] = (),
    statements: Sequence[Mapping[str, Any]] = (),
    declared_value: Decimal | None = None,
    notes: str = "",
    sure: bool = False,
) -> RoughLot:
    """Take in a parcel: its weight, what it was sold as, and every sum it cost. Others' material costs nothing."""
    home = Shop.the().currency
    _check_receipt(at, received_on, ownership, owner, unit_price, extras)
    if not sure:
        _ask_about_weight(weight, pieces)
    with write_tx():
        lot = RoughLot(
            code=numbers.take("L"),
            came=came,
            seller=seller,
            received_on=received_on,
            sold_as=sold_as,
            material=material,
            weight_ct=weight.ct,
            entered_weight=as_typed(weight),
            pieces=pieces,
            price_basis=price_basis if unit_price is not None else "",
            unit_price=unit_price,
            currency=(currency or home) if unit_price is not None else "",
            rate=_rate(currency, rate, home) if unit_price is not None else None,
            ownership=ownership,
            owner=owner,
            held_since=received_on,
            declared_value=declared_value,
            notes=notes,
            left_ct=weight.ct,
        )
        lot.full_clean()
        lot.save()
        sharing.book_bill(lot, [*_goods(lot), *extras], paid_on=received_on, late=False)
        sharing.reshare(lot)
        for said in statements:
            _write_statement(lot, said, by=by)
        journal.note(
            "received lot",
            lot.code,
            by=by,
            at=at,
            after={
                "weight_ct": lot.weight_ct,
                "sold_as": sold_as,
                "landed_cost": lot.landed_cost,
                "whose": lot.whose,
            },
        )
    return lot


def _ask_about_weight(weight: Weight, pieces: int | None) -> None:
    if weight.ct > HEAVY_LOT_CT:
        grams = from_carats(weight.ct, "g")
        raise PleaseConfirm(f"{grams:,.0f} g of rough? Look at the unit and the point.", field="weight")
    if pieces and not LIGHT_PIECE_CT <= weight.ct / pieces <= HEAVY_PIECE_CT:
        each = weight.ct / pieces
        raise PleaseConfirm(
            f"That makes {each:,.3f} ct a piece. Look at the unit, the point and the count.", field="weight"
        )


def _check_receipt(
    at: datetime,
    received_on: date,
    ownership: str,
    owner: Contact | None,
    unit_price: Decimal | None,
    extras: Sequence[sharing.CostLine],
) -> None:
    if received_on > Shop.the().day_of(at):
        raise DeedRefused("The day it came in lies in the future.", field="received_on")
    if ownership == Ownership.SHOP:
        if owner is not None:
            raise DeedRefused("The shop's own goods have no other owner.", field="owner")
        return
    if owner is None:
        raise DeedRefused("Say whose it is.", field="owner")
    if unit_price is not None or extras:
        raise DeedRefused(
            "Goods that are not the shop's own have no price and no cost here.", field="unit_price"
        )


def _rate(currency: str, rate: Decimal | None, home: str) -> Decimal:
    if (currency or home) == home:
        if rate is not None and rate != 1:
            raise DeedRefused(f"The price is in {home} already, so its rate is 1.", field="rate")
        return Decimal(1)
    if rate is None or rate <= 0:
        raise DeedRefused(f"Give the rate the bank took: how many {home} for one {currency}.", field="rate")
    return rate


def _goods(lot: RoughLot) -> list[sharing.CostLine]:
    if lot.unit_price is None:
        return []
    if not lot.price_basis:
        raise DeedRefused(
            "Say what the price is per: piece, gram, carat, kilogram or lot.", field="price_basis"
        )
    amount = sharing.goods_price(
        lot.price_basis, lot.unit_price, weight_ct=lot.weight_ct, pieces=lot.pieces, currency=lot.currency
    )
    assert lot.rate is not None
    return [sharing.CostLine(CostKind.GOODS, amount, lot.currency, lot.rate)]


def state_about_lot(lot: RoughLot, said: Mapping[str, Any], *, by: Hand | None, at: datetime) -> LotStatement:
    """Add a statement about a lot; the older ones stay. ``said`` holds the fields of ``Statement``."""
    if said["said_on"] > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="said_on")
    with write_tx():
        statement = _write_statement(lot, said, by=by)
        journal.note(
            "statement about lot",
            lot.code,
            by=by,
            at=at,
            after={
                "question": statement.question,
                "answer": statement.answer,
                "evidence": statement.evidence,
            },
        )
    return statement


def _write_statement(lot: RoughLot, said: Mapping[str, Any], *, by: Hand | None) -> LotStatement:
    statement = LotStatement(lot=lot, written_by=by, **said)
    statement.full_clean(exclude=["written_by"])
    statement.save()
    if statement.question == Question.SPECIES:
        # A later word on weaker evidence does not unseat a laboratory's.
        species = lot.statements.about(Question.SPECIES).select_related("material")  # type: ignore[attr-defined]
        lot.material = best_based(list(species))[Question.SPECIES].material
        lot.save(update_fields=["material"])
    return statement


DESCRIBED = ("sold_as", "seller", "pieces", "notes", "declared_value", "material")


def describe_lot(lot: RoughLot, changes: Mapping[str, Any], *, by: Hand | None, at: datetime) -> RoughLot:
    """Change the words about a lot (never its weight or money, which have deeds of their own)."""
    with write_tx():
        lot = RoughLot.objects.get(pk=lot.pk)
        before = {
            name: getattr(lot, name)
            for name in DESCRIBED
            if name in changes and getattr(lot, name) != changes[name]
        }
        if not before:
            return lot
        for name in before:
            setattr(lot, name, changes[name])
        lot.full_clean()
        lot.save()
        after = {name: changes[name] for name in before}
        journal.note("described lot", lot.code, by=by, at=at, before=before, after=after)
    return lot


#: Where a lot of rough can be; what is sold or gone has left it.
PLACES = tuple(place for place in Place if place not in {Place.BUYER, Place.GONE})


def move_lot(
    lot: RoughLot, *, place: str, holder: Contact | None, since: date, by: Hand | None, at: datetime
) -> RoughLot:
    """Say who has the lot tonight."""
    if holder is None and place not in {Place.SAFE, Place.BENCH, Place.POST}:
        raise DeedRefused("Say who has it.", field="holder")
    if since > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="since")
    if place not in PLACES:
        raise DeedRefused("Weight that leaves a lot for good is told as such.", field="place")
    with write_tx():
        lot = RoughLot.objects.get(pk=lot.pk)
        if why := lot.why_not_there(place, holder):
            raise DeedRefused(why, field="place")
        before = {"place": lot.place, "holder": lot.holder}
        lot.place, lot.holder, lot.held_since = place, holder, since
        lot.full_clean()
        lot.save(update_fields=["place", "holder", "held_since"])
        journal.note(
            "moved lot", lot.code, by=by, at=at, before=before, after={"place": place, "holder": holder}
        )
    return lot


def add_lot_photo(lot: RoughLot, photo: Photo, *, caption: str, by: Hand | None, at: datetime) -> LotPhoto:
    """Bind a kept picture to a lot."""
    with write_tx():
        bound, made = LotPhoto.objects.get_or_create(lot=lot, photo=photo, defaults={"caption": caption})
        if made:
            journal.note("photograph of lot", lot.code, by=by, at=at, after={"sha256": photo.sha256})
    return bound


def add_lot_document(
    lot: RoughLot, *, title: str, sha256: str, byte_count: int, media_type: str, by: Hand | None, at: datetime
) -> LotDocument:
    """Bind a kept file to a lot."""
    with write_tx():
        if lot.documents.filter(sha256=sha256).exists():
            raise DeedRefused(f"{lot.code} has this paper already.", field="document")
        document = LotDocument(
            lot=lot, title=title, sha256=sha256, byte_count=byte_count, media_type=media_type, added_by=by
        )
        document.full_clean(exclude=["added_by"])
        document.save()
        journal.note("document of lot", lot.code, by=by, at=at, after={"title": title, "sha256": sha256})
    return document
