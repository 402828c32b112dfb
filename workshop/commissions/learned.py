"""What was said and what it took: one commission piece by piece, and a year by kind of work and species.

Said is the accepted version of the quote; took is the scale, the clock and the account. An hour earns what the piece
brought without tax, less what it cost besides hours, over all hours (``handbook.costing.account``). Costs are the
shop's; a commission kept in another currency tells no earnings, for nobody said at what rate.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Q, QuerySet, Sum

from workshop.common.models import Shop
from workshop.handbook.costing import percent_of

from .models import Commission, CommissionItem, Outcome, WorkKind
from .took import Known, Side, Took, add_up, added, is_settled, known_of, side_of

ZERO = Decimal(0)
UNTOLD = "species not said"


@dataclass(frozen=True)
class SideBySide:
    """A commission's pieces and their sum."""

    commission: Commission
    pieces: Sequence[Side]
    total: Side
    #: What stands on the account for no piece in particular: post, an extra, a credit.
    elsewhere: Decimal
    same_currency: bool


def side_by_side(commission: Commission) -> SideBySide:
    """What the accepted version said and what it took, piece by piece and in all; a constant number of queries."""
    items = list(commission.items.select_related("material", "commission"))
    known = known_of(items)
    own = Shop.the().currency
    pieces = [side_of(item, known, own) for item in items]
    elsewhere = commission.charges.filter(item__isnull=True).aggregate(net=Sum("net"))["net"] or ZERO
    same = commission.currency == own
    return SideBySide(commission, pieces, _together(pieces, elsewhere, own, same=same), elsewhere, same)


def _together(pieces: Sequence[Side], elsewhere: Decimal, own: str, *, same: bool) -> Side:
    """All pieces: ranges added end to end (wider than an honest range of the sum), hours and money added up."""
    took = added([piece.took for piece in pieces])
    took_all = Took(**{**vars(took), "net": took.net + elsewhere})
    ended = bool(pieces) and all(piece.ended for piece in pieces)
    figures = took_all.figures(own) if same and ended else None
    return Side(
        took=took_all,
        weight=add_up([piece.weight for piece in pieces]),
        seconds=add_up([piece.seconds for piece in pieces]),
        price=add_up([piece.price for piece in pieces]),
        cost=add_up([piece.cost for piece in pieces]),
        earned_said=None,
        earned=figures.earned_per_hour if figures is not None else None,
        charged=sum((piece.charged for piece in pieces), ZERO),
        ended=ended,
        compared=bool(pieces) and all(piece.compared for piece in pieces),
    )


@dataclass
class Kind:
    """One kind of work on one species over a year."""

    work: str
    species: str
    currency: str
    pieces: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    weight_told: int = 0
    weight_hit: int = 0
    hours_told: int = 0
    hours_hit: int = 0
    seconds_said: int = 0
    seconds_told: int = 0
    over_seconds: int = 0
    foreign: int = 0
    sides: list[Side] = field(default_factory=list)

    @property
    def work_word(self) -> str:
        """The kind of work in words."""
        return WorkKind(self.work).label

    @property
    def weight_percent(self) -> Decimal | None:
        """Weight ranges hit, in per cent."""
        return percent_of(Decimal(self.weight_hit), Decimal(self.weight_told))

    @property
    def hours_percent(self) -> Decimal | None:
        """Ranges of hours hit, in per cent."""
        return percent_of(Decimal(self.hours_hit), Decimal(self.hours_told))

    @property
    def outcome_words(self) -> str:
        """How its pieces ended: 3 finished and delivered, 1 broken in work."""
        return ", ".join(f"{count} {Outcome(one).label}" for one, count in self.outcomes.most_common())

    @property
    def took(self) -> Took:
        """All it took, of pieces kept in the shop's own currency."""
        return added([side.took for side in self.sides])

    @property
    def earned(self) -> Decimal | None:
        """What an hour of it earned, broken and dropped pieces and all."""
        return self.took.figures(self.currency).earned_per_hour

    def count(self, item: CommissionItem, side: Side, *, own: str) -> None:
        """Take one more piece in."""
        self.pieces += 1
        self.outcomes[item.outcome] += 1
        if item.commission.currency != own:
            self.foreign += 1
        elif is_settled(item):
            self.sides.append(side)
        if item.outcome == Outcome.DELIVERED:
            self._compare(side)

    def _compare(self, side: Side) -> None:
        """Only what was finished says whether a range was true."""
        if side.weight is not None and side.took.weight_ct is not None:
            self.weight_told += 1
            self.weight_hit += not side.weight.off_by(side.took.weight_ct)
        if side.seconds is not None and side.took.seconds:
            off = side.seconds.off_by(Decimal(side.took.seconds))
            self.hours_told += 1
            self.hours_hit += not off
            self.seconds_said += int(side.seconds.middle)
            self.seconds_told += side.took.seconds
            self.over_seconds += max(0, int(off))


def by_kind(year: int) -> list[Kind]:
    """What ended in a year, by kind of work and species, the most pieces first; a constant number of queries."""
    items = list(_ended_in(year).select_related("commission", "material"))
    own = Shop.the().currency
    known = known_of(items)
    found: dict[tuple[str, str], Kind] = {}
    for item in items:
        key = (item.work, _species(item, known))
        kind = found.setdefault(key, Kind(*key, currency=own))
        kind.count(item, side_of(item, known, own), own=own)
    return sorted(found.values(), key=lambda kind: (-kind.pieces, kind.work, kind.species))


def _ended_in(year: int) -> QuerySet[CommissionItem]:
    return CommissionItem.objects.exclude(outcome=Outcome.OPEN).filter(outcome_on__year=year).order_by("pk")


def _species(item: CommissionItem, known: Known) -> str:
    stones = known.stones.get(item.pk, [])
    materials = [stone.material for stone in stones if stone.material is not None]
    material = materials[0] if materials else item.material
    return material.species if material is not None else UNTOLD


def years() -> list[int]:
    """Years in which pieces ended, newest first."""
    days = CommissionItem.objects.filter(~Q(outcome=Outcome.OPEN)).dates("outcome_on", "year", order="DESC")
    return [day.year for day in days]
