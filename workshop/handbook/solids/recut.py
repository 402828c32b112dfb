"""A stone that is already there: matched to its sizes, and cut deeper on a tier."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from .. import outlines
from ..errors import OutOfRange
from ..outlines import Outline
from .cuts import Proportions, cut, depth_of, usual_style
from .planes import CrownMeetsPavilion, ImpossibleAngle
from .solid import Solid, solid_from_arrays

FLATTEST, STEEPEST = 10.0, 75.0
"""Pavilion angles (deg) tried before the whole stone is stretched instead; beyond them no cutter's stone
lies.
"""


def cut_to_size(
    outline_key: str,
    style: str | None = None,
    *,
    length: float,
    width: float,
    depth: float,
    sides: int = 8,
    proportions: Proportions | None = None,
    **changes: Any,
) -> Solid:
    """A stone of a style with the three sizes measured (mm): crown, table and girdle as usual, the pavilion
    to depth.

    Where no pavilion between 10 and 75 degrees gives that depth, the usual stone is stretched to it, girdle
    and all. The angles of a stone that was only measured are not known: its weight by this solid is an
    estimate (plus or minus 10 % is what the trade's own formulae claim; jewelrynotes.com says 10-15 %).
    """
    if not (math.isfinite(depth) and depth > 0):
        raise OutOfRange("The depth must be a size above zero, in millimetres.", depth=depth)
    outline = outlines.make_outline(outline_key, length=length, width=width, sides=sides)
    chosen = style or usual_style(outline_key)
    said = replace(proportions or Proportions(), **changes) if changes else proportions or Proportions()
    angle = _angle_for(chosen, outline, said, depth)
    if angle is not None:
        try:
            return cut(chosen, outline, replace(said, pavilion_angle=angle))
        except (CrownMeetsPavilion, ImpossibleAngle):
            pass
    usual = cut(chosen, outline, said)
    return usual.stretched(1, 1, depth / usual.depth)


def _angle_for(style: str, outline: Outline, said: Proportions, depth: float) -> float | None:
    """The pavilion angle that gives the depth, by halving; None when no angle tried does."""
    spread = 0.0 if style == "brilliant" else (said.tiers - 1) * said.tier_spread
    low, high = FLATTEST, STEEPEST - spread

    def over(angle: float) -> float:
        return depth_of(style, outline, replace(said, pavilion_angle=angle)) - depth

    if high <= low or over(low) > 0 or over(high) < 0:
        return None
    while high - low > 1e-10:
        middle = (low + high) / 2
        low, high = (middle, high) if over(middle) < 0 else (low, middle)
    return (low + high) / 2


def deeper(solid: Solid, label: str, by: float) -> Solid:
    """The solid with every facet whose label begins with ``label`` cut ``by`` mm deeper along its own normal.

    Negative ``by`` is refused: stone does not grow. Raises ``OutOfRange`` when no facet has that name,
    ``EmptySolid`` when nothing is left.
    """
    if not (math.isfinite(by) and by >= 0):
        raise OutOfRange("A facet is cut deeper by a length of zero or more, in millimetres.", by=by)
    chosen = np.array([plane.label.startswith(label) for plane in solid.planes])
    if not chosen.any():
        raise OutOfRange(f"No facet is called {label}.", label=label)
    offsets = np.where(chosen, solid.offsets - by, solid.offsets)
    planes = tuple(replace(plane, distance=float(d)) for plane, d in zip(solid.planes, offsets, strict=True))
    return solid_from_arrays(planes, solid.normals, offsets)
