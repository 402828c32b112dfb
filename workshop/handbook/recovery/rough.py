"""The piece of rough: what its measures, its flats, its losses and its weight leave to cut from.

The piece is a convex body in millimetres: a block, a pebble (ellipsoid), a bipyramid, a prism, or what
calipers give in several directions, cut down by flats it really has, by losses (a fracture, a dead zone) and
by a skin. The scale has the last word on its size: the shape is drawn in until its volume x SG meets the
weight.

Frame of the piece: x along its width, y along its length, z along its height; origin in the middle.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from workshop.handbook.errors import DoesNotAddUp, EmptySolid, OutOfRange
from workshop.handbook.recovery.programs import spread
from workshop.handbook.solids import Solid, plane_from, solid_from_planes

Floats = NDArray[np.float64]
Direction = tuple[float, float, float]

SIDES: dict[str, Direction] = {
    "right": (1.0, 0.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
    "far end": (0.0, 1.0, 0.0),
    "near end": (0.0, -1.0, 0.0),
    "top": (0.0, 0.0, 1.0),
    "bottom": (0.0, 0.0, -1.0),
}
"""Names for the six sides of a piece as it lies, length away from the viewer."""

CARAT_MM3 = 200.0
"""Volume in mm3 of one carat at SG 1: 0.2 g, exact."""
OVERWEIGHT = 1.03
"""A piece may weigh 3 % more than its measures hold before it is refused: calipers read to about 0.1 mm on
rough
(our own choice, no source).
"""
LIGHTEST_SHARE = 0.1
"""Under a tenth of what its measures hold, a weight or a measure is taken for a slip of the pen."""
THIN_SHARE = 0.5
GREATEST_MM = 2000.0
DRAWN_WITH = 240
"""Tangent planes that draw a pebble: its corners stand out by 2 % at most."""


@dataclass(frozen=True)
class Side:
    """A plane of the piece: ``towards`` points out of it, ``distance_mm`` from the middle (negative: beyond
    it).
    """

    towards: Direction
    distance_mm: float
    label: str

    def __post_init__(self) -> None:
        size = math.hypot(*self.towards)
        if not (math.isfinite(size) and size > 0 and math.isfinite(self.distance_mm)):
            raise OutOfRange(f"{self.label or 'A plane'} needs a direction and a distance that are numbers.")

    @property
    def normal(self) -> Floats:
        towards = np.array(self.towards, dtype=np.float64)
        unit: Floats = towards / np.linalg.norm(towards)
        return unit


@dataclass(frozen=True)
class Shape:
    """What a piece is taken for before weight, flats and losses: planes (F), or the semi-axes of a pebble.

    ``box_mm3`` is the most a piece of these measures can hold.
    """

    kind: str
    sides: tuple[Side, ...]
    semi_axes_mm: Direction | None
    box_mm3: float


@dataclass(frozen=True)
class Rough:
    """A piece made ready: every plane a stone must stay inside, and how weight and measures agree.

    ``normals`` (m, 3), ``offsets`` (m,) mm, ``labels`` (m); ``semi_axes_mm`` of the pebble left after weight
    and skin, or None. ``volume_mm3``: the whole piece on the scale. ``drawn_in``: factor on every measure of
    the shape so that volume x SG meets the weight; 1 if no weight was given.
    """

    normals: Floats
    offsets: Floats
    labels: tuple[str, ...]
    semi_axes_mm: Direction | None
    volume_mm3: float
    specific_gravity: float
    drawn_in: float
    warnings: tuple[str, ...]

    @property
    def weight_ct(self) -> float:
        return self.volume_mm3 * self.specific_gravity / CARAT_MM3

    def corners(self) -> Floats:
        """Corner points (V, 3), mm, of what is left to cut from, for drawing it; a pebble by ``DRAWN_WITH``
        tangents.
        """
        sides = [
            Side((float(x), float(y), float(z)), float(offset), label)
            for (x, y, z), offset, label in zip(self.normals, self.offsets, self.labels, strict=True)
        ]
        if self.semi_axes_mm is not None:
            touching = spread(DRAWN_WITH) / np.array(self.semi_axes_mm)
            reach = 1 / np.linalg.norm(touching, axis=1)
            sides += [
                Side((float(x), float(y), float(z)), float(r), "")
                for (x, y, z), r in zip(touching, reach, strict=True)
            ]
        return _solid(sides).vertices

    @property
    def size_mm(self) -> float:
        return float(np.abs(self.offsets).max(initial=0.0)) or max(self.semi_axes_mm or (1.0,))


def block(length_mm: float, width_mm: float, height_mm: float) -> Shape:
    """A sawn or well-shaped block, by its three calipers."""
    _check_measures(length_mm, width_mm, height_mm)
    half = {"right": width_mm, "left": width_mm, "far end": length_mm, "near end": length_mm}
    sides = tuple(Side(way, half.get(name, height_mm) / 2, name) for name, way in SIDES.items())
    return Shape("block", sides, None, length_mm * width_mm * height_mm)


def pebble(length_mm: float, width_mm: float, height_mm: float) -> Shape:
    """A waterworn piece, taken for an ellipsoid of these three calipers."""
    _check_measures(length_mm, width_mm, height_mm)
    axes = (width_mm / 2, length_mm / 2, height_mm / 2)
    return Shape("pebble", (), axes, length_mm * width_mm * height_mm)


def bipyramid(length_mm: float, width_mm: float, *, sides: int = 4) -> Shape:
    """A doubly pointed crystal, point to point along its length; ``width_mm`` flat to flat across the middle.

    ``sides``: 3 to 12 (4: spinel octahedron, zircon; 6: sapphire). For odd counts the width is flat to point.
    A regular octahedron is sqrt 2 times as long as it is wide.
    """
    _check_measures(length_mm, width_mm)
    inner = _inner_radius(width_mm, sides)
    half = length_mm / 2
    planes = []
    for k, (x, z) in enumerate(_ring(sides), start=1):
        for end, name in ((1.0, "far"), (-1.0, "near")):
            way = (x * half, end * inner, z * half)
            planes.append(Side(way, inner * half / math.hypot(half, inner), f"{name} face {k}"))
    return Shape("bipyramid", tuple(planes), None, length_mm * _box_across(width_mm, sides))


def prism(length_mm: float, width_mm: float, *, sides: int = 6) -> Shape:
    """A straight crystal (beryl, tourmaline, quartz without its points); ``width_mm`` flat to flat.

    ``sides``: 3 to 12; for odd counts the width is flat to point.
    """
    _check_measures(length_mm, width_mm)
    inner = _inner_radius(width_mm, sides)
    walls = [Side((x, 0.0, z), inner, f"face {k}") for k, (x, z) in enumerate(_ring(sides), start=1)]
    ends = [Side(SIDES[name], length_mm / 2, name) for name in ("far end", "near end")]
    return Shape("prism", (*walls, *ends), None, length_mm * _box_across(width_mm, sides))


def calipers(readings: Sequence[tuple[Direction, float]]) -> Shape:
    """A piece known only by caliper readings: pairs of a direction and the width across it, mm.

    At least three directions that do not lie in one plane. Each reading puts a plane on either side of the
    middle, which takes the piece to be as thick to the one side as to the other.
    """
    for _, across in readings:
        _check_measures(across)
    planes = []
    for k, (way, across) in enumerate(readings, start=1):
        for sign in (1.0, -1.0):
            turned = (way[0] * sign, way[1] * sign, way[2] * sign)
            planes.append(Side(turned, across / 2, f"reading {k}{'' if sign > 0 else ', other side'}"))
    return Shape("calipers", tuple(planes), None, _solid(planes).volume)


def measured(
    shape: Shape,
    specific_gravity: float,
    *,
    weight_ct: float | None = None,
    flats: Sequence[Side] = (),
    losses: Sequence[Side] = (),
    skin_mm: float = 0.0,
) -> Rough:
    """Make a piece ready for fitting.

    ``flats`` are where the piece really ends, so they count in its weight; each must leave the middle inside.
    ``losses`` are planes behind which nothing is used though the scale weighs it; they may pass the middle.
    ``skin_mm`` is taken off all round (on a pebble off each semi-axis: exact along the axes, in between less
    by a factor down to 2 sqrt(ab)/(a + b): 0.94 at 2 : 1, 0.87 at 3 : 1). With ``weight_ct`` the shape is
    drawn in toward its middle until volume x SG meets it.

    Raises ``DoesNotAddUp`` (``said['factor']``) when the piece weighs more than 3 % over the most these
    measures hold, or under a tenth of the shape; ``EmptySolid`` when losses and skin leave nothing;
    ``OutOfRange`` for SG outside 0.5-25 or a negative skin.
    """
    _check_material(specific_gravity, weight_ct, skin_mm)
    for flat in flats:
        if flat.distance_mm <= 0:
            raise OutOfRange(
                f"{flat.label}: a flat leaves the middle of the piece inside; else enter a loss."
            )
    whole = _volume(shape, flats, 1.0)
    drawn_in, warnings = 1.0, []
    if weight_ct is not None:
        wanted = weight_ct * CARAT_MM3 / specific_gravity
        warnings = _weight_warnings(shape, flats, whole, wanted)
        drawn_in = min(_drawn_in(shape, flats, wanted), 1.0)
        whole = wanted
    return _bounded(shape, specific_gravity, whole, drawn_in, tuple(warnings), flats, losses, skin_mm)


def _bounded(
    shape: Shape,
    specific_gravity: float,
    volume: float,
    drawn_in: float,
    warnings: tuple[str, ...],
    flats: Sequence[Side],
    losses: Sequence[Side],
    skin_mm: float,
) -> Rough:
    sides = [Side(side.towards, side.distance_mm * drawn_in - skin_mm, side.label) for side in shape.sides]
    sides += [Side(flat.towards, flat.distance_mm - skin_mm, flat.label) for flat in flats]
    sides += list(losses)
    axes = None
    if shape.semi_axes_mm is not None:
        x, y, z = (axis * drawn_in - skin_mm for axis in shape.semi_axes_mm)
        axes = (x, y, z)
        if min(axes) <= 0:
            raise EmptySolid("The skin is thicker than the piece: nothing is left.")
    else:
        _solid(sides)
    normals = np.array([side.normal for side in sides]).reshape(-1, 3)
    offsets = np.array([side.distance_mm for side in sides])
    labels = tuple(side.label for side in sides)
    return Rough(normals, offsets, labels, axes, volume, specific_gravity, drawn_in, warnings)


def _volume(shape: Shape, flats: Sequence[Side], factor: float) -> float:
    """Volume in mm3 of the shape drawn in by ``factor``, cut by the flats where they stand."""
    if shape.semi_axes_mm is None:
        sides = [Side(side.towards, side.distance_mm * factor, side.label) for side in shape.sides]
        return _solid([*sides, *flats]).volume
    axes = np.array(shape.semi_axes_mm) * factor
    whole = 4 / 3 * math.pi * float(axes.prod())
    return whole * _share_of_ball(axes, flats) if flats else whole


def _share_of_ball(axes: Floats, flats: Sequence[Side], *, rays: int = 20_000) -> float:
    """Part of an ellipsoid that flats leave, by rays from its middle, evenly spread; good to about one in
    10,000.
    """
    rays_out = spread(rays)
    reach = np.ones(rays)
    for flat in flats:
        speed = rays_out @ (flat.normal * axes)
        reach = np.minimum(reach, np.where(speed > 0, flat.distance_mm / np.maximum(speed, 1e-300), np.inf))
    return float(np.mean(reach**3))


def _drawn_in(shape: Shape, flats: Sequence[Side], wanted: float) -> float:
    """Factor on the shape at which shape and flats hold ``wanted`` mm3."""
    if not flats:
        return float(np.cbrt(wanted / _volume(shape, flats, 1.0)))
    low, high = float(np.cbrt(wanted / _volume(shape, (), 1.0))), 1.0
    if low >= high:
        return 1.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if _volume(shape, flats, middle) < wanted else (low, middle)
    return high


def _weight_warnings(shape: Shape, flats: Sequence[Side], whole: float, wanted: float) -> list[str]:
    """What to say of a weight that the shape does not hold; raises when no piece of these measures can have
    it.
    """
    most = shape.box_mm3 if shape.semi_axes_mm or shape.kind in ("bipyramid", "prism") else whole
    if wanted > most * OVERWEIGHT:
        factor = wanted / most
        raise DoesNotAddUp(
            f"A piece of these measures cannot weigh so much: the weight is {factor:.2f} times what they hold."
            " Check the weight, the measures and the species.",
            factor=factor,
        )
    share = wanted / whole
    if share < LIGHTEST_SHARE:
        raise DoesNotAddUp(
            f"The weight is {share:.3f} of what a {shape.kind} of these measures weighs; check both for a slip.",
            factor=share,
        )
    if share > OVERWEIGHT:
        return [
            f"The piece weighs {share:.2f} times a {shape.kind} of these measures: it is fuller than that shape."
            " The plan stays inside the shape, so the piece may hold more."
        ]
    if share < THIN_SHARE:
        return [
            f"The piece weighs only {share:.2f} of a {shape.kind} of these measures: it is hollower than that shape."
            " Another shape or more flats would fit it better."
        ]
    return []


def _solid(sides: Sequence[Side]) -> Solid:
    return solid_from_planes([plane_from(side.normal, side.distance_mm, side.label) for side in sides])


def _ring(sides: int) -> list[tuple[float, float]]:
    """Unit directions (x, z) of the faces round a crystal; one faces up."""
    angles = [2 * math.pi * k / sides for k in range(sides)]
    return [(math.sin(angle), math.cos(angle)) for angle in angles]


def _inner_radius(width_mm: float, sides: int) -> float:
    if not 3 <= sides <= 12:
        raise OutOfRange(f"A crystal here has 3 to 12 sides, not {sides}.", sides=sides)
    return width_mm / 2 if sides % 2 == 0 else width_mm / (1 + 1 / math.cos(math.pi / sides))


def _box_across(width_mm: float, sides: int) -> float:
    """Area of the rectangle round a regular polygon, one side of it up: the most a piece of that width fills."""
    corner = _inner_radius(width_mm, sides) / math.cos(math.pi / sides)
    ring = [math.sin(2 * math.pi * (k + 0.5) / sides) for k in range(sides)]
    return width_mm * corner * (max(ring) - min(ring))


def _check_measures(*millimetres: float) -> None:
    for measure in millimetres:
        if not 0 < measure <= GREATEST_MM:
            raise OutOfRange(f"A piece measures more than 0 and at most {GREATEST_MM:g} mm, not {measure:g}.")


def _check_material(specific_gravity: float, weight_ct: float | None, skin_mm: float) -> None:
    if not 0.5 <= specific_gravity <= 25:
        raise OutOfRange(f"An SG of {specific_gravity:g} is not one of a gem; give 0.5 to 25.")
    if weight_ct is not None and not 0 < weight_ct < math.inf:
        raise OutOfRange("The piece must weigh more than zero.")
    if not 0 <= skin_mm < math.inf:
        raise OutOfRange("The skin cannot be thinner than zero.")
