"""Commissions as a page shows them: each piece with its stones and gems, what alarms, who is waited for.

A handful of queries, however many commissions there are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from workshop.common.models import Shop
from workshop.gems.models import FinishedGem, Gone
from workshop.stones.models import Ending, Stone

from .floors import UnderFloor, under_floor
from .lines import stones_by_item
from .models import (
    ON_CLIENTS_GOODS,
    Commission,
    CommissionItem,
    CommissionQuerySet,
    Quote,
    QuoteState,
    StopAsk,
)
from .waiting import days_silent


@dataclass(frozen=True)
class Piece:
    """One piece with the stones that stand for it, the gems they became, and the questions still open."""

    item: CommissionItem
    stones: Sequence[Stone]
    gems: Sequence[FinishedGem]
    alarms: Sequence[UnderFloor]
    asks: Sequence[StopAsk]
    taken_in: bool

    @property
    def at_work(self) -> list[Stone]:
        """Its stones that can still be worked on."""
        return [stone for stone in self.stones if stone.is_open]

    @property
    def shown_stones(self) -> list[Stone]:
        """Its stones without those made into several: their pieces stand for them."""
        return [stone for stone in self.stones if stone.ending != Ending.SPLIT]

    @property
    def is_ready(self) -> bool:
        """Whether it can be handed over."""
        return self.item.is_open and not self.at_work and any(gem.is_here for gem in self.gems)

    @property
    def lacks_goods(self) -> bool:
        """Whether it is work on the client's goods, and nothing of them came yet."""
        return (
            self.item.is_open and self.item.work in ON_CLIENTS_GOODS and not self.stones and not self.taken_in
        )

    @property
    def lacks_stone(self) -> bool:
        """Whether no stone on the bench stands for it."""
        return self.item.is_open and not [one for one in self.stones if not one.ending]

    @property
    def main_stone(self) -> Stone | None:
        """The heaviest of its stones that stands: the one to look at."""
        standing = [one for one in self.stones if not one.ending]
        return max(standing, key=lambda one: (one.weight_ct, -one.pk)) if standing else None


@dataclass(frozen=True)
class Look:
    """One commission on one day."""

    commission: Commission
    today: date
    pieces: Sequence[Piece]
    silent: int | None  # days the client has owed an answer; nothing where none is owed

    @property
    def open_pieces(self) -> list[Piece]:
        """Pieces that have not ended."""
        return [piece for piece in self.pieces if piece.item.is_open]

    @property
    def alarms(self) -> list[UnderFloor]:
        """What falls under a floor while nobody asked."""
        return [alarm for piece in self.pieces for alarm in piece.alarms]

    @property
    def asks(self) -> list[StopAsk]:
        """Questions the client owes an answer to, oldest first."""
        asks = [ask for piece in self.pieces for ask in piece.asks]
        return sorted(asks, key=lambda ask: (ask.asked_at, ask.pk))

    @property
    def wants_goods(self) -> bool:
        """Whether any of it is work on the client's own goods."""
        return any(piece.item.work in ON_CLIENTS_GOODS for piece in self.pieces)

    def quote_in(self, state: str) -> Quote | None:
        """Its version in a state, newest first."""
        return next((quote for quote in self.commission.quotes.all() if quote.state == state), None)

    @property
    def sent(self) -> Quote | None:
        """The version the client may answer, or let run out."""
        return self.quote_in(QuoteState.SENT)

    @property
    def is_late(self) -> bool:
        """Whether the promised week is over."""
        return self.commission.is_late(self.today)


def with_rows(rows: CommissionQuerySet) -> CommissionQuerySet:
    """Commissions with the rows a look needs of this room, fetched at once."""
    return rows.select_related("client").prefetch_related(
        "quotes", "items__material", "items__questions", "items__intake_pieces"
    )


def look_at(commissions: Sequence[Commission], today: date) -> list[Look]:
    """A look at each; give them through ``with_rows`` where there are many."""
    items = [item for commission in commissions for item in commission.items.all()]
    stones = stones_by_item(items)
    gems = _gems({stone.pk for line in stones.values() for stone in line})
    alarms: dict[int, list[UnderFloor]] = defaultdict(list)
    for alarm in under_floor(CommissionItem.objects.filter(pk__in=[item.pk for item in items])):
        alarms[alarm.item.pk].append(alarm)

    def piece(item: CommissionItem) -> Piece:
        line = stones[item.pk]
        return Piece(
            item=item,
            stones=line,
            gems=[gem for stone in line for gem in gems[stone.pk]],
            alarms=alarms[item.pk],
            asks=[ask for ask in item.questions.all() if ask.is_open],
            taken_in=bool(item.intake_pieces.all()),
        )

    shop = Shop.the()
    return [
        Look(one, today, [piece(item) for item in one.items.all()], days_silent(one, today, shop))
        for one in commissions
    ]


def _gems(stones: Iterable[int]) -> dict[int, list[FinishedGem]]:
    found: dict[int, list[FinishedGem]] = defaultdict(list)
    rows = FinishedGem.objects.filter(stone__in=list(stones)).exclude(gone_as=Gone.RECUT).order_by("pk")
    for gem in rows.select_related("stone__material", "owner"):
        found[gem.stone_id].append(gem)
    return found


def week_of(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())
