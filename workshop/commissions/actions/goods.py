"""What lies here of a client's for a piece, and how it goes home: by scale, to its owner and to nobody else."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Q

from workshop.common.errors import DeedRefused
from workshop.common.formfields import as_typed
from workshop.common.models import Hand, Shop
from workshop.handbook.units import Weight
from workshop.people.models import Contact, Ownership, Place
from workshop.rough.models import LotLossCause, RoughLot, SortGroup
from workshop.stones import actions as stones
from workshop.stones.models import Ending, Stage, Stone

from .. import progress
from ..models import Commission, CommissionItem

ZERO = Decimal(0)


@dataclass(frozen=True)
class Goods:
    """A client's goods that lie here: stones at work, stones that ended here, and what is left in the lots."""

    at_work: list[Stone] = field(default_factory=list)
    ended: list[Stone] = field(default_factory=list)
    lots: list[RoughLot] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.at_work or self.ended or self.lots)

    @property
    def began_ct(self) -> Decimal:
        """What it weighed before anything was done."""
        return sum((stone.start_ct for stone in [*self.at_work, *self.ended]), self.left_ct)

    @property
    def now_ct(self) -> Decimal:
        """What it weighs by the last weighings."""
        return sum((stone.weight_ct for stone in [*self.at_work, *self.ended]), self.left_ct)

    @property
    def left_ct(self) -> Decimal:
        """What was never drawn from its lots."""
        return sum((lot.left_ct for lot in self.lots), ZERO)

    @property
    def codes(self) -> list[str]:
        """The codes on its bags."""
        return [*(lot.code for lot in self.lots), *(one.code for one in [*self.at_work, *self.ended])]


def goods_of(item: CommissionItem) -> Goods:
    """What lies here of the client's for one piece."""
    lots = RoughLot.objects.filter(intake_piece__item=item, left_ct__gt=0, ownership=Ownership.CLIENT)
    known = {stone.pk: stone for stone in progress.stones_of(item)}
    # Fragments stay the client's after another stone took their place, and what was drawn may not be linked yet.
    others = Stone.objects.filter(Q(commission_links__item=item) | Q(lot__intake_piece__item=item))
    for stone in others.exclude(pk__in=known).select_related("owner", "parent").distinct():
        if not _of_another_piece(stone, item):
            known[stone.pk] = stone
    return _sorted_out(sorted(known.values(), key=lambda stone: stone.pk), list(lots.order_by("pk")))


def _of_another_piece(stone: Stone, item: CommissionItem) -> bool:
    above: Stone | None = stone
    while above is not None:
        if above.commission_links.filter(until__isnull=True).exclude(item=item).exists():
            return True
        above = above.parent
    return False


def goods_of_none(commission: Commission) -> Goods:
    """What was taken in for a commission and belongs to none of its pieces."""
    lots = RoughLot.objects.filter(
        intake_piece__intake__commission=commission,
        intake_piece__item__isnull=True,
        ownership=Ownership.CLIENT,
    )
    unlinked = Stone.objects.filter(lot__in=lots, commission_links__isnull=True)
    linked = {stone.pk for line in progress.stones_by_item(commission.items.all()).values() for stone in line}
    free = [stone for stone in unlinked.order_by("pk") if stone.pk not in linked]
    return _sorted_out(free, list(lots.filter(left_ct__gt=0).order_by("pk")))


def _sorted_out(found: list[Stone], lots: list[RoughLot]) -> Goods:
    theirs = [stone for stone in found if stone.ownership == Ownership.CLIENT]
    return Goods(
        at_work=[stone for stone in theirs if stone.is_open],
        ended=[stone for stone in theirs if _lies_here_ended(stone)],
        lots=lots,
    )


def _lies_here_ended(stone: Stone) -> bool:
    return stone.ending in {Ending.BROKEN, Ending.PUT_BY} and stone.place != Place.CLIENT


def give_back(
    goods: Goods,
    weighed: Weight | None,
    *,
    reason: str,
    on: date,
    by: Hand | None,
    at: datetime,
    field: str = "given_back",
) -> Decimal:
    """Hand goods to their owner as they are, weighed once more. Call inside ``write_tx``. The carats given back."""
    if weighed is None:
        raise DeedRefused(f"Weigh what goes back: {', '.join(goods.codes)}.", field=field)
    if goods.at_work and len(goods.at_work) == 1 and not goods.lots and not goods.ended:
        _weigh_once_more(goods.at_work[0], weighed, field=field, by=by, at=at)
    elif abs(weighed.ct - goods.now_ct) > Shop.the().scale_step_ct:
        raise DeedRefused(
            f"By the last weighings it is {goods.now_ct} ct together, not {weighed.ct} ct. "
            "Weigh each stone by itself first.",
            field=field,
        )
    for stone in goods.at_work:
        stones.end_stone(stone, Ending.UNWORKED, reason=reason[:300], by=by, at=at)
    for stone in goods.ended:
        stones.hand_to_owner(stone, reason=reason, by=by, at=at)
    for lot in goods.lots:
        empty_to_owner(lot, reason=reason, on=on, by=by, at=at)
    return weighed.ct


def _weigh_once_more(stone: Stone, weighed: Weight, *, field: str, by: Hand | None, at: datetime) -> None:
    """One stone at work may have lost weight since its last weighing; never gained any."""
    if weighed.ct > stone.weight_ct:
        if weighed.ct - stone.weight_ct > Shop.the().scale_step_ct:
            raise DeedRefused(
                f"{stone.code} weighed {stone.weight_ct} ct last; it cannot weigh {weighed.ct} ct now.",
                field=field,
            )
        return
    if weighed.ct < stone.weight_ct:
        if stone.on_dop:
            stones.move_on(stone, Stage.OFF_DOP, by=by, at=at)
        note = f"given back as it is, {as_typed(weighed)}"
        stones.record_weight(stone, weighed, by=by, at=at, note=note, sure=True)


def empty_to_owner(lot: RoughLot, *, reason: str, on: date, by: Hand | None, at: datetime) -> None:
    """All that is left in a client's lot goes home, group by group where it was sorted."""
    groups: list[SortGroup | None] = [*lot.groups.order_by("pk")] or [None]
    parts = [(group, lot.left_ct if group is None else group.left_ct) for group in groups]
    for group, left_ct in parts:
        if left_ct > 0:
            stones.lose_from_lot(
                lot, Weight(ct=left_ct, entered=left_ct, unit="ct"), cause=LotLossCause.OWNER, on=on, by=by, at=at,
                group=group, pieces=(group.pieces if group is not None else lot.pieces) or 1, reason=reason[:300],
            )  # fmt: skip


def check_theirs(stone: Stone, client: Contact) -> None:
    """Only the client's own goods go to the client, or change hands with the client."""
    if stone.ownership != Ownership.CLIENT:
        raise DeedRefused(f"{stone.code} is not a client's.", field="stone")
    if stone.owner_id != client.pk:
        raise DeedRefused(f"{stone.code} belongs to {stone.whose}, not to {client}.", field="stone")
