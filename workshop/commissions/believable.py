"""What a piece of such millimetres may well weigh, to catch a slip of the point or the unit at the counter.

A cut stone goes by the published constants for its outline (``handbook.weights.believable_weights``). Rough goes by
geometry: no piece fills more than the box around it (``handbook.weights.carats_from_volume``).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Final

from workshop.handbook import tables
from workshop.handbook.errors import OutOfRange
from workshop.handbook.weights import believable_weights, carats_from_volume
from workshop.materials.models import Material

LEAST_OF_BOX: Final = Decimal(12)
"""A piece of rough that fills less than this part of its box is asked about: half of the sixth that a pyramid on a
triangle, the slimmest solid of the handbook, fills. The house's own choice."""


@dataclass(frozen=True)
class Span:
    """Between which carats a weight is believed, and the reason in words."""

    low: Decimal
    high: Decimal
    words: str


def believable_span(
    material: Material | None,
    length_mm: Decimal | None,
    width_mm: Decimal | None,
    depth_mm: Decimal | None,
    *,
    outline: str = "",
    pieces: int = 1,
) -> Span | None:
    """The span of believable weights, or None where the size is not known. ``outline`` names that of a cut stone.

    Of several pieces the size is that of the largest, so only the upper bound holds.
    """
    if length_mm is None or width_mm is None or depth_mm is None:
        return None
    if min(length_mm, width_mm, depth_mm) <= 0:
        return None
    light, heavy, named = _gravities(material)
    if outline and pieces == 1 and material is not None:
        low = believable_weights(outline, length_mm, width_mm, depth_mm, light)[0]
        high = believable_weights(outline, length_mm, width_mm, depth_mm, heavy)[1]
        return Span(
            low, high, f"a cut stone of this size weighs some {low:.2f} to {high:.2f} ct if it is {named}"
        )
    box = length_mm * width_mm * depth_mm
    high = carats_from_volume(box, heavy) * pieces
    low = carats_from_volume(box, light) / LEAST_OF_BOX if pieces == 1 else Decimal(0)
    words = f"even a full block of that size weighs {high:.2f} ct if it is {named}"
    return Span(low, high, words if not low else f"{words}, and a slim splinter {low:.2f} ct")


def _gravities(material: Material | None) -> tuple[Decimal, Decimal, str]:
    """Least and greatest specific gravity: of the species told, else of all in the table."""
    if material is None:
        rows = tables.materials()
        return min(row.sg_low for row in rows), max(row.sg_high for row in rows), "any gem of the handbook"
    try:
        row = tables.material(material.key)
        return row.sg_low, row.sg_high, material.everyday_name
    except OutOfRange:
        own = _number(material.sg_typical)
        return (own, own, material.everyday_name) if own is not None else _gravities(None)


def _number(text: str) -> Decimal | None:
    try:
        read = Decimal(text)
    except InvalidOperation:
        return None
    return read if read > 0 else None
