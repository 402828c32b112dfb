"""Light in a convex stone: a ray trace that says how much comes back, how much leaks, and how the stone looks
face-up.

The trace runs backward, from the eye: parallel rays, one a picture point, enter the stone, and wherever some
of a ray gets out again is where the light for that point would have come from. In a convex solid what is let
out never comes back in, so each ray keeps one path and no branch is left out. At each hit Fresnel's law for
unpolarised light shares the ray (Snell and Fresnel: any textbook of optics). Left out: polarisation from one
hit to the next, double refraction, dispersion, inclusions, dirt and scratched polish.

Where the light of one picture point goes, as shares that add up to 1:

- returned: leaves through the crown (a facet facing up) to the upper side of the girdle plane, outside the
cone of the
  viewer's head: there is light there, the point is bright.
- dark: leaves through the crown into that cone: the viewer sees the shadow of his own head. The cone of 10
degrees to
  each side follows B. Harding, Faceting Limits, Gems & Gemology 1975
  <http://www.cutstudy.com/cut/english/faceting/f8.htm>.
- leaked: leaves through pavilion or girdle, or heads below the girdle plane: nothing shines from there; the
stone is
  seen through. ``window`` is the part of it that leaves at the first facet inside.
- glare: thrown back by the outer surface without going in.
- absorbed: taken by the body colour, if an absorption is given.
- unresolved: still inside after the last bounce, or too faint to follow on. Reported, never hidden.

The lighting is even over the whole upper side, so ``returned`` is a plain share and no grade of any
laboratory.

Planes are half-spaces: ``normals`` (F, 3) pointing outward, ``offsets`` (F,) in mm, inside where n.x <=
offset. The table faces +z, as in ``solids``; a ``Solid`` gives both arrays. Angles are degrees.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from workshop.handbook.errors import OutOfRange
from workshop.handbook.optics import VIEWER_HEAD_DEG, checked_index, reflected_share
from workshop.handbook.solids import plane_from, solid_from_planes

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Flags = NDArray[np.bool_]

MOST_GRID = 2000
MOST_TILT_DEG = 89.0
FAINTEST_SHARE = 1e-4
"""A ray weaker than this goes to ``unresolved``; at most this much of any picture point is given up so."""
TABLE_FLATNESS_DEG = 0.01
ZONES = ("outside", "returned", "dark", "window", "leaked")
"""What a point of ``LightResult.zones`` is, by its number."""
_PRODUCTS_ON_ONE_CORE = 200_000
"""OpenBLAS starts a second thread at 262,144 multiplications (its default threshold; measured here)."""
_RAYS_AT_ONCE = 4096
"""Few enough that the gaps from rays to facets stay near the processor, many enough to keep it busy."""


@dataclass(frozen=True)
class LightResult:
    """Shares of all light over the face of the stone, 0 to 1, and the picture they are the mean of.

    The maps are (grid, grid), row 0 at the top, column 0 at the left; 0 outside the stone. ``inside`` marks
    the points on the stone. ``width_mm`` is the side of the square picture.
    """

    returned: float
    leaked: float
    window: float
    dark: float
    glare: float
    absorbed: float
    unresolved: float
    tilt_deg: float
    width_mm: float
    inside: Flags
    returned_map: Floats
    leaked_map: Floats
    window_map: Floats
    dark_map: Floats

    @property
    def total(self) -> float:
        """Sum of the shares: 1, or energy was lost on the way (``window`` is a part of ``leaked``)."""
        return self.returned + self.leaked + self.dark + self.glare + self.absorbed + self.unresolved

    @property
    def face_up(self) -> NDArray[np.uint8]:
        """The picture as grey levels (grid, grid): 255 where all light comes back, 0 where none does or off
        the stone.
        """
        return np.rint(np.clip(self.returned_map, 0, 1) * 255).astype(np.uint8)

    @property
    def zones(self) -> NDArray[np.uint8]:
        """What each point mostly does, (grid, grid), as numbers of ``ZONES``; for a picture told by more than
        colour.
        """
        further = self.leaked_map - self.window_map
        most = np.argmax([self.returned_map, self.dark_map, self.window_map, further], axis=0) + 1
        return np.where(self.inside, most, 0).astype(np.uint8)


@dataclass(frozen=True)
class _Stone:
    normals: Floats
    offsets: Floats
    corners: Floats
    index: float
    size: float
    slopes: Counts
    sides: Counts
    middle: Floats
    clear_radius: float


@dataclass
class _Rays:
    """Rays on their way inside: where, whither, how much is left, and the picture point each belongs to."""

    at: Floats
    along: Floats
    left: Floats
    point: Counts

    def keep(self, which: Flags | Counts) -> _Rays:
        return _Rays(self.at[which], self.along[which], self.left[which], self.point[which])


def trace(
    normals: ArrayLike,
    offsets: ArrayLike,
    refractive_index: float,
    *,
    grid: int = 200,
    tilt_deg: float = 0.0,
    tilt_azimuth_deg: float = 0.0,
    head_half_angle_deg: float = VIEWER_HEAD_DEG,
    max_bounces: int = 30,
    absorption_per_mm: float = 0.0,
) -> LightResult:
    """Look at a stone and say where its light comes from; shares and definitions at the head of this chapter.

    ``grid``: picture points on a side, 2 to 2000. ``tilt_deg``: 0 face-up to 89, the eye leaning over toward
    azimuth ``tilt_azimuth_deg`` (clockwise from +y, as facets count theirs). ``head_half_angle_deg``: 0 to
    90. ``max_bounces``: hits followed inside, 1 or more. ``absorption_per_mm``: natural-log absorption a of
    Beer-Lambert's exp(-a x length).

    Raises ``OutOfRange`` for values outside these, ``OpenSolid`` or ``EmptySolid`` for planes that make no
    stone.
    """
    _check_view(grid, tilt_deg, head_half_angle_deg, max_bounces, absorption_per_mm)
    stone = _stone(normals, offsets, refractive_index)
    to_eye, right, up = _view(tilt_deg, tilt_azimuth_deg)
    starts, width = _picture_points(stone, to_eye, right, up, grid)
    tally = _Tally(grid * grid, to_eye, math.cos(math.radians(head_half_angle_deg)), absorption_per_mm)
    for first in range(0, grid * grid, _RAYS_AT_ONCE):
        some = np.arange(first, min(first + _RAYS_AT_ONCE, grid * grid))
        rays = _enter(stone, starts[some], some, to_eye, tally)
        _follow(stone, rays, tally, max_bounces)
    return tally.result(grid, tilt_deg, width)


def first_window_tilt_deg(
    normals: ArrayLike,
    offsets: ArrayLike,
    refractive_index: float,
    *,
    tilt_azimuth_deg: float = 0.0,
    grid: int = 48,
) -> float | None:
    """Smallest tilt at which a ray through the table leaks out of the pavilion at its first or second hit, by
    bisection.

    The eye leans over toward ``tilt_azimuth_deg``; what leaks first is the facet opposite. ``grid`` x
    ``grid`` rays are spread over the table. 0.0 if the stone windows face-up, None if it does not up to 89
    degrees. A ray that meets the girdle is not counted: the closed form (``optics.window_tilt``) knows no
    girdle. Exact to 1e-6 degree for the rays traced. Raises as ``trace``, and ``OutOfRange`` when no facet
    lies flat on top.
    """
    stone = _stone(normals, offsets, refractive_index)
    points = _table_points(stone, grid)

    def leaks(tilt: float) -> bool:
        return _leaks_through_table(stone, points, tilt, tilt_azimuth_deg)

    if leaks(0.0):
        return 0.0
    low = 0.0
    for high in np.arange(1.0, MOST_TILT_DEG + 1):
        if leaks(high):
            return _bisect(leaks, low, float(high))
        low = float(high)
    return None


class _Tally:
    """What has left the stone so far, picture point by picture point."""

    def __init__(self, points: int, to_eye: Floats, head_cosine: float, absorption: float) -> None:
        self.to_eye, self.head_cosine, self.absorption = to_eye, head_cosine, absorption
        self.inside = np.zeros(points, dtype=np.bool_)
        self.returned, self.leaked, self.window, self.dark = (np.zeros(points) for _ in range(4))
        self.glare = self.absorbed = self.unresolved = 0.0

    def let_out(self, rays: _Rays, amount: Floats, heading: Floats, crown: Flags, first_hit: bool) -> None:
        """Book ``amount`` of each ray that leaves along ``heading`` (unit, in air) through crown or
        pavilion.
        """
        back = crown & (heading[:, 2] > 0)
        head = back & (heading @ self.to_eye >= self.head_cosine)
        self.returned[rays.point] += np.where(back & ~head, amount, 0)
        self.dark[rays.point] += np.where(head, amount, 0)
        leaked = np.where(back, 0, amount)
        self.leaked[rays.point] += leaked
        if first_hit:
            self.window[rays.point] += leaked

    def result(self, grid: int, tilt_deg: float, width_mm: float) -> LightResult:
        rays = int(self.inside.sum())
        if not rays:
            raise OutOfRange("No ray of the picture meets the stone; use a finer grid.", grid=grid)
        return LightResult(
            returned=float(self.returned.sum()) / rays,
            leaked=float(self.leaked.sum()) / rays,
            window=float(self.window.sum()) / rays,
            dark=float(self.dark.sum()) / rays,
            glare=self.glare / rays,
            absorbed=self.absorbed / rays,
            unresolved=self.unresolved / rays,
            tilt_deg=tilt_deg,
            width_mm=width_mm,
            inside=self.inside.reshape(grid, grid),
            returned_map=self.returned.reshape(grid, grid),
            leaked_map=self.leaked.reshape(grid, grid),
            window_map=self.window.reshape(grid, grid),
            dark_map=self.dark.reshape(grid, grid),
        )


def _enter(stone: _Stone, starts: Floats, points: Counts, to_eye: Floats, tally: _Tally) -> _Rays:
    """Drop the rays that miss, mirror some of each at the surface, bend the rest into the stone."""
    facing = stone.normals @ to_eye
    gap = stone.offsets - _on_one_core(starts, stone.normals.T)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = gap / -facing
    entry = np.where(facing > 0, reach, -np.inf)
    leave = np.where(facing < 0, reach, np.inf).min(axis=1)
    facet = entry.argmax(axis=1)
    depth = entry[np.arange(len(entry)), facet]
    beside = ((facing == 0) & (gap < 0)).any(axis=1)
    hit = (depth < leave) & ~beside
    facet, points = facet[hit], points[hit]
    normal, cosine = stone.normals[facet], facing[facet]
    mirrored = reflected_share(cosine, 1 / stone.index)
    tally.inside[points] = True
    tally.glare += float(mirrored.sum())
    ahead = _bent(-to_eye, -normal, cosine, 1 / stone.index)
    return _Rays(starts[hit] - depth[hit, None] * to_eye, ahead, 1 - mirrored, points)


def _follow(stone: _Stone, rays: _Rays, tally: _Tally, max_bounces: int) -> None:
    """Bounce the rays about until they are out, too faint, or out of bounces."""
    crown = stone.normals[:, 2] > 1e-9
    for bounce in range(max_bounces):
        if not rays.point.size:
            return
        facet, length, cosine = _next_hit(stone, rays)
        rays.at += length[:, None] * rays.along
        if tally.absorption:
            staying = np.exp(-tally.absorption * length)
            tally.absorbed += float((rays.left * (1 - staying)).sum())
            rays.left *= staying
        normal = stone.normals[facet]
        kept = reflected_share(cosine, stone.index)
        out = kept < 1
        heading = _bent(rays.along[out], normal[out], cosine[out], stone.index)
        amount = rays.left[out] * (1 - kept[out])
        tally.let_out(rays.keep(out), amount, heading, crown[facet[out]], first_hit=bounce == 0)
        rays.left *= kept
        rays.along -= 2 * cosine[:, None] * normal
        bright = rays.left > FAINTEST_SHARE
        tally.unresolved += float(rays.left[~bright].sum())
        rays = rays.keep(bright)
    tally.unresolved += float(rays.left.sum())


def _next_hit(stone: _Stone, rays: _Rays) -> tuple[Counts, Floats, Floats]:
    """Facet met next, way to it in mm, and cosine of incidence.

    A girdle may have a hundred sides and few rays ever meet them, so crown and pavilion are asked first, and
    the sides only for rays whose hit lies outside a circle that no side reaches.
    """
    facet, nearness = _nearest(stone, rays, stone.slopes)
    with np.errstate(divide="ignore", invalid="ignore"):
        landed = rays.at[:, :2] + rays.along[:, :2] / nearness[:, None] - stone.middle
        clear = (nearness > 0) & ((landed**2).sum(axis=1) < stone.clear_radius**2)
    wide = np.flatnonzero(~clear)
    if wide.size and stone.sides.size:
        side, nearer = _nearest(stone, rays.keep(wide), stone.sides)
        won = nearer > nearness[wide]
        facet[wide[won]], nearness[wide[won]] = side[won], nearer[won]
    return facet, 1 / nearness, np.einsum("ij,ij->i", rays.along, stone.normals[facet])


def _nearest(stone: _Stone, rays: _Rays, among: Counts) -> tuple[Counts, Floats]:
    """Facet met first of those ``among``, and one over the way to it.

    The nearest facet ahead is the one with the greatest speed of approach over remaining gap, which needs no
    case for facets behind the ray; the gap is kept above zero so that the facet just left counts as behind.
    """
    facing = stone.normals[among].T
    speed = _on_one_core(rays.along, facing)
    gap = stone.offsets[among] - _on_one_core(rays.at, facing)
    np.maximum(gap, stone.size * 1e-13, out=gap)
    np.divide(speed, gap, out=gap)
    best = gap.argmax(axis=1)
    return among[best], gap[np.arange(len(best)), best]


def _on_one_core(rows: Floats, columns: Floats) -> Floats:
    """``rows @ columns`` in slices that BLAS does not share out among cores.

    Waiting for a second core costs more than it brings here, and on a busy machine five times the whole
    trace.
    """
    product = np.empty((len(rows), columns.shape[1]))
    step = max(1, _PRODUCTS_ON_ONE_CORE // columns.size)
    for first in range(0, len(rows), step):
        np.matmul(rows[first : first + step], columns, out=product[first : first + step])
    return product


def _bent(along: Floats, normal: Floats, cosine: Floats, ratio: float) -> Floats:
    """Snell in vectors: ``normal`` points the way the ray goes, ``ratio`` is near index over far index."""
    far = np.sqrt(np.maximum(1 - ratio * ratio * (1 - cosine * cosine), 0.0))
    bent: Floats = ratio * along + (far - ratio * cosine)[:, None] * normal
    return bent


def _leaks_through_table(stone: _Stone, points: Floats, tilt_deg: float, azimuth_deg: float) -> bool:
    to_eye, _, _ = _view(tilt_deg, azimuth_deg)
    straight = np.array([[0.0, 0.0, -1.0]])
    ahead = _bent(-to_eye, straight, to_eye[2:], 1 / stone.index)
    count = len(points)
    rays = _Rays(points.copy(), np.repeat(ahead, count, axis=0), np.ones(count), np.arange(count))
    pavilion = stone.normals[:, 2] < -1e-9
    for _ in range(2):
        facet, length, cosine = _next_hit(stone, rays)
        below = pavilion[facet]
        if (below & (stone.index**2 * (1 - cosine * cosine) < 1)).any():
            return True
        rays.at += length[:, None] * rays.along
        rays.along -= 2 * cosine[:, None] * stone.normals[facet]
        rays = rays.keep(below)
    return False


def _bisect(leaks: Callable[[float], bool], low: float, high: float) -> float:
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (low, middle) if leaks(middle) else (middle, high)
    return high


def _table_points(stone: _Stone, grid: int) -> Floats:
    """Points spread over the table, each a little inside its edge."""
    top = int(stone.normals[:, 2].argmax())
    if stone.normals[top, 2] < math.cos(math.radians(TABLE_FLATNESS_DEG)):
        raise OutOfRange("The stone has no table: no facet lies flat on top.")
    height = stone.offsets[top] / stone.normals[top, 2]
    corners = stone.corners[stone.corners[:, 2] > height - stone.size * 1e-9]
    if len(corners) < 3:
        raise OutOfRange("The stone has no table: the flat plane on top cuts nothing off.")
    spans = [_between(corners[:, axis], grid) for axis in (0, 1)]
    x, y = (one.ravel() for one in np.meshgrid(*spans))
    points = np.column_stack([x, y, np.full(x.size, height)])
    others = np.delete(np.arange(len(stone.offsets)), top)
    within = (points @ stone.normals[others].T < stone.offsets[others]).all(axis=1)
    found: Floats = points[within]
    return found


def _between(values: Floats, count: int) -> Floats:
    low, high = float(values.min()), float(values.max())
    spread: Floats = low + (high - low) * (np.arange(count) + 0.5) / count
    return spread


def _view(tilt_deg: float, azimuth_deg: float) -> tuple[Floats, Floats, Floats]:
    """Unit vectors to the eye, to the right of the picture and up the picture: the upright view, turned
    over.
    """
    tilt, azimuth = math.radians(tilt_deg), math.radians(azimuth_deg)
    lean = np.array([math.sin(azimuth), math.cos(azimuth), 0.0])
    aside = np.array([math.cos(azimuth), -math.sin(azimuth), 0.0])
    to_eye = math.sin(tilt) * lean + math.cos(tilt) * np.array([0.0, 0.0, 1.0])
    tipped = math.cos(tilt) * lean - math.sin(tilt) * np.array([0.0, 0.0, 1.0])
    right = math.sin(azimuth) * tipped + math.cos(azimuth) * aside
    up = math.cos(azimuth) * tipped - math.sin(azimuth) * aside
    return to_eye, right, up


def _picture_points(
    stone: _Stone, to_eye: Floats, right: Floats, up: Floats, grid: int
) -> tuple[Floats, float]:
    """Start of each ray, (grid*grid, 3), row by row from the top left, on a square just round the stone."""
    across, upward = stone.corners @ right, stone.corners @ up
    side = max(float(np.ptp(across)), float(np.ptp(upward)))
    steps = (np.arange(grid) + 0.5) / grid - 0.5
    x = (across.min() + across.max()) / 2 + steps * side
    y = (upward.min() + upward.max()) / 2 - steps * side
    height = float((stone.corners @ to_eye).max()) + stone.size
    rows, columns = np.meshgrid(y, x, indexing="ij")
    starts: Floats = columns.reshape(-1, 1) * right + rows.reshape(-1, 1) * up + height * to_eye
    return starts, side


def _stone(normals: ArrayLike, offsets: ArrayLike, index: float) -> _Stone:
    checked_index(index)
    facing = np.asarray(normals, dtype=np.float64)
    far = np.asarray(offsets, dtype=np.float64)
    if facing.ndim != 2 or facing.shape[1] != 3 or far.shape != (len(facing),):
        raise OutOfRange("Give normals as (facets, 3) and one offset a facet.", normals=facing.shape)
    lengths = np.linalg.norm(facing, axis=1)
    if not (np.isfinite(far).all() and np.isfinite(lengths).all() and (lengths > 0).all()):
        raise OutOfRange("Every facet needs a direction and a distance that are numbers.")
    facing, far = facing / lengths[:, None], far / lengths
    corners = _corners(facing, far)
    upright = np.abs(facing[:, 2]) < 1e-9
    slopes, sides = np.flatnonzero(~upright), np.flatnonzero(upright)
    middle = (corners[:, :2].min(axis=0) + corners[:, :2].max(axis=0)) / 2
    clear = float((far[sides] - facing[sides, :2] @ middle).min(initial=np.inf))
    return _Stone(
        facing,
        far,
        corners,
        index,
        float(np.ptp(corners, axis=0).max()),
        slopes,
        sides,
        middle,
        max(clear, 0.0),
    )


def _corners(normals: Floats, offsets: Floats) -> Floats:
    """Corner points of the solid between the planes (V, 3)."""
    facets = zip(normals, offsets, strict=True)
    return solid_from_planes([plane_from(normal, float(offset), "") for normal, offset in facets]).vertices


def _check_view(
    grid: int, tilt_deg: float, head_half_angle_deg: float, max_bounces: int, absorption_per_mm: float
) -> None:
    if not 2 <= grid <= MOST_GRID:
        raise OutOfRange(f"The picture has 2 to {MOST_GRID} points on a side, not {grid}.", grid=grid)
    if not 0 <= tilt_deg <= MOST_TILT_DEG:
        raise OutOfRange(f"Tilt runs from 0° to {MOST_TILT_DEG:g}°, not {tilt_deg:g}°.", tilt_deg=tilt_deg)
    if not 0 <= head_half_angle_deg <= 90:
        raise OutOfRange(
            "The viewer's head fills a cone of 0° to 90° to each side.", given=head_half_angle_deg
        )
    if max_bounces < 1:
        raise OutOfRange("Follow at least one bounce.", max_bounces=max_bounces)
    if not 0 <= absorption_per_mm < math.inf:
        raise OutOfRange("Absorption cannot be less than zero.", absorption_per_mm=absorption_per_mm)
