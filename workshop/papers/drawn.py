"""The drawings of a certificate, from what its record says of a stone: face up, from the side, at its true size.

The solid is built from the sizes measured, with the table and crown angle where they are known; its pavilion follows
from the depth. Facet lines are a scheme, and every caption says so.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any, Final

from workshop.handbook import drawings
from workshop.handbook.errors import HandbookError
from workshop.handbook.solids import Proportions, Solid, cut_to_size

FACE_PX: Final = 138
LARGE_PX: Final = 186
PAIR_PX, SMALL_PX = 100, 56
"""The longer side of the face-up view: 36.5 mm on paper, 49 mm where it stands large, 26 mm in a pair, 15 mm beside
many. The figures stay 9 pt high, so that a smaller sheet may shrink a drawing by a third."""


def views(stone: dict[str, Any], *, size_px: int = FACE_PX) -> dict[str, str]:
    """SVG by name: ``face_up``, ``side`` (at one scale unless the first stands large), ``life_size`` at its own.

    ``stone``: shape, length_mm, width_mm, depth_mm, and what is known of style, table_percent and crown_angle, all
    as texts.
    """
    length, width, depth = (Decimal(stone[name]) for name in ("length_mm", "width_mm", "depth_mm"))
    shape = stone["shape"]
    made = {"life_size": drawings.life_size(shape, length, width, title="The outline at its true size")}
    solid = _solid(stone, length, width, depth)
    if solid is None:
        made["face_up"] = drawings.outline_drawing(shape, length, width, depth, size_px=size_px)
        return made
    scale = min(size_px, FACE_PX) / max(solid.width, solid.length)
    across = round(scale * max(solid.width, solid.depth))
    made["side"] = drawings.end(solid, size_px=across, title="The stone from the side")
    if shape == "heart":
        # No one convex solid has its cleft.
        made["face_up"] = drawings.outline_drawing(shape, length, width, size_px=size_px)
    else:
        made["face_up"] = drawings.face_up(solid, size_px=size_px, title="The stone, face up")
    return made


def _solid(stone: dict[str, Any], length: Decimal, width: Decimal, depth: Decimal) -> Solid | None:
    known: dict[str, Any] = {
        name: float(stone[name]) for name in ("table_percent", "crown_angle") if stone.get(name)
    }
    # Odd proportions make no stone; the sizes alone are tried before the drawing does without a solid.
    for said in (known, {}):
        try:
            return cut_to_size(
                stone["shape"],
                stone.get("style") or None,
                length=float(length),
                width=float(width),
                depth=float(depth),
                proportions=Proportions(**said),
            )
        except HandbookError:
            continue
    return None
