"""Carry a lot's cost on to its stones: down each tree of pieces, to the cent.

A stone made into several passes its share to its children by the weight they began with; only those that bear cost
count, and where none of a stone's children bears any, the cost stays with all of them. A sold stone keeps the share
it was sold with, and what would have changed is shown beside it as a difference.

What was spent on a stone besides its rough before it was made into several (hours, wear, what was paid for it) goes
on to its pieces too, by the weight they began with: the hour at the saw is paid for by what was sawn.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from django.db.models import Sum

from workshop.common.models import Shop
from workshop.handbook.allocation import split
from workshop.handbook.money import digits
from workshop.rough.models import Draw, RoughLot
from workshop.rough.sharing import reshare

from ..models import Ending, ExtraKind, Stone

ZERO = Decimal(0)


def share_on(lot: RoughLot) -> None:
    """Share the lot's landed cost afresh and carry every piece's part on to its stones."""
    stones = list(Stone.objects.filter(lot=lot).order_by("pk"))
    _set_bearing(lot, stones)
    reshare(lot)
    children = _children(stones)
    step = Decimal(1).scaleb(-digits(Shop.the().currency))
    costs = dict(Draw.objects.filter(lot=lot).values_list("pk", "cost"))
    for root in children.get(None, []):
        _pass_down(root, costs[root.draw_id], children, step)
    Stone.objects.bulk_update(stones, ["rough_cost", "cost_difference"], batch_size=500)


def fix_cost(stone: Stone, *, fixed: bool) -> None:
    """A sale closes a stone's share of its lot's cost; a sale taken back opens it again."""
    stone.cost_fixed = fixed
    stone.save(update_fields=["cost_fixed"])
    share_on(stone.lot)


def _children(stones: Iterable[Stone]) -> dict[int | None, list[Stone]]:
    children: dict[int | None, list[Stone]] = {}
    for stone in stones:
        children.setdefault(stone.parent_id, []).append(stone)
    return children


def _pass_down(stone: Stone, cost: Decimal, children: dict[int | None, list[Stone]], step: Decimal) -> None:
    pieces = children.get(stone.pk, [])
    if stone.ending == Ending.SPLIT and pieces:
        stone.rough_cost, stone.cost_difference = ZERO, ZERO
        bearing = [piece.start_ct if _bears(piece, children) else ZERO for piece in pieces]
        shares = bearing if any(bearing) else [piece.start_ct for piece in pieces]
        for piece, part in zip(pieces, split(cost, shares, step=step), strict=True):
            _pass_down(piece, part, children, step)
        return
    if stone.cost_fixed:
        stone.cost_difference = cost - stone.rough_cost
    else:
        stone.rough_cost, stone.cost_difference = cost, ZERO


def _bears(stone: Stone, children: dict[int | None, list[Stone]]) -> bool:
    pieces = children.get(stone.pk, [])
    if stone.ending == Ending.SPLIT and pieces:
        return any(_bears(piece, children) for piece in pieces)
    return stone.bears_cost


def _set_bearing(lot: RoughLot, stones: list[Stone]) -> None:
    """A drawn piece bears cost while any stone made of it does; if none in the whole lot could, all go on bearing."""
    children = _children(stones)
    bearing = {root.draw_id: _bears(root, children) for root in children.get(None, [])}
    somewhere_to_go = any(bearing.values()) or lot.left_ct > 0
    draws = list(lot.draws.all())
    for draw in draws:
        draw.bears_cost = bearing.get(draw.pk, True) or not somewhere_to_go
    Draw.objects.bulk_update(draws, ["bears_cost"])


def carry_on(stone: Stone) -> None:
    """Bring in step, on all that was made of a stone, what was spent on it before."""
    if stone.ending != Ending.SPLIT:
        return
    for piece, part in _parts_of(stone):
        if not piece.cost_fixed:
            piece.other_cost = paid_alone(piece) + part
            piece.save(update_fields=["other_cost"])
        carry_on(piece)


def came_with(stone: Stone) -> Decimal:
    """What of its parent's hours and costs a piece carries."""
    if stone.parent is None:
        return ZERO
    return next((part for piece, part in _parts_of(stone.parent) if piece.pk == stone.pk), ZERO)


def paid_alone(stone: Stone) -> Decimal:
    """What was paid for a stone alone, besides wear."""
    return stone.extras.exclude(kind=ExtraKind.WEAR).aggregate(total=Sum("amount"))["total"] or ZERO


def _parts_of(parent: Stone) -> list[tuple[Stone, Decimal]]:
    pieces = list(parent.children.order_by("pk"))
    spent = parent.labour + parent.wear_cost + parent.other_cost
    step = Decimal(1).scaleb(-digits(Shop.the().currency))
    return list(zip(pieces, split(spent, [piece.start_ct for piece in pieces], step=step), strict=True))
