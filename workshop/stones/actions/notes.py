"""Notes, statements, photographs and costs of one stone."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Sum

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Photo, Shop
from workshop.common.tx import write_tx
from workshop.materials.models import Question, Statement, best_based
from workshop.people.models import Ownership
from workshop.rough.models import LotStatement

from ..models import (
    Ending,
    ExtraKind,
    NoteKind,
    Stage,
    Stone,
    StoneExtra,
    StoneNote,
    StonePhoto,
    StoneStatement,
)
from .open_stone import BY_NOBODY
from .sharing import came_with, paid_alone

ZERO = Decimal(0)


def add_note(
    stone: Stone, text: str, *, by: Hand | None, at: datetime, kind: str = NoteKind.NOTE
) -> StoneNote:
    """Write a note. A stop note also stands on the stone, to be read first when work goes on."""
    if not text.strip():
        raise DeedRefused("The note is empty.", field="text")
    with write_tx():
        stone = Stone.objects.get(pk=stone.pk)
        note = StoneNote(stone=stone, kind=kind, text=text, stage=stone.stage, at=at, by=by)
        note.full_clean(exclude=BY_NOBODY)
        note.save()
        if kind == NoteKind.STOP:
            stone.stop_note = text[:300]
        stone.touched_at = max(stone.touched_at, at)
        stone.save(update_fields=["stop_note", "touched_at"])
        journal.note("noted", stone.code, by=by, at=at, after={"kind": kind, "text": text})
    return note


def said_about(stone: Stone) -> list[Statement]:
    """All that was said about a stone: of itself, of the stones it was made from, and of its lot."""
    line, above = [stone.pk], stone.parent
    while above is not None:
        line.append(above.pk)
        above = above.parent
    own = StoneStatement.objects.filter(stone__in=line).select_related("material", "stone")
    return [*own, *LotStatement.objects.filter(lot=stone.lot_id).select_related("material", "lot")]


def state_about_stone(
    stone: Stone, said: Mapping[str, Any], *, by: Hand | None, at: datetime
) -> StoneStatement:
    """Add a statement about a stone; the older ones stay. ``said`` holds the fields of ``Statement``."""
    with write_tx():
        stone = Stone.objects.get(pk=stone.pk)
        statement = StoneStatement(stone=stone, written_by=by, **said)
        if statement.said_on and statement.said_on > Shop.the().day_of(at):
            raise DeedRefused("The day lies in the future.", field="said_on")
        statement.full_clean(exclude=BY_NOBODY)
        statement.save()
        if statement.question == Question.SPECIES:
            # A later word on weaker evidence does not unseat a laboratory's.
            best = best_based(said_about(stone))[Question.SPECIES]
            stone.material = best.material
            stone.save(update_fields=["material"])
        journal.note(
            "statement about stone",
            stone.code,
            by=by,
            at=at,
            after={
                "question": statement.question,
                "answer": statement.answer,
                "evidence": statement.evidence,
            },
        )
    return statement


def add_stone_photo(
    stone: Stone, photo: Photo, *, by: Hand | None, at: datetime, caption: str = ""
) -> StonePhoto:
    """Bind a kept picture to a stone at its present stage."""
    with write_tx():
        stone = Stone.objects.get(pk=stone.pk)
        bound, made = StonePhoto.objects.get_or_create(
            stone=stone, photo=photo, defaults={"caption": caption, "stage": stone.stage, "at": at}
        )
        if made:
            journal.note("photograph of stone", stone.code, by=by, at=at, after={"sha256": photo.sha256})
    return bound


def charge_stone(
    stone: Stone, *, kind: str, amount: Decimal, on: date, by: Hand | None, at: datetime, note: str = ""
) -> StoneExtra:
    """Book what was paid or worn for one stone alone; a negative amount takes an earlier one back."""
    if amount == 0:
        raise DeedRefused("Give an amount.", field="amount")
    if on > Shop.the().day_of(at):
        raise DeedRefused("The day lies in the future.", field="on")
    with write_tx():
        stone = Stone.objects.get(pk=stone.pk)
        if stone.cost_fixed:
            raise DeedRefused(f"{stone.code} is sold; its costs are closed.")
        if stone.ending == Ending.SPLIT:
            raise DeedRefused(f"{stone.code} was made into several; book it on the piece it was paid for.")
        extra = StoneExtra(stone=stone, kind=kind, amount=amount, on=on, note=note)
        extra.full_clean()
        extra.save()
        wear = stone.extras.filter(kind=ExtraKind.WEAR).aggregate(total=Sum("amount"))["total"] or ZERO
        alone = paid_alone(stone)
        if wear < 0 or alone < 0:
            raise DeedRefused("That takes back more than was booked.", field="amount")
        stone.wear_cost, stone.other_cost = wear, alone + came_with(stone)
        stone.save(update_fields=["wear_cost", "other_cost"])
        journal.note("charged stone", stone.code, by=by, at=at, after={"kind": kind, "amount": amount})
    return extra


def buy_from_owner(stone: Stone, *, paid: Decimal, reason: str, by: Hand | None, at: datetime) -> Stone:
    """The shop buys a stone of somebody else's: it becomes the shop's own, and the price a cost of the stone."""
    if not reason.strip():
        raise DeedRefused("Say how it changed hands.", field="reason")
    if paid < 0:
        raise DeedRefused("Give a price of zero or more.", field="paid")
    with write_tx():
        stone = Stone.objects.get(pk=stone.pk)
        if stone.ownership == Ownership.SHOP:
            raise DeedRefused(f"{stone.code} is the shop's own already.")
        if stone.stage == Stage.FINISHED:
            raise DeedRefused(f"{stone.code} is finished; its gem is what changes hands now.")
        if stone.ending == Ending.UNWORKED:
            raise DeedRefused(f"{stone.code} went back to its owner.")
        if stone.ending == Ending.SPLIT:
            raise DeedRefused(f"{stone.code} was made into several; buy its pieces.")
        before = {"ownership": stone.ownership, "owner": stone.owner}
        stone.ownership, stone.owner = Ownership.SHOP, None
        stone.full_clean()
        stone.save(update_fields=["ownership", "owner"])
        if paid:
            day = Shop.the().day_of(at)
            charge_stone(stone, kind=ExtraKind.MATERIAL, amount=paid, on=day, by=by, at=at, note=reason)
            stone.refresh_from_db()
        after = {"ownership": Ownership.SHOP.value, "paid": paid}
        journal.note("changed hands", stone.code, by=by, at=at, before=before, after=after, reason=reason)
    return stone
