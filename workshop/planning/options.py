"""Options for a piece of rough: what each outline would give, in size, weight, hours, money and windows.

Plans, not promises. What fits is exact for the piece as described (``handbook.recovery``); what of it is kept, and how
long it takes, are ranges (``handbook.estimates``).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np

from workshop.handbook.costing import labour_cost
from workshop.handbook.errors import EmptySolid, HandbookError
from workshop.handbook.money import round_money
from workshop.handbook.outlines import LABELS

from . import figures
from .cuts import FIXED_RATIO, HULL_NOTE, Cut, Window, facet_count, seen_through, window_of
from .history import History
from .pieces import Piece, lay_of

if TYPE_CHECKING:
    from workshop.handbook.estimates import Range
    from workshop.handbook.recovery import Fit, Rough
    from workshop.handbook.solids import Solid

SHARE = 0.8
UNEVEN = "Width and height of the crystal differ: it is taken to be as wide all round as the lesser of them."
#: Between which lengths to width an outline may go when it may follow the rough; beyond them it is another outline.
FREE = (0.8, 1.5)


@dataclass(frozen=True)
class Work:
    """What the hours depend on besides the stone's size."""

    hardness: float
    care: bool
    flawed: bool = False


@dataclass(frozen=True)
class PriceBand:
    """The asked price per carat from a weight on."""

    from_ct: Decimal
    per_ct: Decimal


@dataclass(frozen=True)
class Terms:
    """What an hour costs, what the piece has cost, and what is asked for a carat."""

    currency: str
    hourly_rate: Decimal
    off_bench_percent: Decimal
    cost_before: Decimal
    bands: tuple[PriceBand, ...] = ()

    def asked_at(self, ct: Decimal) -> Decimal | None:
        """The price per carat asked for a stone of this weight."""
        reached = [band for band in self.bands if ct >= band.from_ct]
        return max(reached, key=lambda band: band.from_ct).per_ct if reached else None


@dataclass(frozen=True, eq=False)
class Sums:
    """Money of one option; nothing where no price is asked."""

    asked_per_ct: Decimal | None
    cost: Decimal
    price: Decimal | None
    earned_per_hour: Decimal | None


@dataclass(frozen=True, eq=False)
class Option:
    """One line of the table.

    ``length_mm``, ``width_mm``, ``depth_mm``: the likely size, at which the stone has its expected weight;
    ``most_...``: the largest that fits. Weights in carats, hours as seconds at the bench.
    """

    cut: Cut
    solid: Solid
    lay: dict[str, Any]
    length_mm: Decimal
    width_mm: Decimal
    depth_mm: Decimal
    most_length_mm: Decimal
    most_width_mm: Decimal
    bound_ct: Decimal
    weight_low_ct: Decimal
    weight_ct: Decimal
    weight_high_ct: Decimal
    recovery_percent: Decimal
    seconds_low: int
    seconds: int
    seconds_high: int
    facets: int
    window: Window
    window_percent: Decimal
    touches: tuple[str, ...]
    notes: tuple[str, ...]
    sums: Sums | None = None

    @property
    def key(self) -> str:
        """The outline's key."""
        return self.cut.outline

    @property
    def label(self) -> str:
        """The outline in words."""
        return LABELS[self.cut.outline]


@dataclass(frozen=True)
class Refused:
    """An outline that this cut cannot be made in, and why."""

    label: str
    why: str


@dataclass(frozen=True)
class Asked:
    """One question to the table: the piece, the cut's angles, the index, the work, and whether lengths are free."""

    piece: Piece
    cut: Cut
    index: float
    work: Work
    free_ratio: bool = False


@dataclass(frozen=True, eq=False)
class Table:
    """The options, heaviest first, the outlines that cannot be cut so, and what to say of the piece."""

    rows: list[Option]
    refused: list[Refused]
    warnings: tuple[str, ...]


def options(asked: Asked, outlines: tuple[str, ...], past: History, terms: Terms | None) -> Table:
    """What each outline gives. Raises as ``Piece.rough``."""
    rough = asked.piece.rough()
    turns = asked.piece.turns()
    found, refused = [], []
    for outline in outlines:
        cut = _cut_for(asked, outline)
        try:
            found.append(_option(asked, cut, rough, turns, past, terms))
        except EmptySolid:
            # No fault of the outline: the losses leave nothing for any of them.
            raise
        except HandbookError as error:
            refused.append(Refused(LABELS[outline], str(error)))
    uneven = (UNEVEN,) if asked.piece.uneven_crystal else ()
    return Table(sorted(found, key=lambda option: -option.weight_ct), refused, rough.warnings + uneven)


