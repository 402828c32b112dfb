"""How far each piece of a commission has come, what falls under its floor, and what is to be done next.

A stone knows no commission: all of this is asked of the stones, whenever somebody looks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Prefetch, QuerySet

from workshop.common import say
from workshop.common.models import Photo, Shop
from workshop.gems.models import FinishedGem, Gone
from workshop.people.models import Ownership
from workshop.planning.models import CutPlan
from workshop.rough.models import RoughLot
from workshop.stones.models import Ending, Side, Stage, Stone, StonePhoto, Wait

from .models import (
    CLOSED,
    Commission,
    CommissionItem,
    IntakePhoto,
    ItemStone,
    Outcome,
    StopAsk,
)

SIDES = {Side.PAVILION: ("pavilion", "crown"), Side.CROWN: ("crown", "pavilion")}


def lines_of(links: Iterable[ItemStone]) -> dict[int, list[Stone]]:
    """The stones of each standing link: the linked one first, then what was made of it, by the link's key.

    A stone that stands for a piece by a link of its own is left to that one, with all that was made of it.
    """
    links = list(links)
    made: dict[int, list[Stone]] = defaultdict(list)
    lots = {link.stone.lot_id for link in links}
    for stone in Stone.objects.filter(lot__in=lots, parent__isnull=False).order_by("pk"):
        made[stone.parent_id or 0].append(stone)
    own = {link.stone_id for link in links} | set(
        ItemStone.objects.filter(until__isnull=True, stone__lot__in=lots).values_list("stone", flat=True)
    )
    return {link.pk: [link.stone, *_below(link.stone, made, own)] for link in links}


def _below(stone: Stone, made: dict[int, list[Stone]], own: set[int]) -> list[Stone]:
    found = []
    for child in made[stone.pk]:
        if child.pk not in own:
            found += [child, *_below(child, made, own)]
    return found


def stones_by_item(items: Iterable[CommissionItem]) -> dict[int, list[Stone]]:
    """The stones that stand for each piece, and all that was made of them, by the piece's key."""
    links = ItemStone.objects.filter(item__in=[item.pk for item in items], until__isnull=True)
    links = links.select_related("stone__material", "stone__lot", "stone__owner")
    found: dict[int, list[Stone]] = defaultdict(list)
    lines = lines_of(links)
    for link in links:
        found[link.item_id] += lines[link.pk]
    return found


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
    return any(gem.is_here for gem in gems_of(item))


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


@dataclass(frozen=True)
class UnderFloor:
    """A piece whose stone falls under the floor agreed for it."""

    item: CommissionItem
    stone: Stone
    what: str  # "weight", "plan" (its middle) or "plan_low"
    found_ct: Decimal
    plan: CutPlan | None = None

    @property
    def words(self) -> str:
        """Which figure it is, in one sentence."""
        floor, found = say.carats(self.item.floor_ct), say.carats(self.found_ct)
        if self.plan is None:
            return f"{self.stone.code} weighs {found}; the floor is {floor}."
        how = "ends at about" if self.what == "plan" else "may end at"
        return f"{self.stone.code} {how} {found} by {self.plan.code}; the floor is {floor}."


def under_floor(items: QuerySet[CommissionItem] | None = None) -> list[UnderFloor]:
    """Open pieces whose stone weighs, or by its standing plan ends, under their floor, and nobody asked the client.

    Of what was made from a linked stone the heaviest counts: a second, smaller stone breaks no promise. Where the
    client answered a question that named a lowest weight, that weight is the floor from then on.
    """
    asked = StopAsk.objects.standing().order_by().values("item")
    wanted = (CommissionItem.objects.all() if items is None else items).filter(
        outcome=Outcome.OPEN, floor_ct__isnull=False
    )
    wanted = wanted.exclude(commission__state__in=CLOSED).exclude(pk__in=asked).order_by()
    links = list(
        ItemStone.objects.filter(item__in=wanted.values("pk"), until__isnull=True)
        .select_related("item__commission__client", "item__material", "stone__material")
        .prefetch_related(_answered())
        .order_by("item__commission", "item__number", "pk")
    )
    main = _heaviest(links)
    plans = {
        plan.stone_id: plan
        for plan in CutPlan.objects.standing().filter(stone__in=[stone.pk for stone in main.values()])
    }
    found = (
        _check(link.item, main[link.pk], plans.get(main[link.pk].pk)) for link in links if link.pk in main
    )
    return [one for one in found if one is not None]


def _answered() -> Prefetch:
    answered = StopAsk.objects.filter(answered_at__isnull=False, weight_low_ct__isnull=False)
    return Prefetch("item__questions", queryset=answered.order_by("-answered_at", "-pk"), to_attr="settled")


def _heaviest(links: Sequence[ItemStone]) -> dict[int, Stone]:
    heaviest = {}
    for pk, line in lines_of(links).items():
        standing = [stone for stone in line if not stone.ending]
        if standing:
            heaviest[pk] = max(standing, key=lambda stone: (stone.weight_ct, -stone.pk))
    return heaviest


def _check(item: CommissionItem, stone: Stone, plan: CutPlan | None) -> UnderFloor | None:
    settled: list[StopAsk] = item.settled  # type: ignore[attr-defined]
    floor = item.floor_ct
    assert floor is not None
    if settled and settled[0].weight_low_ct is not None:
        floor = min(floor, settled[0].weight_low_ct)
    if stone.weight_ct < floor:
        return UnderFloor(item, stone, "weight", stone.weight_ct)
    if plan is None or stone.stage == Stage.FINISHED:
        return None
    if plan.weight_ct < floor:
        return UnderFloor(item, stone, "plan", plan.weight_ct, plan)
    if plan.weight_low_ct < floor:
        return UnderFloor(item, stone, "plan_low", plan.weight_low_ct, plan)
    return None


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
    by_stone = {stone.pk: item for item in items for stone in stones_by_item(items)[item.pk]}
    of_stone = StonePhoto.objects.filter(photo=photo, stone__in=by_stone).first()
    if of_stone is not None:
        return by_stone[of_stone.stone_id]
    taken_in = IntakePhoto.objects.filter(photo=photo, piece__intake__commission=commission).first()
    if taken_in is not None:
        return taken_in.piece.item or items[0]
    return None


def days_silent(commission: Commission, today: date) -> int | None:
    """Days the client has owed an answer (to a question or a quote) without a word; None where none is owed."""
    owed = owed_since(commission)
    if owed is None:
        return None
    return max(0, (today - owed).days)


def owed_since(commission: Commission) -> date | None:
    """The day since which the client owes an answer, or was last heard from if that was later."""
    if commission.is_closed:
        return None
    moments = [ask.asked_at for ask in open_asks(commission)]
    moments += [quote.sent_at for quote in commission.quotes.all() if quote.state == "sent" and quote.sent_at]
    if not moments:
        return None
    since = max(min(moments), commission.heard_at) if commission.heard_at else min(moments)
    day: date = Shop.the().day_of(since)
    return day


def open_asks(commission: Commission) -> list[StopAsk]:
    """Questions the client has not answered yet, oldest first; from prefetched rows where there are any."""
    asks = [ask for item in commission.items.all() for ask in item.questions.all() if ask.is_open]
    return sorted(asks, key=lambda ask: (ask.asked_at, ask.pk))
