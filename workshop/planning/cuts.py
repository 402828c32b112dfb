"""A cut as a person describes it, the solid it makes, and how near its pavilion is to a window.

The handbook's heavy chapters are brought in only where they are used: most pages of the shop need none of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from workshop.handbook import optics
from workshop.handbook.outlines import LABELS, usual_length_to_width

if TYPE_CHECKING:
    from workshop.handbook.light import LightResult
    from workshop.handbook.solids import Proportions, Solid

#: Outlines offered for a piece of rough; a regular polygon is asked for by its number of sides.
OFFERED = tuple(key for key in LABELS if key != "polygon")
#: Curved outlines whose mains can run down to a keel, all at one angle.
KEELED = ("oval", "cushion", "pear", "marquise", "triangle")
#: Outlines that keep their length to width; the others may be made longer or shorter to fit.
FIXED_RATIO = ("round", "square", "triangle", "heart", "polygon")
HULL_NOTE = "A heart is planned as its hull: the cleft comes off this weight, and takes its time on top."
WINDOW_GRID = 48


@dataclass(frozen=True)
class Cut:
    """Outline, style and proportions. ``style`` empty: the usual one of the outline."""

    outline: str
    style: str = ""
    length_to_width: float | None = None
    sides: int = 8
    keel: bool = True
    crown_deg: float = 34.0
    pavilion_deg: float = 42.0
    table_percent: float = 57.0
    girdle_percent: float = 3.0

    @property
    def chosen_style(self) -> str:
        """The style it is cut in."""
        from workshop.handbook.solids import usual_style

        return self.style or usual_style(self.outline)

    @property
    def keeled(self) -> bool:
        """Whether its pavilion ends in a keel instead of a point."""
        return self.keel and self.outline in KEELED and self.chosen_style == "brilliant"

    @property
    def ratio(self) -> float:
        """Length to width, said or usual."""
        return self.length_to_width or usual_length_to_width(self.outline, self.sides)

    @property
    def proportions(self) -> Proportions:
        """As the handbook wants them."""
        from workshop.handbook.solids import Proportions

        return Proportions(
            crown_angle=self.crown_deg,
            pavilion_angle=self.pavilion_deg,
            table_percent=self.table_percent,
            girdle_percent=self.girdle_percent,
            keel=self.keeled,
        )

    def solid(self, width_mm: float = 1.0) -> Solid:
        """The stone at a width. Raises the handbook's errors for proportions that make no stone."""
        from workshop.handbook.solids import make_cut

        return make_cut(
            self.outline,
            self.chosen_style,
            width=width_mm,
            length_to_width=self.ratio,
            sides=self.sides,
            proportions=self.proportions,
        )

    def with_ratio(self, length_to_width: float) -> Cut:
        """The same cut, longer or shorter."""
        return replace(self, length_to_width=length_to_width)


def recommended_pavilion(index: float) -> float:
    """The angle most sources agree on for this index: 43° below 1.6, 42°, 41° near 2.

    Choosing angles for faceting <https://www.gemsociety.org/article/choosing-angles-for-faceting/>.
    """
    return {True: 43.0, False: 42.0}[index < 1.6] if index < 1.9 else 41.0


def facet_count(solid: Solid) -> int:
    """Facets without the girdle, as cutters count them."""
    return sum(face.plane.side != "girdle" for face in solid.faces)


@dataclass(frozen=True)
class Window:
    """How near a pavilion is to a window.

    ``least_deg``: the flattest of its mains, or of its tier at the culet; the steepest would flatter.
    ``tilt_deg``: from which tilt it windows; 0 face up, None at no tilt.
    """

    critical_deg: float
    least_deg: float
    steepest_deg: float
    tilt_deg: float | None

    @property
    def margin_deg(self) -> float:
        """How far the flattest mains lie over the critical angle."""
        return self.least_deg - self.critical_deg

    @property
    def only_in_part(self) -> bool:
        """Some mains window face up, others do not."""
        return self.margin_deg < 0 < self.steepest_deg - self.critical_deg


def window_of(solid: Solid, index: float) -> Window:
    """Read off the flattest mains. Raises ``OutOfRange`` for an index outside 1.3 to 3.5."""
    critical = optics.critical_angle_deg(index)
    found = solid.angles("pavilion main") or solid.angles("pavilion step") or solid.angles("pavilion")
    assert found is not None
    least, steepest = found
    tilt = optics.window_tilt_deg(index, min(least, optics.STEEPEST_FOR_TILT_DEG))
    return Window(critical, least, steepest, tilt)


def seen_through(solid: Solid, index: float, *, grid: int = WINDOW_GRID) -> LightResult:
    """The light in a stone looked at face up."""
    from workshop.handbook.light import trace

    return trace(solid.normals, solid.offsets, index, grid=grid)
