"""One stone becomes several: sawn, cleaved, or fallen apart."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.formfields import as_typed
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.handbook.units import Weight
from workshop.people.models import Place

from ..models import Ending, Loss, LossCause, Stage, Stone, Weighing
from .open_stone import check_order, open_stone
from .sharing import carry_on, share_on
from .times import stop_clocks_on

ZERO = Decimal(0)
#: A larger share than this that nobody can explain is more likely a slip of the finger than dust.
ASK_GAP = Decimal("0.05")


def split_stone(
    stone: Stone,
    pieces: Sequence[Weight],
    *,
    by: Hand | None,
    at: datetime,
    kerf_ct: Decimal = ZERO,
    chips_ct: Decimal = ZERO,
    lost_ct: Decimal = ZERO,
    reason: str = "",
    sure: bool = False,
) -> list[Stone]:
    """Close a stone and open one for each piece. Pieces + kerf + chips + lost + gap = its weight; the gap is shown."""
    if len(pieces) < 2:
        raise DeedRefused(
            "Name at least two pieces; one piece that got smaller is a weighing.", field="pieces"
        )
    with write_tx():
        stone = open_stone(stone)
        check_order(stone, at)
        if stone.on_dop:
            raise DeedRefused(f"{stone.code} is on the dop; take it off before it is made into several.")
        gone = {LossCause.KERF: kerf_ct, LossCause.CHIPS: chips_ct, LossCause.LOST: lost_ct}
        if min(gone.values()) < 0:
            raise DeedRefused("Kerf, chips and lost weigh zero or more.", field="kerf")
        gap = stone.weight_ct - sum((piece.ct for piece in pieces), ZERO) - sum(gone.values(), ZERO)
        if gap < 0:
            raise DeedRefused(
                f"Pieces and losses add up to {stone.weight_ct - gap} ct; "
                f"{stone.code} weighs only {stone.weight_ct} ct.",
                field="pieces",
            )
        if gap > stone.weight_ct * ASK_GAP and not sure:
            raise PleaseConfirm(
                f"{gap} ct of {stone.weight_ct} ct would stay unexplained. Look at units and decimal points, "
                "or name it as kerf, chips or lost.",
                field="pieces",
            )
        for cause, ct in gone.items():
            if ct:
                Loss.objects.create(stone=stone, weight_ct=ct, cause=cause, at=at)
        children = [_child(stone, piece, by=by, at=at) for piece in pieces]
        stone.ending, stone.ended_at, stone.ended_why = Ending.SPLIT, at, reason
        stone.gap_ct, stone.touched_at = gap, at
        stone.waiting_for, stone.waiting_note, stone.waiting_since = "", "", None
        stone.place, stone.holder, stone.held_since = Place.GONE, None, Shop.the().day_of(at)
        stone.save()
        stop_clocks_on(stone, at=at)
        stone.refresh_from_db()
        share_on(stone.lot)
        carry_on(stone)
        for child in children:
            child.refresh_from_db()
        journal.note(
            "made into several",
            stone.code,
            by=by,
            at=at,
            before={"weight_ct": stone.weight_ct},
            after={
                "pieces": {child.code: child.start_ct for child in children},
                "gap_ct": gap,
                **{str(cause): ct for cause, ct in gone.items()},
            },
            reason=reason,
        )
    return children


def _child(parent: Stone, weight: Weight, *, by: Hand | None, at: datetime) -> Stone:
    child = Stone(
        code=numbers.take("S"),
        lot=parent.lot,
        draw=parent.draw,
        parent=parent,
        material=parent.material,
        plan=parent.plan,
        shape=parent.shape,
        work=parent.work,
        first_side=parent.first_side,
        stage=Stage.SAWN,
        ownership=parent.ownership,
        owner=parent.owner,
        place=parent.place,
        holder=parent.holder,
        held_since=parent.held_since,
        drawn_at=at,
        touched_at=at,
        start_ct=weight.ct,
        weight_ct=weight.ct,
        rework=False,
        treatment_asked_at=parent.treatment_asked_at,
    )
    child.full_clean()
    child.save()
    Weighing.objects.create(
        stone=child, weight_ct=weight.ct, entered=as_typed(weight), stage=child.stage, at=at, by=by, order=0
    )
    return child
