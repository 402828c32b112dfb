"""The largest stone of a given cut in a given piece of rough.

For a fixed orientation the answer is exact. A cut of scale s at position p lies inside the plane n.x <= b
when s h(n) + n.p <= b, h being the cut's support in the direction n, so the largest s is a linear program in
four unknowns; a pebble is bounded by its tangent planes, added where the stone would stick out until nothing
does. What is returned always fits: the last step takes the scale that the position found truly allows.

Over orientations the search takes the 24 ways to lay a box along a box, may take the ways to lay the table
along each flat or loss, and may turn the best one further. That is a search, not a proof.

These are plans, not promises: no room for sawing, preforming or polish is taken unless it is given as a skin.

Frame of the piece: x along its width, y along its length, z along its height; origin in the middle. Cuts as
in ``solids``: x width, y length, z up through the table. Millimetres and carats; 1 ct = 0.2 g exactly.
"""

from .fit import Cut, Fit, best_fit, box_turns, cut_of, options, table_turns, usual_turns
from .rough import SIDES, Rough, Shape, Side, bipyramid, block, calipers, measured, pebble, prism

__all__ = [
    "SIDES",
    "Cut",
    "Fit",
    "Rough",
    "Shape",
    "Side",
    "best_fit",
    "bipyramid",
    "block",
    "box_turns",
    "calipers",
    "cut_of",
    "measured",
    "options",
    "pebble",
    "prism",
    "table_turns",
    "usual_turns",
]
