"""The figures of a lot as a page shows them: what it cost landed, and the two accounts that must add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from workshop.handbook.units import from_carats

from .models import CostKind, Draw, LotCost, LotLoss, RoughLot, SortGroup

ZERO = Decimal(0)
_FINE = Decimal("0.0001")


def per_unit(amount: Decimal, count: Decimal) -> Decimal | None:
    """A price per gram, carat or piece to four places, as the trade lists them."""
    return (amount / count).quantize(_FINE, ROUND_HALF_UP) if count else None


@dataclass(frozen=True)
class Landed:
    """What a lot cost until it lay on the table."""

    lines: list[LotCost]
    apart: list[LotCost]
    total: Decimal
    apart_total: Decimal
    per_gram: Decimal | None
    per_carat: Decimal | None
    per_piece: Decimal | None


def landed(lot: RoughLot, costs: Sequence[LotCost]) -> Landed:
    """The landed cost line by line; recoverable tax stands apart."""
    return Landed(
        lines=[cost for cost in costs if cost.kind != CostKind.RECOVERABLE],
        apart=[cost for cost in costs if cost.kind == CostKind.RECOVERABLE],
        total=lot.landed_cost,
        apart_total=lot.recoverable_tax,
        per_gram=per_unit(lot.landed_cost, from_carats(lot.weight_ct, "g")),
        per_carat=per_unit(lot.landed_cost, lot.weight_ct),
        per_piece=per_unit(lot.landed_cost, Decimal(lot.pieces or 0)),
    )


@dataclass(frozen=True)
class GroupFigures:
    """One group: what it bears in all, and what became of it."""

    group: SortGroup
    drawn_ct: Decimal
    lost_ct: Decimal
    cost: Decimal
    per_gram: Decimal | None


def of_groups(
    groups: Sequence[SortGroup], draws: Sequence[Draw], losses: Sequence[LotLoss]
) -> list[GroupFigures]:
    """Each group with the whole cost it bears: on what was drawn from it, on what was lost, on what is left."""
    return [_of_group(group, draws, losses) for group in groups]


def _of_group(group: SortGroup, draws: Sequence[Draw], losses: Sequence[LotLoss]) -> GroupFigures:
    drawn = [draw for draw in draws if draw.group_id == group.pk]
    lost = [loss for loss in losses if loss.group_id == group.pk]
    cost = sum((row.cost for row in drawn), group.cost_left) + sum((row.cost for row in lost), ZERO)
    return GroupFigures(
        group=group,
        drawn_ct=sum((draw.weight_ct for draw in drawn), ZERO),
        lost_ct=sum((loss.weight_ct for loss in lost), ZERO),
        cost=cost,
        per_gram=per_unit(cost, from_carats(group.weight_ct, "g")),
    )


@dataclass(frozen=True)
class Account:
    """What came in on one side, where it is on the other, line by line."""

    came_in: Decimal
    lines: list[tuple[str, Decimal]]

    @property
    def total(self) -> Decimal:
        """The lines summed; equal to what came in, or the books are wrong."""
        return sum((amount for _, amount in self.lines), ZERO)

    @property
    def adds_up(self) -> bool:
        """Whether nothing is missing and nothing is there twice."""
        return self.total == self.came_in


def weight_account(
    lot: RoughLot, groups: Sequence[SortGroup], draws: Sequence[Draw], losses: Sequence[LotLoss]
) -> Account:
    """Weight in = drawn + losses by cause + left + the gap, worked out from the rows."""
    drawn = sum((draw.weight_ct for draw in draws), ZERO)
    by_cause: dict[str, Decimal] = {}
    for loss in losses:
        cause = loss.get_cause_display()
        by_cause[cause] = by_cause.get(cause, ZERO) + loss.weight_ct
    gone: list[Draw | LotLoss] = [*draws, *losses]
    direct = sum((row.weight_ct for row in gone if row.group_id is None), ZERO)
    gap = lot.weight_ct - direct - sum((group.weight_ct for group in groups), ZERO) if groups else ZERO
    return Account(
        lot.weight_ct,
        [
            ("drawn as stones", drawn),
            *by_cause.items(),
            ("left in the lot", lot.left_ct),
            ("gap nobody can explain", gap),
        ],
    )


def money_account(lot: RoughLot, draws: Sequence[Draw]) -> Account:
    """Landed cost = on the stones drawn + left in the lot + written off."""
    return Account(
        lot.landed_cost,
        [
            ("on the stones drawn", sum((draw.cost for draw in draws), ZERO)),
            ("left in the lot", lot.cost_left),
            ("written off", lot.cost_written_off),
        ],
    )
