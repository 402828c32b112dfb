"""The search: the largest stone of a cut in a piece of rough, orientation by orientation."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import permutations, product

import numpy as np
from numpy.typing import ArrayLike, NDArray

from workshop.handbook.errors import EmptySolid, OutOfRange
from workshop.handbook.recovery.programs import largest_in_pebble, largest_in_planes
from workshop.handbook.recovery.rough import CARAT_MM3, Direction, Rough, Side
from workshop.handbook.solids import Solid

Floats = NDArray[np.float64]
Found = tuple[Floats, float, float, Floats, float]
"""Turn (3, 3), stretch, scale, position (3,), greatest scale possible so turned."""

TOUCHES_WITHIN = 1e-6
"""Part of the piece's size within which a plane counts as touched."""
NEAREST_CORNERS = 24
"""Corners nearest a pebble's surface that are handed on as guesses of where the next stone touches."""
SCATTER = 400
"""Random orientations tried when the best one is to be refined."""


@dataclass(frozen=True, eq=False)
class Cut:
    """A cut of any size by its corners (V, 3) and volume; ``name`` is what the table of options calls it."""

    name: str
    corners: Floats
    volume_mm3: float

    @property
    def extent(self) -> Floats:
        """Width, length and depth."""
        spread: Floats = np.ptp(self.corners, axis=0)
        return spread


@dataclass(frozen=True, eq=False)
class Fit:
    """The largest stone found: sizes in mm, weight in carats, and where it lies.

    ``recovery`` is weight over the weight of the piece. ``touches`` names the planes of the piece that stop
    it from being larger. ``stretch`` is how many times longer than drawn the cut became. ``could_gain``
    bounds how much larger (share of the scale) it could be in this very orientation: rounding, or the last
    tangent planes of a pebble.
    """

    name: str
    width_mm: float
    length_mm: float
    depth_mm: float
    volume_mm3: float
    weight_ct: float
    recovery: float
    scale: float
    stretch: float
    rotation: Floats
    position_mm: Floats
    touches: tuple[str, ...]
    could_gain: float

    def place(self, corners: ArrayLike) -> Floats:
        """Corners of the cut as it was given (n, 3), laid where the stone lies in the piece, mm."""
        drawn = np.asarray(corners, dtype=np.float64) * np.array([1.0, self.stretch, 1.0])
        placed: Floats = self.scale * drawn @ self.rotation.T + self.position_mm
        return placed


def cut_of(name: str, solid: Solid) -> Cut:
    """A cut from a solid of any size."""
    return Cut(name, solid.vertices, solid.volume)


def box_turns() -> Floats:
    """The 24 rotations (24, 3, 3) that lay the axes of a cut along the axes of a piece."""
    turns = []
    for order, signs in product(permutations(range(3)), product((1.0, -1.0), repeat=3)):
        turn = np.zeros((3, 3))
        turn[range(3), order] = signs
        if np.linalg.det(turn) > 0:
            turns.append(turn)
    return np.array(turns)


def table_turns(towards: Direction, *, steps: int = 24) -> Floats:
    """Rotations (steps, 3, 3) that point the table ``towards`` a direction, ``steps`` turns about it."""
    up = Side(towards, 0.0, "The table").normal
    aside = np.cross(up, np.eye(3)[int(np.abs(up).argmin())])
    aside /= np.linalg.norm(aside)
    other = np.cross(up, aside)
    spins = 2 * math.pi * np.arange(steps) / steps
    x = np.cos(spins)[:, None] * aside + np.sin(spins)[:, None] * other
    turns: Floats = np.stack([x, np.cross(up, x), np.broadcast_to(up, x.shape)], axis=2)
    return turns


def usual_turns(flats_and_losses: Iterable[Side] = ()) -> Floats:
    """The 24 turns of a box and, for each flat or loss, 24 with the table along it and 24 turned away from
    it.
    """
    extra = []
    for side in flats_and_losses:
        x, y, z = side.towards
        extra += [table_turns((x, y, z)), table_turns((-x, -y, -z))]
    return np.concatenate([box_turns(), *extra])


