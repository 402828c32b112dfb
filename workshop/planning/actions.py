"""What people do with plans: choose one."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand
from workshop.common.tx import write_tx
from workshop.rough.models import RoughLot
from workshop.stones import actions as stones
from workshop.stones.models import Stone

from . import figures
from .models import CutPlan
from .options import Asked, Option, Terms

MOST_PLAN_WORDS = 200


def choose_plan(
    piece: Stone | RoughLot,
    option: Option,
    asked: Asked,
    *,
    by: Hand | None,
    at: datetime,
    own_stones: int = 0,
    share: float = 0.8,
    terms: Terms | None = None,
) -> CutPlan:
    """Make an option the piece's cut plan, with every figure as it stands now; an earlier plan is superseded.

    The stone's own plan and shape follow it. Raises ``DeedRefused`` for a stone that is finished or ended.
    """
    with write_tx():
        now = {"chosen_by": by, "chosen_at": at, "own_stones": own_stones}
        plan = CutPlan(**_facts(option, asked), **_money(option, terms), **now)
        plan.share_percent = figures.per_cent(share)
        if isinstance(piece, Stone):
            plan.stone = piece
            _supersede(piece, at)
        else:
            plan.lot = piece
        plan.material_name = str(piece.material or "")
        plan.code = numbers.take("PL")
        plan.full_clean(exclude=["chosen_by"])
        plan.save()
        if plan.stone is not None:
            changes: dict[str, object] = {"plan": plan.words[:MOST_PLAN_WORDS], "shape": plan.outline}
            stones.describe_stone(plan.stone, changes, by=by, at=at)
        after = {"plan": plan.code, "words": plan.words}
        journal.note("chose cut plan", plan.subject.code, by=by, at=at, after=after)
    return plan


def _supersede(stone: Stone, at: datetime) -> None:
    CutPlan.objects.standing().filter(stone=stone).update(superseded_at=at)


def _facts(option: Option, asked: Asked) -> dict[str, Any]:
    if option.weight_low_ct <= 0 or option.seconds_low <= 0:
        raise DeedRefused("So small a stone cannot be planned: its weight rounds to nothing.")
    tilt = option.window.tilt_deg
    return {
        "specific_gravity": Decimal(asked.piece.specific_gravity),
        "refractive_index": figures.decimal_of(asked.index, 4),
        "outline": option.cut.outline,
        "sides": option.cut.sides,
        "style": option.cut.chosen_style,
        "keel": option.cut.keeled,
        "crown_angle_deg": figures.degrees(option.cut.crown_deg),
        "pavilion_angle_deg": figures.degrees(option.cut.pavilion_deg),
        "least_pavilion_deg": figures.degrees(option.window.least_deg),
        "table_percent": figures.decimal_of(option.cut.table_percent, 3),
        "girdle_percent": figures.decimal_of(option.cut.girdle_percent, 3),
        "facets": option.facets,
        "length_mm": option.length_mm,
        "width_mm": option.width_mm,
        "depth_mm": option.depth_mm,
        "rough": asked.piece.facts(),
        "lay": option.lay,
        "rough_ct": Decimal(asked.piece.weight_ct),
        "bound_ct": option.bound_ct,
        "weight_low_ct": option.weight_low_ct,
        "weight_ct": option.weight_ct,
        "weight_high_ct": option.weight_high_ct,
        "seconds_low": option.seconds_low,
        "seconds": option.seconds,
        "seconds_high": option.seconds_high,
        "window_tilt_deg": None if tilt is None else figures.degrees(tilt),
        "window_percent": option.window_percent,
    }


def _money(option: Option, terms: Terms | None) -> dict[str, Any]:
    if terms is None or option.sums is None:
        return {}
    return {
        "currency": terms.currency,
        "hourly_rate": terms.hourly_rate,
        "off_bench_percent": terms.off_bench_percent,
        "asked_per_ct": option.sums.asked_per_ct,
        "cost_before": terms.cost_before,
        "cost": option.sums.cost,
        "price": option.sums.price,
        "earned_per_hour": option.sums.earned_per_hour,
    }
