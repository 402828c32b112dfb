"""Commissions as a page shows them: each piece with its stones and gems, what alarms, who is waited for.

A handful of queries, however many commissions there are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, OuterRef, Prefetch, QuerySet, prefetch_related_objects

from workshop.common.models import Shop
from workshop.gems.models import FinishedGem, Gone
from workshop.stones.models import Ending, Stone

from .floors import UnderFloor, alarms_of
from .lines import by_item, lines_of, standing_links
from .models import (
    ON_CLIENTS_GOODS,
    Charge,
    ChargeKind,
    Commission,
    CommissionItem,
    IntakePiece,
    Outcome,
    Quote,
    QuoteLine,
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
    work_charged: bool
    #: The version the client accepted names it.
    agreed: bool

    @property
    def is_on_goods(self) -> bool:
        """Whether it is work on the client's own goods, or on any that stand for it."""
        return self.item.work in ON_CLIENTS_GOODS or any(not stone.is_own for stone in self.stones)

    @property
    def has_mishap(self) -> bool:
        """Whether a stone of it broke or was lost."""
        mishaps = {Ending.BROKEN, Ending.LOST, Ending.SCRAPPED}
        return any(stone.ending in mishaps for stone in self.stones) or any(
            gem.gone_as == Gone.LOST for gem in self.gems
        )

    @property
    def work_is_due(self) -> bool:
        """Whether a gem of the client's is finished and its work stands in no account yet."""
        done = self.is_ready or self.item.outcome == Outcome.DELIVERED
        return done and not self.work_charged and any(not gem.is_own for gem in self.gems)

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
        return (
            self.item.is_open
            and not self.at_work
            and any(gem.is_here or gem.waits_for_buyer for gem in self.gems)
        )

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


def look_at(commissions: Sequence[Commission], today: date, shop: Shop | None = None) -> list[Look]:
    """A look at each; what hangs on them is fetched for all at once."""
    prefetch_related_objects(commissions, "quotes", Prefetch("items", _items()), "items__questions")
    items = [item for commission in commissions for item in commission.items.all()]
    links = standing_links(items)
    lines = lines_of(links)
    stones = by_item(links, lines)
    gems = _gems({stone.pk for line in stones.values() for stone in line})
    alarms: dict[int, list[UnderFloor]] = defaultdict(list)
    for alarm in alarms_of(links, lines):
        alarms[alarm.item.pk].append(alarm)

    def piece(item: CommissionItem) -> Piece:
        return Piece(
            item=item,
            stones=stones[item.pk],
            gems=[gem for stone in stones[item.pk] for gem in gems[stone.pk]],
            alarms=alarms[item.pk],
            asks=[ask for ask in item.questions.all() if ask.is_open],
            taken_in=item.has_goods,  # type: ignore[attr-defined]
            work_charged=item.has_work,  # type: ignore[attr-defined]
            agreed=item.is_agreed,  # type: ignore[attr-defined]
        )

    shop = shop or Shop.the()
    return [
        Look(one, today, [piece(item) for item in one.items.all()], days_silent(one, today, shop))
        for one in commissions
    ]


def _items() -> QuerySet[CommissionItem]:
    goods = IntakePiece.objects.filter(item=OuterRef("pk"))
    work = Charge.objects.filter(item=OuterRef("pk"), kind=ChargeKind.WORK, taken_back_by__isnull=True)
    agreed = QuoteLine.objects.filter(item=OuterRef("pk"), quote__state=QuoteState.ACCEPTED)
    return CommissionItem.objects.annotate(
        has_goods=Exists(goods), has_work=Exists(work), is_agreed=Exists(agreed)
    ).select_related("material")


def _gems(stones: Iterable[int]) -> dict[int, list[FinishedGem]]:
    found: dict[int, list[FinishedGem]] = defaultdict(list)
    rows = FinishedGem.objects.filter(stone__in=list(stones)).exclude(gone_as=Gone.RECUT).order_by("pk")
    for gem in rows.select_related("stone__material", "owner"):
        found[gem.stone_id].append(gem)
    return found


def week_of(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())