def best_fit(
    rough: Rough,
    cut: Cut,
    *,
    turns: Floats | None = None,
    longer: tuple[float, float] = (1.0, 1.0),
    refine: bool = False,
) -> Fit:
    """The largest stone of one cut over the orientations ``turns`` (k, 3, 3), by default ``box_turns()``.

    ``longer``: least and greatest factor by which the cut may be stretched along its length (free L : W); a
    stretch keeps every meet and lowers the angles at the ends. ``refine``: also turn the best orientation by
    small random turns that shrink, always the same ones, and keep what is larger.
    """
    _check_cut(cut, longer)
    turns = box_turns() if turns is None else turns
    tried = _tried(rough, cut, turns, longer)
    if refine:
        tried = _refined(rough, cut, tried, longer)
    return _fit(rough, cut, tried)


def options(
    rough: Rough,
    cuts: Iterable[Cut],
    *,
    turns: Floats | None = None,
    longer: tuple[float, float] = (1.0, 1.0),
    refine: bool = False,
) -> tuple[Fit, ...]:
    """``best_fit`` of each cut, heaviest first."""
    fits = [best_fit(rough, cut, turns=turns, longer=longer, refine=refine) for cut in cuts]
    return tuple(sorted(fits, key=lambda fit: -fit.weight_ct))


def _tried(rough: Rough, cut: Cut, turns: Floats, longer: tuple[float, float]) -> Found:
    """Best of these orientations: turn, stretch, scale, position, share it could still gain.

    Weight over stretch rises to one peak and falls again (the fitting lengths and widths form a convex set,
    and length x width^2 is quasi-concave on it), so a grid that closes in on its best point finds it.
    """
    if longer[0] == longer[1]:
        return _best_of(rough, cut, turns, np.full(len(turns), longer[0]))
    low, high = longer
    steps = np.geomspace(low, high, 9)
    best = _best_of(rough, cut, np.tile(turns, (9, 1, 1)), np.repeat(steps, len(turns)))
    for _ in range(4):
        ratio = steps[1] / steps[0]
        steps = np.geomspace(max(low, best[1] / ratio), min(high, best[1] * ratio), 9)
        closer = _best_of(rough, cut, np.tile(best[0], (9, 1, 1)), steps)
        best = max(best, closer, key=_heaviness)
    return best


def _heaviness(found: Found) -> float:
    _, stretch, scale, _, _ = found
    return stretch * scale**3


def _best_of(rough: Rough, cut: Cut, turns: Floats, stretches: Floats, *, near: Found | None = None) -> Found:
    return _best_few(rough, cut, turns, stretches, few=1, near=near)[0]


def _best_few(
    rough: Rough, cut: Cut, turns: Floats, stretches: Floats, *, few: int, near: Found | None = None
) -> list[Found]:
    """The heaviest few of these orientations and stretches, heaviest first.

    ``near``: what has been found nearby; what cannot become heavier than that need not be worked out.
    """
    middle = cut.corners.mean(axis=0)
    scales, positions, most = _largest(rough, cut, middle, turns, stretches, near)
    order = np.argsort(-stretches * np.maximum(scales, 0) ** 3, kind="stable")[:few]
    if scales[order[0]] <= 0 and near is None:
        raise EmptySolid("The losses and the skin leave nothing of the piece.")
    found = []
    for k in order:
        turn, stretch, scale = turns[k], float(stretches[k]), float(scales[k])
        shift: Floats = positions[k] - scale * turn @ (middle * np.array([1.0, stretch, 1.0]))
        found.append((turn, stretch, scale, shift, float(most[k])))
    return found


def _refined(
    rough: Rough,
    cut: Cut,
    best: Found,
    longer: tuple[float, float],
    *,
    rounds: int = 24,
    at_once: int = 32,
) -> Found:
    """Random orientations all over, then small turns of the best few, smaller each time none of them helps."""
    chance = np.random.default_rng(20261125)
    anywhere = _quaternions(chance.normal(size=(SCATTER, 4)))
    starts = [best, *_best_few(rough, cut, anywhere, np.full(SCATTER, best[1]), few=3)]
    for start in starts:
        found, reach = start, math.radians(15)
        for _ in range(rounds):
            nudges = _rotations(chance.normal(size=(at_once, 3)) * reach)
            closer = _best_of(rough, cut, nudges @ found[0], np.full(at_once, found[1]), near=found)
            if _heaviness(closer) > _heaviness(found):
                found = closer
            else:
                reach *= 0.7
        best = max(best, found, key=_heaviness)
    return max(best, _tried(rough, cut, best[0][None], longer), key=_heaviness)


