"""Recut or accept: the stone as its dimensions make it, what it would become, and what that costs in carats and money.

The angles of a stone that was only measured are not known; its solid is the usual one of these three sizes, so what
counts here is the share of volume that goes, taken off the weight on the scale.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np

from workshop.handbook.costing import RecutFigures, labour_cost, recut_figures
from workshop.handbook.errors import EmptySolid, HandbookError

from . import figures
from .cuts import Cut, Window, facet_count, recommended_pavilion, window_of
from .history import History

if TYPE_CHECKING:
    from workshop.handbook.recovery import Rough
    from workshop.handbook.solids import Solid

#: Tables tried when a girdle moves in under a crown whose facets stay; per cent of the new width.
WIDEST_TABLE, TABLE_STEP = 80.0, 2.0
#: How far off a depth stop may take it, either way, as a share of the depth asked for. Our own choice, no source.
STOP_SHARE = 0.2
#: Beyond this the solid of the usual angles is no likeness of the stone: published estimates claim 10 to 15 %.
UNLIKE = 0.15
LABELS = {
    "pavilion": ("pavilion",),
    "mains": ("pavilion main", "pavilion step"),
    "crown": ("crown",),
    "table": ("table",),
}


@dataclass(frozen=True)
class Measured:
    """A stone from its scale and its gauge."""

    cut: Cut
    length_mm: float
    width_mm: float
    depth_mm: float
    weight_ct: Decimal
    index: float
    gravity: float

    def solid(self) -> Solid:
        """The usual stone of these three sizes."""
        from workshop.handbook.solids import cut_to_size

        return cut_to_size(
            self.cut.outline,
            self.cut.chosen_style,
            length=self.length_mm,
            width=self.width_mm,
            depth=self.depth_mm,
            sides=self.cut.sides,
            proportions=self.cut.proportions,
        )


@dataclass(frozen=True, eq=False)
class Stand:
    """How a stone stands: sizes, girdle, table, window."""

    solid: Solid
    length_mm: Decimal
    width_mm: Decimal
    depth_mm: Decimal
    girdle_least_mm: Decimal
    girdle_most_mm: Decimal
    table_percent: Decimal
    window: Window


@dataclass(frozen=True, eq=False)
class Outcome:
    """Before and after. Weights low, middle and high; ``unlike``: weighed over computed, where they are far apart."""

    before: Stand
    after: Stand | None
    weight_low_ct: Decimal
    weight_ct: Decimal
    weight_high_ct: Decimal
    computed_ct: Decimal
    unlike: Decimal | None
    notes: tuple[str, ...] = ()


def stand(solid: Solid, index: float) -> Stand:
    """Read a solid as a gauge would."""
    least, most = solid.girdle_thickness if solid.on_side("girdle").any() else (0.0, 0.0)
    return Stand(
        solid,
        figures.millimetres(solid.length),
        figures.millimetres(solid.width),
        figures.millimetres(solid.depth),
        figures.millimetres(least),
        figures.millimetres(most),
        figures.decimal_of(solid.table_percent, 1),
        window_of(solid, index),
    )


def closed(stone: Measured, *, target_deg: float | None, off_mm: float) -> Outcome:
    """The largest stone inside this one whose mains stand at ``target_deg``, its crown facets kept.

    High end of the weight: nothing lost but what the shape demands; middle: ``off_mm`` off every facet besides; low
    end: twice as much. Raises ``EmptySolid`` when nothing is left.
    """
    old = stone.solid()
    angle = target_deg or recommended_pavilion(stone.index)
    largest = [_inside(stone, old, angle, off) for off in (2 * off_mm, off_mm, 0.0)]
    volumes = [solid.volume for solid in largest]
    after = stand(largest[1], stone.index)
    return _outcome(stone, old, after, volumes, _still_windows(after))


def _still_windows(after: Stand) -> tuple[str, ...]:
    if after.window.margin_deg >= 0:
        return ()
    return (
        "The flattest mains, at the ends, still lie below the critical angle: this outline windows there.",
    )


def _inside(stone: Measured, old: Solid, angle: float, off_mm: float) -> Solid:
    """The largest of the tables tried: a girdle that moves in under the same crown leaves a wider one."""
    rough = _room(old, stone.gravity, off_mm)
    found = []
    first = stone.cut.table_percent
    for table in np.arange(first, max(WIDEST_TABLE, first) + 0.1, TABLE_STEP):
        cut = replace(stone.cut, pavilion_deg=angle, table_percent=float(table), keel=True)
        try:
            found.append(_fitted(cut, rough))
        except HandbookError:
            # A wider table can leave no room for the stars; the narrower ones stand.
            continue
    if not found:
        raise EmptySolid("Nothing of the stone is left at that angle and with so much taken off.")
    return max(found, key=lambda solid: solid.volume)


def _fitted(cut: Cut, rough: Rough) -> Solid:
    from workshop.handbook import recovery

    unit = cut.solid()
    fit = recovery.best_fit(rough, recovery.cut_of(cut.outline, unit), turns=np.eye(3)[None])
    return unit.scaled(fit.scale)


def _room(old: Solid, gravity: float, off_mm: float) -> Rough:
    """The old stone as a piece of rough, ``off_mm`` inside each of its facets."""
    from workshop.handbook.recovery import Rough

    labels = tuple(plane.label for plane in old.planes)
    return Rough(old.normals, old.offsets - off_mm, labels, None, old.volume, gravity, 1.0, ())


def cut_deeper(stone: Measured, doing: str, by_mm: float) -> Outcome:
    """The stone with a tier, a side or the table ``by_mm`` deeper; the range is the depth stop's.

    Raises ``EmptySolid`` when that takes everything away.
    """
    from workshop.handbook.solids import deeper

    old = stone.solid()
    label = next(name for name in LABELS[doing] if old.angles(name) is not None)
    solids = [deeper(old, label, by_mm * part) for part in (1 + STOP_SHARE, 1.0, 1 - STOP_SHARE)]
    after = stand(solids[1], stone.index)
    notes = ("The girdle runs out to an edge somewhere: it chips. Take less, or cut the girdle anew.",)
    thin = after.girdle_least_mm == 0
    return _outcome(stone, old, after, [solid.volume for solid in solids], notes if thin else ())


def known(stone: Measured, after_ct: Decimal) -> Outcome:
    """A weight somebody knows already: only the money is worked out."""
    old = stone.solid()
    computed = figures.carats(old.weight_ct(stone.gravity))
    return Outcome(
        stand(old, stone.index), None, after_ct, after_ct, after_ct, computed, _unlike(stone, computed)
    )


def _outcome(
    stone: Measured, old: Solid, after: Stand, volumes: list[float], notes: tuple[str, ...]
) -> Outcome:
    computed = figures.carats(old.weight_ct(stone.gravity))
    low, middle, high = (
        figures.carats(float(stone.weight_ct) * min(volume / old.volume, 1.0)) for volume in volumes
    )
    return Outcome(
        stand(old, stone.index), after, low, middle, high, computed, _unlike(stone, computed), notes
    )


def _unlike(stone: Measured, computed: Decimal) -> Decimal | None:
    """Weighed over computed, where the solid is no likeness of the stone."""
    times = stone.weight_ct / computed
    return times.quantize(Decimal("0.01")) if abs(times - 1) > Decimal(str(UNLIKE)) else None


def hours_of(outcome: Outcome, hardness: float, care: bool, past: History) -> Any:
    """The range of hours of a recut."""
    from workshop.handbook import estimates

    shown = (outcome.after or outcome.before).solid
    job = estimates.Job(facet_count(shown), hardness, care, shown.width, "recut")
    return estimates.hours_range(past.hours, job)


def sums(
    before_ct: Decimal,
    outcome: Outcome,
    *,
    per_carat_before: Decimal,
    per_carat_after: Decimal | None,
    fee: Decimal,
    currency: str,
) -> list[tuple[str, Decimal, RecutFigures]]:
    """The money at the low, middle and high end of the weight; one line where they are the same."""
    ends = {"low": outcome.weight_low_ct, "middle": outcome.weight_ct, "high": outcome.weight_high_ct}
    if len(set(ends.values())) == 1:
        ends = {"as given": outcome.weight_ct}
    return [
        (
            name,
            weight,
            recut_figures(
                before_ct=before_ct,
                after_ct=weight,
                per_carat_before=per_carat_before,
                per_carat_after=per_carat_after,
                fee=fee,
                currency=currency,
            ),
        )
        for name, weight in ends.items()
    ]


def fee_of(seconds: int, rate: Decimal, currency: str) -> Decimal:
    """The hours at the rate, where no fee was said."""
    return labour_cost([(seconds, rate)], currency)
