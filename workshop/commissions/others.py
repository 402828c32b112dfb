"""What lies here of others tonight, with the values its owners declared: a list an insurer asks for.

Goods of others are on the bench of a shop without ever being its stock, and cover often holds only for what is
listed (Working with customers' stones <https://orchid.ganoksin.com/t/working-with-customers-stones/28832>).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Prefetch, Q

from workshop.gems.models import FinishedGem
from workshop.people.models import Ownership, Place
from workshop.rough.models import RoughLot
from workshop.stones.models import Ending, Stage, Stone

HERE = (Place.SAFE, Place.BENCH)
#: Endings after which nothing of the stone lies here any more.
LEFT = (Ending.SPLIT, Ending.LOST, Ending.UNWORKED)


@dataclass(frozen=True)
class Part:
    """One thing of a lot as it is tonight: rough that is left, a stone at work, a finished gem."""

    code: str
    address: str
    words: str
    weight_ct: Decimal
    place: str
    is_here: bool


@dataclass
class OthersGoods:
    """All that is here, or away from here but in the shop's care, of one lot of somebody else's."""

    lot: RoughLot
    declared_value: Decimal | None
    currency: str
    words: str
    insured: str
    parts: list[Part] = field(default_factory=list)

    @property
    def weight_ct(self) -> Decimal:
        """What of it is still in the shop's care."""
        return sum((part.weight_ct for part in self.parts), Decimal(0))

    @property
    def is_here(self) -> bool:
        """Whether all of it lies in the shop tonight."""
        return all(part.is_here for part in self.parts)


def goods_of_others(home_currency: str) -> list[OthersGoods]:
    """Every lot of others of which something is in the shop's care, by owner; a constant number of queries."""
    stones = Stone.objects.exclude(ownership=Ownership.SHOP).exclude(ending__in=LEFT)
    gems = FinishedGem.objects.here().exclude(ownership=Ownership.SHOP)
    kept = Q(left_ct__gt=0) & ~Q(ownership=Ownership.SHOP) & ~Q(place=Place.CLIENT)
    lots = (
        RoughLot.objects.filter(kept | Q(pk__in=stones.values("lot")) | Q(pk__in=gems.values("stone__lot")))
        .select_related("owner", "intake_piece__intake")
        .prefetch_related(
            Prefetch("stones", stones.exclude(place__in=[Place.CLIENT, Place.GONE]), to_attr="of_others"),
            Prefetch("of_others__gems", gems, to_attr="gems_here"),
        )
        .order_by("owner__name", "pk")
    )
    found = [_goods(lot, home_currency) for lot in lots]
    return [goods for goods in found if goods.parts]


def _goods(lot: RoughLot, home: str) -> OthersGoods:
    piece = getattr(lot, "intake_piece", None)
    if piece is not None and piece.declared_value is not None:
        value, currency = piece.declared_value, piece.declared_currency
    else:
        value, currency = lot.declared_value, home
    return OthersGoods(
        lot,
        value,
        currency if value is not None else "",
        piece.seen_as if piece is not None else lot.sold_as,
        _insured(piece),
        list(_parts(lot)),
    )


def _insured(piece: object) -> str:
    intake = getattr(piece, "intake", None)
    return "" if intake is None else str(intake.insured_by)


def _parts(lot: RoughLot) -> Iterable[Part]:
    if lot.left_ct and not lot.is_own and lot.place != Place.CLIENT:
        yield Part(
            lot.code,
            lot.get_absolute_url(),
            "as it came",
            lot.left_ct,
            lot.get_place_display(),
            lot.place in HERE,
        )
    for stone in lot.of_others:  # type: ignore[attr-defined]
        gem = next(iter(stone.gems_here), None)
        if gem is not None:
            words, thing = f"finished, {gem.get_shape_display()}", gem
        elif stone.stage == Stage.FINISHED:
            continue
        else:
            words, thing = stone.get_ending_display() or stone.get_stage_display(), stone
        yield Part(
            thing.code,
            thing.get_absolute_url(),
            words,
            thing.weight_ct,
            thing.get_place_display(),
            thing.place in HERE,
        )


def totals(goods: Iterable[OthersGoods]) -> list[tuple[str, Decimal, Decimal]]:
    """For each currency what is declared in all, and what of it lies in the shop tonight; never added across."""
    sums: dict[str, list[Decimal]] = defaultdict(lambda: [Decimal(0), Decimal(0)])
    for one in goods:
        if one.declared_value is not None:
            sums[one.currency][0] += one.declared_value
            sums[one.currency][1] += one.declared_value if one.is_here else Decimal(0)
    return [(currency, whole, here) for currency, (whole, here) in sorted(sums.items())]
