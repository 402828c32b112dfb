"""What is known of a piece before it is quoted: its stone, its plan, or what was taken in for it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from workshop.planning.models import CutPlan
from workshop.stones.models import Stage, Stone

from . import progress
from .models import CommissionItem, WorkKind

ZERO = Decimal(0)


@dataclass(frozen=True)
class Start:
    """Where the quoting of a piece begins; None where nothing is known."""

    stone: Stone | None = None
    plan: CutPlan | None = None
    rough_ct: Decimal | None = None
    rough_pieces: int = 1
    gems: int = 1
    length_mm: Decimal | None = None
    width_mm: Decimal | None = None
    material_cost: Decimal = ZERO


def start_of(item: CommissionItem) -> Start:
    """The stones that stand for it and their plan; before there are any, what was taken in."""
    gems = 2 if item.work == WorkKind.MATCH else 1
    stones = [stone for stone in progress.stones_of(item) if not stone.ending]
    if not stones:
        return _taken_in(item, gems)
    main = max(stones, key=lambda stone: (stone.weight_ct, -stone.pk))
    plan = CutPlan.objects.standing().filter(stone=main).first()
    return Start(
        stone=main,
        plan=plan if gems == 1 else None,
        rough_ct=sum((stone.weight_ct for stone in stones), ZERO),
        rough_pieces=len(stones),
        gems=gems,
        length_mm=main.length_mm,
        width_mm=main.width_mm,
        material_cost=sum((stone.rough_cost + stone.other_cost for stone in stones if stone.is_own), ZERO),
    )


def _taken_in(item: CommissionItem, gems: int) -> Start:
    pieces = list(item.intake_pieces.order_by("pk"))
    if not pieces:
        return Start(gems=gems)
    first = pieces[0]
    return Start(
        rough_ct=sum((piece.weight_ct for piece in pieces), ZERO),
        rough_pieces=sum(piece.pieces for piece in pieces),
        gems=gems,
        length_mm=first.length_mm,
        width_mm=first.width_mm,
    )


def is_finished(item: CommissionItem) -> bool:
    """Whether its work is done: a stone of it is finished and none is still at work."""
    stones = progress.stones_of(item)
    return any(one.stage == Stage.FINISHED and not one.ending for one in stones) and not any(
        one.is_open for one in stones
    )
