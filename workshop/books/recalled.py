"""What today's page says of recalls: how many are open, who is still to be told, and what nobody was told of yet."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Q

from workshop.common.models import Hand
from workshop.rough.models import LotStatement
from workshop.sales.models import PEOPLE, Recall, still_to_do
from workshop.sales.pedigree import nobody_told
from workshop.stones.models import StoneStatement


@dataclass(frozen=True)
class RecallsToday:
    """Open recalls, people still to tell in them, and statements that overthrew an older one without a recall."""

    open: int
    to_tell: int
    waiting: list[LotStatement | StoneStatement]


def recalls_today(hand: Hand) -> RecallsToday:
    """Who sees no money hears only that recalls are open: there is something to set aside."""
    open_ones = Recall.objects.open()
    if not hand.sees_money:
        return RecallsToday(open_ones.count(), 0, [])
    people = still_to_do("entries__") & Q(entries__kind__in=PEOPLE)
    counted = open_ones.aggregate(
        n=Count("pk", distinct=True), to_tell=Count("entries", filter=people, distinct=True)
    )
    return RecallsToday(counted["n"], counted["to_tell"], nobody_told())
