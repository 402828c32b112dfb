"""Stones that fulfil a piece, and photographs the client may see."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Photo
from workshop.common.tx import write_tx
from workshop.gems.models import FinishedGem
from workshop.handbook.units import Weight
from workshop.people.models import Ownership
from workshop.rough.models import RoughLot
from workshop.stones import actions as stones
from workshop.stones.models import Ending, Stone, Work

from .. import progress
from ..models import (
    ON_CLIENTS_GOODS,
    Commission,
    CommissionItem,
    CommissionPhoto,
    ItemStone,
    WorkKind,
)
from .standing import open_item, standing_commission

#: Work that may be done with the shop's own rough.
FROM_OWN = (WorkKind.CUT_OWN, WorkKind.MATCH)
#: What the work on a piece is to its stone; one of a pair to be matched may be cut new or cut again.
WORK_OF_STONE = {
    WorkKind.CUT_OWN: Work.NEW, WorkKind.CUT_CLIENT: Work.NEW, WorkKind.RECUT: Work.RECUT,
    WorkKind.REPOLISH: Work.REPOLISH, WorkKind.REPAIR: Work.REPAIR,
}  # fmt: skip


def link_stone(
    item: CommissionItem, stone: Stone, *, by: Hand | None, at: datetime, why: str = ""
) -> ItemStone:
    """Let a stone stand for a piece of a commission. Of the stone only the kind of work follows the piece's."""
    with write_tx():
        item = open_item(item)
        stone = Stone.objects.select_related("owner", "parent").get(pk=stone.pk)
        _check_usable(stone)
        _check_whose(item, stone)
        _check_free(item, stone)
        link = ItemStone(item=item, stone=stone, since=at, why=why)
        link.full_clean()
        link.save()
        journal.note(
            "linked stone", item.commission.code, by=by, at=at, reason=why,
            after={"piece": item.number, "stone": stone.code},
        )  # fmt: skip
        tell_work(item, stone, by=by, at=at)
    return link


def tell_work(item: CommissionItem, stone: Stone, *, by: Hand | None, at: datetime) -> None:
    """Let a stone at work know what is done to it, so that its hours teach the like and nothing else."""
    work = WORK_OF_STONE.get(WorkKind(item.work), stone.work)
    if stone.is_open and stone.work != work:
        stones.describe_stone(stone, {"work": work}, by=by, at=at)


def _check_usable(stone: Stone) -> None:
    if stone.ending == Ending.SPLIT:
        raise DeedRefused(f"{stone.code} was made into several: take one of those.", field="stone")
    if stone.ending:
        raise DeedRefused(f"{stone.code} is {stone.get_ending_display()}.", field="stone")
    gone = FinishedGem.objects.gone().filter(stone=stone).first()
    if gone is not None:
        raise DeedRefused(f"{stone.code} is {gone.code}, {gone.get_gone_as_display()}.", field="stone")


def _check_whose(item: CommissionItem, stone: Stone) -> None:
    client = item.commission.client
    if stone.ownership == Ownership.LENT:
        raise DeedRefused(f"{stone.code} is lent to the shop by {stone.whose}: buy it first.", field="stone")
    if stone.ownership == Ownership.CLIENT and stone.owner_id != client.pk:
        raise DeedRefused(
            f"{stone.code} belongs to {stone.whose}; this commission is {client}'s.", field="stone"
        )
    if stone.is_own and item.work not in FROM_OWN:
        raise DeedRefused(
            f"{stone.code} is the shop's own; piece {item.number} is work on the client's goods.",
            field="stone",
        )
    if not stone.is_own and item.work not in {*ON_CLIENTS_GOODS, WorkKind.MATCH}:
        raise DeedRefused(
            f"{stone.code} belongs to {stone.whose}; piece {item.number} is to be cut from the shop's rough. "
            "Change the kind of work first.",
            field="stone",
        )