def _rotations(vectors: Floats) -> Floats:
    """Rotation matrices (k, 3, 3) about each vector by its length in radians (Rodrigues)."""
    angle = np.linalg.norm(vectors, axis=1)
    x, y, z = (vectors / np.maximum(angle, 1e-300)[:, None]).T
    zero = np.zeros_like(x)
    cross = np.stack([zero, -z, y, z, zero, -x, -y, x, zero], axis=1).reshape(-1, 3, 3)
    sine, rest = np.sin(angle)[:, None, None], (1 - np.cos(angle))[:, None, None]
    turns: Floats = np.eye(3) + sine * cross + rest * cross @ cross
    return turns


def _quaternions(numbers: Floats) -> Floats:
    """Rotation matrices (k, 3, 3) of quaternions (k, 4) of any length; normal numbers give even rotations."""
    w, x, y, z = (numbers / np.linalg.norm(numbers, axis=1, keepdims=True)).T
    rows = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
    turns: Floats = np.moveaxis(np.array(rows), 2, 0)
    return turns


def _largest(
    rough: Rough, cut: Cut, middle: Floats, turns: Floats, stretches: Floats, near: Found | None
) -> tuple[Floats, Floats, Floats]:
    """Largest scale (k,), place of the middle (k, 3) and greatest scale possible (k,) for each turn and
    stretch.
    """
    along = np.column_stack([np.ones_like(stretches), stretches, np.ones_like(stretches)])
    laid = np.einsum("kij,vj->kvi", turns * along[:, None, :], cut.corners - middle)
    normals = np.broadcast_to(rough.normals, (len(turns), *rough.normals.shape))
    offsets = np.broadcast_to(rough.offsets, (len(turns), len(rough.offsets)))
    if rough.semi_axes_mm is None:
        return largest_in_planes(normals, offsets, laid)
    axes, worth = np.array(rough.semi_axes_mm), np.cbrt(stretches)
    if near is None:
        return largest_in_pebble(axes, normals, offsets, laid, worth)
    outward = _placed(cut, near) / axes
    outward = outward[np.argsort(-np.linalg.norm(outward, axis=1))[:NEAREST_CORNERS]]
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    to_beat = float(np.cbrt(_heaviness(near)))
    return largest_in_pebble(axes, normals, offsets, laid, worth, to_beat=to_beat, touching=outward)


def _placed(cut: Cut, found: Found) -> Floats:
    turn, stretch, scale, shift, _ = found
    placed: Floats = scale * (cut.corners * np.array([1.0, stretch, 1.0])) @ turn.T + shift
    return placed


def _fit(rough: Rough, cut: Cut, found: Found) -> Fit:
    turn, stretch, scale, position, most = found
    width, length, depth = (float(side) for side in cut.extent * scale * np.array([1.0, stretch, 1.0]))
    volume = cut.volume_mm3 * stretch * scale**3
    weight = volume * rough.specific_gravity / CARAT_MM3
    return Fit(
        name=cut.name,
        width_mm=width,
        length_mm=length,
        depth_mm=depth,
        volume_mm3=volume,
        weight_ct=weight,
        recovery=weight / rough.weight_ct,
        scale=scale,
        stretch=stretch,
        rotation=turn,
        position_mm=position,
        touches=_touched(rough, _placed(cut, found)),
        could_gain=max(most / scale - 1, 0.0),
    )


def _touched(rough: Rough, corners: Floats) -> tuple[str, ...]:
    near = TOUCHES_WITHIN * rough.size_mm
    room = rough.offsets - (corners @ rough.normals.T).max(axis=0) if len(rough.offsets) else np.zeros(0)
    touched = [label for label, left in zip(rough.labels, room, strict=True) if left < near]
    if rough.semi_axes_mm is not None:
        reach = float(np.linalg.norm(corners / np.array(rough.semi_axes_mm), axis=1).max())
        touched += ["pebble surface"] if reach > 1 - TOUCHES_WITHIN else []
    return tuple(touched)


def _check_cut(cut: Cut, longer: tuple[float, float]) -> None:
    if not (cut.volume_mm3 > 0 and len(cut.corners) >= 4):
        raise OutOfRange(f"{cut.name} has no volume.")
    if not 0.1 <= longer[0] <= longer[1] <= 10:
        raise OutOfRange("A cut may be stretched 0.1 to 10 times, the least first.", longer=longer)
