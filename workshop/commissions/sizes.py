"""Length and width of a stone before it is cut: from its plan, its wished size, or its weight."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from workshop.common.errors import DeedRefused
from workshop.handbook.errors import HandbookError
from workshop.handbook.weights import estimates_from_size
from workshop.planning import figures
from workshop.planning.models import CutPlan

from .models import ON_CLIENTS_GOODS, CommissionItem, WorkKind

#: Length against width where nobody has said, by outline; the rest are as long as wide [assume].
USUAL_RATIO = {
    "oval": Decimal("1.3"), "cushion": Decimal("1.1"), "pear": Decimal("1.5"), "marquise": Decimal(2),
    "rectangle": Decimal("1.4"), "cut_corner_rectangle": Decimal("1.4"),
}  # fmt: skip
#: Depth against width of a finished coloured stone [assume].
USUAL_DEPTH = Decimal("0.65")
#: Specific gravity where the material is not known: quartz, the lightest of the common ones [assume].
USUAL_GRAVITY = Decimal("2.65")
USUAL_WIDTH = 6.0
NARROWEST, WIDEST = 0.5, 200.0
Triple = tuple[Decimal, Decimal, Decimal]


class Sides(NamedTuple):
    """Between which millimetres the finished stone will measure; None where nothing can be said."""

    length_low: Decimal | None = None
    length_high: Decimal | None = None
    width_low: Decimal | None = None
    width_high: Decimal | None = None

    def checked(self) -> Sides:
        """Themselves, if each range has two ends and stands upright."""
        for name, low, high in (
            ("length", self.length_low, self.length_high),
            ("width", self.width_low, self.width_high),
        ):
            if (low is None) != (high is None):
                raise DeedRefused(f"Give both ends of the {name}, or neither.", field=f"{name}_low_mm")
            if low is not None and high is not None and not 0 < low <= high:
                raise DeedRefused(f"The {name} is upside down or not above zero.", field=f"{name}_low_mm")
        return self


def sides_of(
    item: CommissionItem,
    *,
    plan: CutPlan | None,
    measured: tuple[Decimal | None, Decimal | None],
    start_ct: Decimal | None,
    weights: Triple | None,
) -> Sides:
    """The ranges, from the best of what is known: the plan; the wished size; the stone as it is; the weight.

    Lengths go with the cube root of the weight: the stone grows or shrinks alike on every side.
    """
    if plan is not None:
        return _scaled(plan.length_mm, plan.width_mm, plan.weight_ct, weights)
    if item.length_mm is not None:
        return _wished(item)
    if item.work in ON_CLIENTS_GOODS and item.work != WorkKind.CUT_CLIENT:
        length, width = measured
        return _scaled(length, width, start_ct, weights) if start_ct else Sides()
    if item.shape and item.material is not None and weights is not None:
        width = figures.millimetres(width_of(item, Sides(), weights[1]))
        return _scaled(width * ratio_of(item), width, weights[1], weights)
    return Sides()


def _wished(item: CommissionItem) -> Sides:
    off = item.tolerance_mm or Decimal(0)
    length, width = item.length_mm, item.width_mm
    assert length is not None
    ends = (max(length - off, Decimal("0.01")), length + off)
    if width is None:
        return Sides(*ends)
    return Sides(*ends, max(width - off, Decimal("0.01")), width + off)


def _scaled(
    length: Decimal | None, width: Decimal | None, at_ct: Decimal | None, weights: Triple | None
) -> Sides:
    if not at_ct or weights is None:
        return Sides(length, length, width, width)
    low, high = (min((float(end / at_ct)) ** (1 / 3), 10.0) for end in (weights[0], weights[2]))
    found = [
        None if side is None else figures.millimetres(float(side) * factor)
        for side in (length, width)
        for factor in (low, high)
    ]
    return Sides(*found)


def ratio_of(item: CommissionItem) -> Decimal:
    """Length against width: as wished, or usual for the outline."""
    if item.length_mm and item.width_mm:
        return item.length_mm / item.width_mm
    return USUAL_RATIO.get(item.shape, Decimal(1))


def width_of(item: CommissionItem, sides: Sides, carats: Decimal | None) -> float:
    """A width in mm for the hours: the size's own middle, or that of a stone of usual depth and this weight."""
    if sides.width_low is not None and sides.width_high is not None:
        width = float(sides.width_low + sides.width_high) / 2
    elif sides.length_low is not None and sides.length_high is not None:
        width = float(sides.length_low + sides.length_high) / 2 / float(ratio_of(item))
    elif carats is not None:
        width = _by_weight(item, carats)
    else:
        width = USUAL_WIDTH
    return min(max(width, NARROWEST), WIDEST)


def _by_weight(item: CommissionItem, carats: Decimal) -> float:
    gravity = _gravity(item)
    size = (ratio_of(item), Decimal(1), USUAL_DEPTH)
    found = estimates_from_size(item.shape, *size, gravity) or estimates_from_size("oval", *size, gravity)
    one_wide = sum(float(estimate.ct) for estimate in found) / len(found)
    return (float(carats) / one_wide) ** (1 / 3)


def _gravity(item: CommissionItem) -> Decimal:
    text = item.material.sg_typical if item.material else ""
    try:
        return max(Decimal(text), Decimal("0.5"))
    except (ArithmeticError, HandbookError):
        return USUAL_GRAVITY