def _cut_for(asked: Asked, outline: str) -> Cut:
    given = asked.cut
    return Cut(
        outline=outline,
        style=given.style,
        length_to_width=None if outline in FIXED_RATIO else given.length_to_width,
        sides=given.sides,
        keel=given.keel,
        crown_deg=given.crown_deg,
        pavilion_deg=given.pavilion_deg,
        table_percent=given.table_percent,
        girdle_percent=given.girdle_percent,
    )


def _option(
    asked: Asked, cut: Cut, rough: Rough, turns: np.ndarray[Any, Any], past: History, terms: Terms | None
) -> Option:
    from workshop.handbook import recovery

    unit = cut.solid()
    if asked.free_ratio and cut.outline not in FIXED_RATIO:
        freely = recovery.best_fit(rough, recovery.cut_of(cut.outline, unit), turns=turns, longer=FREE)
        # A stretch lowers the angles at the ends, so the stone is built anew at the ratio that was found.
        cut = cut.with_ratio(cut.ratio * freely.stretch)
        unit = cut.solid()
    fit = recovery.best_fit(rough, recovery.cut_of(cut.outline, unit), turns=turns)
    return _weighed(asked, cut, unit, fit, past, terms)


def _weighed(asked: Asked, cut: Cut, unit: Solid, fit: Fit, past: History, terms: Terms | None) -> Option:
    from workshop.handbook import estimates

    take = estimates.Take(float(asked.piece.weight_ct), asked.work.flawed)
    weights = estimates.weight_range(past.recovery, take, fit.weight_ct, share=SHARE)
    likely = (weights.middle / fit.weight_ct) ** (1 / 3)
    solid = unit.scaled(fit.scale * likely)
    job = estimates.Job(facet_count(solid), asked.work.hardness, asked.work.care, solid.width)
    hours = estimates.hours_range(past.hours, job, share=SHARE)
    light = seen_through(solid, asked.index)
    weight = figures.carats(weights.middle)
    return Option(
        cut=cut,
        solid=solid,
        lay=_shrunk(lay_of(fit), unit.scaled(fit.scale), likely),
        length_mm=figures.millimetres(solid.length),
        width_mm=figures.millimetres(solid.width),
        depth_mm=figures.millimetres(solid.depth),
        most_length_mm=figures.millimetres(fit.length_mm),
        most_width_mm=figures.millimetres(fit.width_mm),
        bound_ct=figures.carats(fit.weight_ct),
        weight_low_ct=figures.carats(weights.low),
        weight_ct=weight,
        weight_high_ct=figures.carats(weights.high),
        recovery_percent=figures.per_cent(weights.middle / float(asked.piece.weight_ct)),
        seconds_low=figures.seconds(hours.low),
        seconds=figures.seconds(hours.middle),
        seconds_high=figures.seconds(hours.high),
        facets=job.facets,
        window=window_of(solid, asked.index),
        window_percent=figures.per_cent(light.window),
        touches=fit.touches,
        notes=(HULL_NOTE,) if cut.outline == "heart" else (),
        sums=_sums(weight, hours, terms) if terms is not None else None,
    )


def _shrunk(lay: dict[str, Any], largest: Solid, factor: float) -> dict[str, Any]:
    """Where the likely stone lies: drawn in from the largest one toward its own middle, so that it stays inside."""
    turn = np.array(lay["rotation"])
    shift = np.array(lay["position"]) + turn @ largest.centroid * (1 - factor)
    return {"rotation": lay["rotation"], "position": shift.tolist()}


def _sums(weight: Decimal, hours: Range, terms: Terms) -> Sums:
    """Hours at the bench and what comes on top, at the rate; what the hour earns is what the price leaves for them."""
    bench = figures.seconds(hours.middle)
    whole = bench + int(bench * terms.off_bench_percent / 100)
    cost = terms.cost_before + labour_cost([(whole, terms.hourly_rate)], terms.currency)
    asked = terms.asked_at(weight)
    if asked is None:
        return Sums(None, cost, None, None)
    price = round_money(weight * asked, terms.currency)
    left = price - terms.cost_before
    earned = round_money(left * figures.SECONDS_IN_AN_HOUR / whole, terms.currency)
    return Sums(asked, cost, price, earned)
