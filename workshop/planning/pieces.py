"""A piece of rough as it was described at the desk, and what it leaves to cut from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from decimal import Decimal
from math import cos, radians, sin
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from workshop.handbook.recovery import Fit, Rough, Side
    from workshop.handbook.solids import Solid

SHAPES = {
    "pebble": "pebble, rounded all over",
    "block": "block, sawn or flat-sided",
    "bipyramid": "crystal with a point at either end",
    "prism": "straight crystal with flat ends",
}
SIDE_NAMES = ("right", "left", "far end", "near end", "top", "bottom")
#: Directions spread over a pebble to draw it from; a drawing needs no more.
PEBBLE_PLANES = 260


@dataclass(frozen=True)
class Flat:
    """A plane of the piece: a flat it has, or a loss behind which nothing is used. Distances from the middle, mm.

    ``way`` is one of ``SIDE_NAMES``, or empty for ``azimuth`` (degrees clockwise from the far end, seen from above)
    and ``rise`` (degrees up from level).
    """

    kind: str
    way: str
    distance_mm: str
    azimuth_deg: str = "0"
    rise_deg: str = "0"

    @property
    def words(self) -> str:
        """How it is told."""
        where = self.way or f"{self.azimuth_deg}° round, {self.rise_deg}° up"
        return f"{'flat' if self.kind == 'flat' else 'loss'} {self.distance_mm} mm towards {where}"

    def side(self) -> Side:
        """The plane as the handbook wants it."""
        from workshop.handbook.recovery import SIDES, Side

        if self.way:
            return Side(SIDES[self.way], float(self.distance_mm), self.words)
        turn, up = radians(float(self.azimuth_deg)), radians(float(self.rise_deg))
        towards = (sin(turn) * cos(up), cos(turn) * cos(up), sin(up))
        return Side(towards, float(self.distance_mm), self.words)


@dataclass(frozen=True)
class Piece:
    """Calipers, shape, flats, losses and skin. Figures are kept as text, so that a plan keeps what was typed."""

    shape: str
    length_mm: str
    width_mm: str
    height_mm: str
    weight_ct: str
    specific_gravity: str
    skin_mm: str = "0"
    sides: int = 6
    flats: tuple[Flat, ...] = ()

    def facts(self) -> dict[str, Any]:
        """For the plan's own record."""
        return asdict(self)

    @classmethod
    def from_facts(cls, facts: Mapping[str, Any]) -> Piece:
        """Back from the record."""
        return cls(**{**facts, "flats": tuple(Flat(**flat) for flat in facts.get("flats", ()))})

    @property
    def words(self) -> str:
        """How it is told in one line."""
        size = f"{self.length_mm} × {self.width_mm} × {self.height_mm} mm"
        return ", ".join(
            [f"{SHAPES[self.shape]}, {size}, {self.weight_ct} ct", *(flat.words for flat in self.flats)]
        )

    @property
    def uneven_crystal(self) -> bool:
        """A crystal whose width and height differ: it is taken as wide all round as its lesser one."""
        wide, high = Decimal(self.width_mm), Decimal(self.height_mm)
        return self.shape in ("bipyramid", "prism") and max(wide, high) > min(wide, high) * Decimal("1.05")

    def rough(self) -> Rough:
        """Made ready for fitting.

        Raises ``DoesNotAddUp`` for a weight no such piece can have, ``EmptySolid`` when nothing is left,
        ``OutOfRange`` for measures out of bounds.
        """
        from workshop.handbook import recovery

        length, width, height = (float(side) for side in (self.length_mm, self.width_mm, self.height_mm))
        across = min(width, height)
        shape = {
            "block": lambda: recovery.block(length, width, height),
            "pebble": lambda: recovery.pebble(length, width, height),
            "bipyramid": lambda: recovery.bipyramid(length, across, sides=self.sides),
            "prism": lambda: recovery.prism(length, across, sides=self.sides),
        }[self.shape]()
        return recovery.measured(
            shape,
            float(self.specific_gravity),
            weight_ct=float(self.weight_ct),
            flats=[flat.side() for flat in self.flats if flat.kind == "flat"],
            losses=[flat.side() for flat in self.flats if flat.kind != "flat"],
            skin_mm=float(self.skin_mm),
        )

    def turns(self) -> np.ndarray[Any, Any]:
        """The ways a stone may lie that are tried: along the calipers, and along every flat and loss."""
        from workshop.handbook import recovery

        return recovery.usual_turns([flat.side() for flat in self.flats])


def lay_of(fit: Fit) -> dict[str, Any]:
    """How a stone lies in its piece, for the plan's record."""
    return {"rotation": fit.rotation.tolist(), "position": fit.position_mm.tolist()}


def rough_around(rough: Rough, lay: Mapping[str, Any]) -> Solid:
    """The piece as a solid, turned so that the stone in it stands face up with its middle where the cut has it."""
    from workshop.handbook.recovery.programs import spread
    from workshop.handbook.solids import plane_from, solid_from_planes

    turn, shift = np.array(lay["rotation"]), np.array(lay["position"])
    normals, offsets = rough.normals, rough.offsets
    if rough.semi_axes_mm is not None:
        axes = np.array(rough.semi_axes_mm)
        ways = spread(PEBBLE_PLANES)
        normals, offsets = (
            np.vstack([normals, ways]),
            np.concatenate([offsets, np.linalg.norm(ways * axes, axis=1)]),
        )
    turned = normals @ turn
    reach = offsets - normals @ shift
    facets = zip(turned, reach, strict=True)
    return solid_from_planes([plane_from(normal, float(offset), "rough") for normal, offset in facets])