def _check_free(item: CommissionItem, stone: Stone) -> None:
    """A stone stands for one piece. Of one made into several, each may stand for a piece of the same commission."""
    own = ItemStone.objects.filter(stone=stone, until__isnull=True).select_related("item__commission").first()
    if own is not None:
        raise DeedRefused(f"{stone.code} stands for {own.item} already.", field="stone")
    above = stone.parent
    while above is not None:
        link = ItemStone.objects.filter(stone=above, until__isnull=True).select_related("item__commission")
        if (held := link.first()) is not None and held.item.commission_id != item.commission_id:
            raise DeedRefused(
                f"{stone.code} was made from {above.code}, which stands for {held.item}.", field="stone"
            )
        above = above.parent


def unlink_stone(link: ItemStone, *, why: str, by: Hand | None, at: datetime) -> ItemStone:
    """A stone stands for its piece no longer; that it did is kept."""
    if not why.strip():
        raise DeedRefused("Say why it stands for the piece no longer.", field="why")
    with write_tx():
        link = ItemStone.objects.select_related("stone", "item__commission").get(pk=link.pk)
        open_item(link.item)
        if link.until is not None:
            raise DeedRefused(f"{link.stone.code} stands for {link.item} no longer already.")
        link.until, link.why = max(at, link.since), why
        link.full_clean()
        link.save(update_fields=["until", "why"])
        journal.note(
            "unlinked stone", link.item.commission.code, by=by, at=at, reason=why,
            after={"piece": link.item.number, "stone": link.stone.code},
        )  # fmt: skip
    return link


def draw_for_item(
    item: CommissionItem, lot: RoughLot, weight: Weight, *, by: Hand | None, at: datetime, **drawn: Any
) -> Stone:
    """Take a piece from a lot and let it stand for a piece of a commission. ``drawn`` as ``draw_stone`` takes it."""
    with write_tx():
        item = open_item(item)
        drawn.setdefault("shape", item.shape)
        drawn.setdefault("plan", f"{item}: {item.wanted}"[:200])
        stone = stones.draw_stone(lot, weight, by=by, at=at, **drawn)
        link_stone(item, stone, by=by, at=at)
    return stone


def add_commission_photo(
    commission: Commission,
    photo: Photo,
    *,
    item: CommissionItem | None = None,
    caption: str = "",
    by: Hand | None,
    at: datetime,
) -> CommissionPhoto:
    """Keep a photograph with a commission. The client does not see it before it is shared."""
    with write_tx():
        commission = standing_commission(commission)
        if item is not None and item.commission_id != commission.pk:
            raise DeedRefused("That piece is of another commission.", field="item")
        kept, made = CommissionPhoto.objects.get_or_create(
            commission=commission, photo=photo, defaults={"item": item, "caption": caption[:200], "at": at}
        )
        if made:
            journal.note("photograph", commission.code, by=by, at=at, after={"sha256": photo.sha256})
    return kept


def share_photo(
    commission: Commission, photo: Photo, *, caption: str = "", by: Hand | None, at: datetime
) -> CommissionPhoto:
    """Show the client a photograph of the commission, of its stones or of what was taken in; of nothing else."""
    with write_tx():
        commission = Commission.objects.get(pk=commission.pk)
        item = progress.item_of_photo(commission, photo)
        if item is None and not commission.photos.filter(photo=photo).exists():
            raise DeedRefused(f"That photograph is not of {commission.code}.")
        shown, _ = CommissionPhoto.objects.get_or_create(
            commission=commission, photo=photo, defaults={"item": item, "caption": caption[:200], "at": at}
        )
        if shown.shared_at is None:
            shown.shared_at = at
            shown.save(update_fields=["shared_at"])
            journal.note("shared photograph", commission.code, by=by, at=at, after={"sha256": photo.sha256})
    return shown


def hide_photo(shown: CommissionPhoto, *, by: Hand | None, at: datetime) -> CommissionPhoto:
    """Show the client a photograph no longer."""
    with write_tx():
        shown = CommissionPhoto.objects.select_related("commission", "photo").get(pk=shown.pk)
        if shown.shared_at is not None:
            shown.shared_at = None
            shown.save(update_fields=["shared_at"])
            journal.note(
                "hid photograph", shown.commission.code, by=by, at=at, after={"sha256": shown.photo.sha256}
            )
    return shown
