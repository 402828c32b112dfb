"""Do a gem's weight, sizes and outline agree? Doubts are asked about at the scale, where they can still be settled."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal, InvalidOperation

from workshop.common.say import carats
from workshop.handbook import tables
from workshop.handbook.units import looks_tenfold
from workshop.handbook.weights import believable_weights, looks_round
from workshop.materials.models import Material

from .models import Shape

#: Outlines whose length is the longest dimension and whose width is the widest at right angles to it; a heart is
#: measured from its point to the line over its lobes, a triangle from the middle of a side to the far point, so that
#: either may be wider than long. Source: AGL Thai, measurement <http://aglthai.com/measurement.php>.
LONGEST_FIRST = frozenset(
    [Shape.ROUND, Shape.OVAL, Shape.CUSHION, Shape.MARQUISE, Shape.RECTANGLE, Shape.CUT_CORNER, Shape.SQUARE]
)
HOW_MEASURED = {
    Shape.ROUND: "greatest diameter, least diameter",
    Shape.HEART: "length from the point to the line over the lobes, width across the lobes",
    Shape.TRIANGLE: "width from corner to corner on a side, length from the middle of that side to the far point",
}
USUAL_MEASURE = "length along its longest dimension, width at right angles to it"

#: A field and what is odd about what stands in it.
Doubt = tuple[str, str]


def in_order(shape: str, length: Decimal, width: Decimal) -> tuple[Decimal, Decimal]:
    """Length and width as the outline is measured."""
    if shape in LONGEST_FIRST and width > length:
        return width, length
    return length, width


def how_measured(shape: str) -> str:
    """Which distances are an outline's length and width."""
    return HOW_MEASURED.get(Shape(shape), USUAL_MEASURE)


def specific_gravity(material: Material | None) -> Decimal | None:
    """The handbook's usual figure for a material, or the shop's own; None where nobody knows it."""
    if material is None:
        return None
    known = next((row for row in tables.materials() if row.key == material.key), None)
    if known is not None:
        return known.sg_typical
    try:
        return Decimal(material.sg_typical)
    except InvalidOperation:
        return None


def doubts_about(
    shape: str,
    sides: tuple[Decimal, Decimal, Decimal],
    *,
    weight_ct: Decimal,
    last_ct: Decimal,
    material: Material | None,
) -> Iterator[Doubt]:
    """What looks like a slip: a point ten times off, a round that is not round, a weight its size does not bear out."""
    length, width, _ = sides
    meant = looks_tenfold(weight_ct, last_ct)
    if meant is not None:
        asked = f"From {carats(last_ct)} to {carats(weight_ct)} at once? Did you mean {carats(meant)}?"
        yield "weight", asked
    if shape == Shape.ROUND and not looks_round(*sorted([length, width])):
        yield "width_mm", f"{length} and {width} mm lie far apart for a round. Is the outline really round?"
    gravity = specific_gravity(material)
    if gravity is not None:
        low, high = believable_weights(shape, *sides, gravity)
        if not low <= weight_ct <= high:
            likely = f"{low:.2f} to {high:.2f} ct"
            yield (
                "depth_mm",
                f"A {material} of this size weighs some {likely}, not {carats(weight_ct)}. Which is off?",
            )
