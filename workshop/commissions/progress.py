"""How far each piece of a commission has come, what the client owes an answer to, and what is to be done next."""

from __future__ import annotations

from datetime import date

from workshop.common.models import Photo
from workshop.gems.models import FinishedGem, Gone
from workshop.people.models import Ownership
from workshop.rough.models import RoughLot
from workshop.stones.models import Ending, Side, Stage, Stone, StonePhoto, Wait

from .floors import UnderFloor, under_floor
from .lines import stones_by_item
from .looks import look_at
from .models import Commission, CommissionItem, IntakePhoto
from .steps import next_step
from .waiting import days_silent, open_asks, owed_since

__all__ = [
    "UnderFloor", "days_silent", "gems_of", "goods_here", "is_ready", "item_of_photo", "next_thing", "open_asks",
    "owed_since", "stage_words", "stones_by_item", "stones_of", "under_floor",
]  # fmt: skip

SIDES = {Side.PAVILION: ("pavilion", "crown"), Side.CROWN: ("crown", "pavilion")}


def stones_of(item: CommissionItem) -> list[Stone]:
    """The stones that stand for a piece, and all that was made of them."""
    return stones_by_item([item])[item.pk]


def gems_of(item: CommissionItem) -> list[FinishedGem]:
    """The gems a piece has become, those back for work aside."""
    return list(
        FinishedGem.objects.filter(stone__in=[stone.pk for stone in stones_of(item)])
        .exclude(gone_as=Gone.RECUT)
        .select_related("stone__material", "owner", "public_photo__photo")
        .order_by("pk")
    )


def is_ready(item: CommissionItem) -> bool:
    """Whether a piece can be handed over: a gem of it is here and none of its stones is still at work."""
    if not item.is_open or any(stone.is_open for stone in stones_of(item)):
        return False
    return any(gem.is_here or gem.waits_for_buyer for gem in gems_of(item))


def stage_words(stone: Stone, *, to_client: bool = False) -> str:
    """How far a stone has come, for somebody who does not cut."""
    if stone.ending:
        return stone.get_ending_display()
    if stone.waiting_for == Wait.CLIENT:
        return "waiting for your answer" if to_client else "waiting for the client's answer"
    words = _plain_stage(stone)
    if stone.waiting_for and not to_client:
        return f"{words}, waiting for {stone.get_waiting_for_display()}"
    return words


def _plain_stage(stone: Stone) -> str:
    first, second = SIDES[Side(stone.first_side)]
    return {
        Stage.SELECTED: "chosen, not begun",
        Stage.SAWN: "sawn",
        Stage.PREFORMED: "preformed",
        Stage.FIRST_CUT: f"{first} cut",
        Stage.FIRST_POLISHED: f"{first} polished",
        Stage.TRANSFERRED: f"turned over to cut the {second}",
        Stage.SECOND_CUT: f"{second} cut",
        Stage.SECOND_POLISHED: f"{second} polished",
        Stage.OFF_DOP: "cut and polished, to be measured",
        Stage.FINISHED: "finished",
    }[Stage(stone.stage)]


def goods_here(commission: Commission) -> list[str]:
    """Codes of what the client owns and that lies here for this commission: lots taken in, stones, gems."""
    lots = RoughLot.objects.filter(
        intake_piece__intake__commission=commission, left_ct__gt=0, ownership=Ownership.CLIENT
    )
    here = [lot.code for lot in lots.order_by("pk")]
    stones = [one for line in stones_by_item(commission.items.all()).values() for one in line]
    stones += Stone.objects.filter(lot__intake_piece__intake__commission=commission)
    theirs = {
        one.pk: one
        for one in stones
        if one.ownership == Ownership.CLIENT and one.ending in {"", Ending.PUT_BY}
    }
    gone = set(FinishedGem.objects.gone().filter(stone__in=theirs).values_list("stone", flat=True))
    return here + [one.code for pk, one in sorted(theirs.items()) if pk not in gone]


def item_of_photo(commission: Commission, photo: Photo) -> CommissionItem | None:
    """The piece a photograph of a stone or of goods taken in belongs to, or nothing."""
    items = list(commission.items.all())
    stones = stones_by_item(items)
    by_stone = {stone.pk: item for item in items for stone in stones[item.pk]}
    of_stone = StonePhoto.objects.filter(photo=photo, stone__in=by_stone).first()
    if of_stone is not None:
        return by_stone[of_stone.stone_id]
    taken_in = IntakePhoto.objects.filter(photo=photo, piece__intake__commission=commission).first()
    if taken_in is not None:
        return taken_in.piece.item or items[0]
    return None


def next_thing(commission: Commission, today: date) -> str:
    """What the cutter owes or waits for next, in one sentence."""
    return next_step(look_at([commission], today)[0]).words
