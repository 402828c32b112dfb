"""What falls under the floor agreed with a client while nobody has asked them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet

from workshop.common import say
from workshop.planning.models import CutPlan
from workshop.stones.models import Stage, Stone

from .lines import lines_of, standing_links
from .models import CLOSED, CommissionItem, ItemStone, Outcome, QuoteLine, QuoteState


@dataclass(frozen=True)
class UnderFloor:
    """A piece whose stone falls under the floor agreed for it."""

    item: CommissionItem
    stone: Stone
    what: str  # "weight", "plan" (its middle) or "plan_low"
    found_ct: Decimal
    floor_ct: Decimal
    plan: CutPlan | None = None

    @property
    def words(self) -> str:
        """Which figure it is, in one sentence."""
        floor, found = say.carats(self.floor_ct), say.carats(self.found_ct)
        if self.plan is None:
            return f"{self.stone.code} weighs {found}; the floor is {floor}."
        how = "ends at about" if self.what == "plan" else "may end at"
        return f"{self.stone.code} {how} {found} by {self.plan.code}; the floor is {floor}."


def under_floor(items: QuerySet[CommissionItem] | None = None) -> list[UnderFloor]:
    """Open pieces whose stone weighs, or by its standing plan ends, under their floor, and nobody asked the client.

    Of what was made from a linked stone the heaviest counts, or as many as gems were promised of it: a smaller one
    beside them breaks no promise. Where the
    client answered a question that named a lowest weight, that weight is the floor from then on.
    """
    wanted = CommissionItem.objects.all() if items is None else items
    wanted = wanted.filter(outcome=Outcome.OPEN, floor_ct__isnull=False).exclude(commission__state__in=CLOSED)
    wanted = wanted.select_related("commission__client", "material").prefetch_related("questions")
    links = standing_links(wanted.order_by("commission", "number"))
    found = alarms_of(links, lines_of(links))
    return sorted(found, key=lambda one: (one.item.commission_id, one.item.number, one.stone.pk))


def alarms_of(links: Sequence[ItemStone], lines: dict[int, list[Stone]]) -> list[UnderFloor]:
    """The same of links whose stones are known already; two questions, for what was promised and for the plans."""
    watched = [link for link in links if _is_watched(link.item)]
    promised = _gems_promised(watched)
    main = [(link, stone) for link in watched for stone in _heaviest(lines[link.pk], promised[link.item_id])]
    standing = CutPlan.objects.standing().filter(stone__in=[stone.pk for _, stone in main])
    plans = {plan.stone_id: plan for plan in standing}
    found = (_check(link.item, stone, plans.get(stone.pk)) for link, stone in main)
    return [one for one in found if one is not None]


def _gems_promised(links: Sequence[ItemStone]) -> dict[int, int]:
    """How many gems the accepted version promises of each linked stone of a piece, by the piece's key: at least one."""
    stones = Counter(link.item_id for link in links)
    lines = QuoteLine.objects.filter(item__in=stones, quote__state=QuoteState.ACCEPTED)
    gems = dict(lines.values_list("item", "gems"))
    return {item: max(1, -(-gems.get(item, 1) // count)) for item, count in stones.items()}


def _is_watched(item: CommissionItem) -> bool:
    if not item.is_open or item.floor_ct is None or item.commission.is_closed:
        return False
    return not any(ask.is_open for ask in item.questions.all())


def _heaviest(line: Sequence[Stone], count: int) -> list[Stone]:
    standing = [stone for stone in line if not stone.ending]
    return sorted(standing, key=lambda stone: (-stone.weight_ct, stone.pk))[:count]


def floor_of(item: CommissionItem) -> Decimal | None:
    """The weight below which the client is asked: as agreed, or lower where a later answer agreed to less."""
    settled = [ask for ask in item.questions.all() if ask.answered_at and ask.weight_low_ct is not None]
    if item.floor_ct is None or not settled:
        return item.floor_ct
    newest = max(settled, key=lambda ask: (ask.answered_at, ask.pk))
    assert newest.weight_low_ct is not None
    return min(item.floor_ct, newest.weight_low_ct)


def _check(item: CommissionItem, stone: Stone, plan: CutPlan | None) -> UnderFloor | None:
    floor = floor_of(item)
    assert floor is not None
    if stone.weight_ct < floor:
        return UnderFloor(item, stone, "weight", stone.weight_ct, floor)
    if plan is None or stone.stage == Stage.FINISHED:
        return None
    if plan.weight_ct < floor:
        return UnderFloor(item, stone, "plan", plan.weight_ct, floor, plan)
    if plan.weight_low_ct < floor:
        return UnderFloor(item, stone, "plan_low", plan.weight_low_ct, floor, plan)
    return None
