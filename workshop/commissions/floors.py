"""What falls under the floor agreed with a client while nobody has asked them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Prefetch, QuerySet

from workshop.common import say
from workshop.planning.models import CutPlan
from workshop.stones.models import Stage, Stone

from .lines import lines_of
from .models import CLOSED, CommissionItem, ItemStone, Outcome, StopAsk


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
