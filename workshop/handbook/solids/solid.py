"""A convex stone from its facet planes: vertices, faces, volume, and everything a gauge reads on it.

Half-space intersection by Qhull (Barber, Dobkin and Huhdanpaa, ACM TOMS 22, 1996, as wrapped by SciPy); areas
by the shoelace rule, volume and centre of gravity by pyramids over the faces: exact up to rounding, about
1e-12 of the size.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from ..errors import EmptySolid, HandbookError, OpenSolid, OutOfRange
from ..outlines import Array
from .planes import Plane, plane_arrays

Ints = NDArray[np.int64]
SAME = 1e-9
"""Two corners closer than this part of the stone's size are one."""

_AXES = (
    (np.array([0.0, 0.0, 1.0]), "above (no table closes it)"),
    (np.array([0.0, 0.0, -1.0]), "below (no pavilion or culet closes it)"),
    (np.array([0.0, 1.0, 0.0]), "towards azimuth 0"),
    (np.array([1.0, 0.0, 0.0]), "towards azimuth 90"),
    (np.array([0.0, -1.0, 0.0]), "towards azimuth 180"),
    (np.array([-1.0, 0.0, 0.0]), "towards azimuth 270"),
)


@dataclass(frozen=True)
class Face:
    """One facet of a solid: its plane, its corners (k, 3) in mm, counter-clockwise seen from outside, area
    mm2.
    """

    plane: Plane
    corners: Array
    area: float
    normal: Array

    @property
    def label(self) -> str:
        """The name of the facet."""
        return self.plane.label


@dataclass(frozen=True, eq=False)
class Solid:
    """A closed convex stone, millimetres. Make one with ``solid_from_planes`` or ``make_cut``.

    ``planes``: F planes in the order given; ``normals`` (F, 3) and ``offsets`` (F,) the same as arrays,
    inside where normal . point <= offset. ``vertices``: (V, 3). ``loop``: indices into ``vertices``, one run
    for each plane, counter-clockwise seen from outside; the run of plane f is ``loop[starts[f]:starts[f +
    1]]``, empty when the plane only touches the stone or misses it. ``areas``: (F,), mm2. ``volume``: mm3.
    ``centroid``: (3,), mm.
    """

    planes: tuple[Plane, ...]
    normals: Array
    offsets: Array
    vertices: Array
    loop: Ints
    starts: Ints
    areas: Array
    volume: float
    centroid: Array

    @cached_property
    def faces(self) -> tuple[Face, ...]:
        """The facets that are there, in the order of the planes."""
        return tuple(
            Face(plane, self.vertices[self.loop_of(f)], float(self.areas[f]), self.normals[f])
            for f, plane in enumerate(self.planes)
            if self.starts[f + 1] > self.starts[f]
        )

    def loop_of(self, f: int) -> Ints:
        """Vertex indices around plane ``f``; empty when it has no face."""
        return self.loop[self.starts[f] : self.starts[f + 1]]

    def on_side(self, side: str) -> NDArray[np.bool_]:
        """Which planes belong to ``side`` and have a face, shape (F,)."""
        there = np.diff(self.starts) > 0
        return np.array([plane.side == side for plane in self.planes]) & there

    @cached_property
    def surface(self) -> float:
        """Area of all facets, mm2."""
        return float(self.areas.sum())

    @cached_property
    def _extent(self) -> Array:
        return np.asarray(np.ptp(self.vertices, axis=0), dtype=np.float64)

    @property
    def width(self) -> float:
        """Extent along x, mm."""
        return float(self._extent[0])

    @property
    def length(self) -> float:
        """Extent along y, mm."""
        return float(self._extent[1])

    @property
    def depth(self) -> float:
        """Extent along z, table to culet, mm."""
        return float(self._extent[2])

    @cached_property
    def plan(self) -> Array:
        """Outline seen face up: (n, 2) corners (x, y), clockwise from the top, mm."""
        return convex_outline(self.vertices[:, :2])

    @cached_property
    def side_outline(self) -> Array:
        """Outline seen across the width: (n, 2) corners (y, z), clockwise from the top, mm."""
        return convex_outline(self.vertices[:, 1:])

    @cached_property
    def end_outline(self) -> Array:
        """Outline seen along the length: (n, 2) corners (x, z), clockwise from the top, mm."""
        return convex_outline(self.vertices[:, ::2])

    @cached_property
    def table(self) -> Face | None:
        """The flat facet on top, or None."""
        flat = [face for face in self.faces if face.plane.side == "crown" and face.plane.angle_deg == 0]
        return max(flat, key=lambda face: face.area) if flat else None

    @property
    def table_percent(self) -> float:
        """Width of the table as a percentage of the width of the stone; 0 without a table."""
        return 0.0 if self.table is None else 100 * float(np.ptp(self.table.corners[:, 0])) / self.width

    @cached_property
    def _girdle_levels(self) -> tuple[float, float, float, float]:
        """Highest and lowest top edge, highest and lowest bottom edge of the girdle wall, mm."""
        tops, bottoms = zip(*(_edges(face.corners) for face in self._walls), strict=True)
        top, bottom = np.concatenate(tops), np.concatenate(bottoms)
        return float(top.max()), float(top.min()), float(bottom.max()), float(bottom.min())

    @cached_property
    def _walls(self) -> tuple[Face, ...]:
        walls = tuple(face for face in self.faces if face.plane.side == "girdle")
        if not walls:
            raise HandbookError("The solid has no girdle wall, so nothing is above or below it.")
        return walls

    @property
    def crown_height(self) -> float:
        """Table down to the girdle where the girdle is thickest, as laboratories measure it, mm."""
        return float(self.vertices[:, 2].max()) - self._girdle_levels[0]

    @property
    def crown_height_at_thin(self) -> float:
        """Table down to the girdle where the girdle is thinnest (design sheets), mm."""
        return float(self.vertices[:, 2].max()) - self._girdle_levels[1]

    @property
    def pavilion_depth(self) -> float:
        """Culet up to the girdle where the girdle is thickest, mm."""
        return self._girdle_levels[3] - float(self.vertices[:, 2].min())

    @property
    def pavilion_depth_at_thin(self) -> float:
        """Culet up to the girdle where the girdle is thinnest, mm."""
        return self._girdle_levels[2] - float(self.vertices[:, 2].min())

    @cached_property
    def girdle_thickness(self) -> tuple[float, float]:
        """Least and greatest thickness of the girdle wall, mm; least is 0 where crown and pavilion meet in an
        edge.
        """
        spans = [_thickness(face) for face in self._walls]
        run = sum(span[2] for span in spans)
        rim = np.roll(self.plan, -1, axis=0) - self.plan
        whole = run >= float(np.hypot(*rim.T).sum()) * (1 - 1e-6)
        return (min(span[0] for span in spans) if whole else 0.0), max(span[1] for span in spans)

    @property
    def fraction(self) -> float:
        """Volume as a part of the box length x width x depth."""
        return self.volume / float(self._extent.prod())

    @property
    def volume_factor(self) -> float:
        """Volume / width^3: the figure printed on design sheets."""
        return self.volume / self.width**3

    def weight_ct(self, specific_gravity: float) -> float:
        """Weight in carats: volume x SG / 200 (1 ct = 0.2 g exactly, SG against water at 1 g/cm3)."""
        if not (math.isfinite(specific_gravity) and specific_gravity > 0):
            raise OutOfRange("The specific gravity must be above zero.")
        return self.volume * specific_gravity / 200

    def angles(self, label: str) -> tuple[float, float] | None:
        """Least and greatest angle (deg) of the faces whose label begins with ``label``; None when there is
        none.
        """
        found = [face.plane.angle_deg for face in self.faces if face.label.startswith(label)]
        return (min(found), max(found)) if found else None

    def stretched(self, x: float, y: float, z: float) -> Solid:
        """The solid with each axis multiplied by a factor above zero; meets stay meets, volume goes with the
        product.
        """
        factors = np.array([x, y, z], dtype=np.float64)
        if not (np.isfinite(factors).all() and (factors > 0).all()):
            raise OutOfRange("A stone can only be stretched by factors above zero.")
        tilted = self.normals / factors
        size = np.sqrt((tilted * tilted).sum(axis=1))
        normals, offsets = tilted / size[:, None], self.offsets / size
        return Solid(
            planes=tuple(_restated(p, n, d) for p, n, d in zip(self.planes, normals, offsets, strict=True)),
            normals=normals,
            offsets=offsets,
            vertices=self.vertices * factors,
            loop=self.loop,
            starts=self.starts,
            areas=self.areas * size * float(factors.prod()),
            volume=self.volume * float(factors.prod()),
            centroid=self.centroid * factors,
        )

    def scaled(self, factor: float) -> Solid:
        """The same stone ``factor`` times as large each way."""
        return self.stretched(factor, factor, factor)


def solid_from_planes(planes: Sequence[Plane], *, interior: Sequence[float] | None = None) -> Solid:
    """The solid that lies on the inner side of all planes.

    ``interior``: a point known to be inside, mm; without one the origin is tried, then the middle of the
    largest ball is found by a linear program. Raises ``OpenSolid`` (``said['directions']`` names the open
    sides) or ``EmptySolid``.
    """
    if len(planes) < 4:
        raise OpenSolid("A solid needs at least four facets.", directions=())
    normals, offsets = plane_arrays(planes)
    return solid_from_arrays(tuple(planes), normals, offsets, interior=interior)


def solid_from_arrays(
    planes: tuple[Plane, ...], normals: Array, offsets: Array, *, interior: Sequence[float] | None = None
) -> Solid:
    """``solid_from_planes`` where the arrays are already at hand: unit normals (F, 3), offsets (F,), mm."""
    from scipy.spatial import HalfspaceIntersection, QhullError

    inside = _inside(normals, offsets, interior)
    try:
        # An open side has corners at infinity; it is refused just below.
        with np.errstate(divide="ignore", invalid="ignore"):
            cell = HalfspaceIntersection(np.column_stack([normals, -offsets]), inside)
    except QhullError as error:
        raise _open(normals) from error
    reach = -cell.dual_equations[:, 3]
    if not (reach > 1e-9 * reach.max()).all():
        raise _open(normals)
    touching = cell.dual_facets
    face = np.fromiter(chain.from_iterable(touching), dtype=np.int64)
    vertex = np.repeat(np.arange(len(touching)), list(map(len, touching)))
    return _assembled(planes, normals, offsets, cell.intersections, vertex, face)


def convex_outline(points: Array) -> Array:
    """Convex hull of points in a plane, (n, 2), clockwise from the topmost, without corners on a straight
    edge.
    """
    from scipy.spatial import ConvexHull

    loop = points[ConvexHull(points).vertices[::-1]]
    before, after = loop - np.roll(loop, 1, axis=0), np.roll(loop, -1, axis=0) - loop
    bend = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    loop = loop[np.abs(bend) > SAME * float(np.ptp(points, axis=0).max()) ** 2]
    top = int(np.lexsort((-(loop[:, 0] ** 2), -loop[:, 1]))[0])
    return np.asarray(np.roll(loop, -top, axis=0), dtype=np.float64)


def _inside(normals: Array, offsets: Array, interior: Sequence[float] | None) -> Array:
    """A point well inside: the one given, else the origin, else the middle of the largest ball."""
    point = np.zeros(3) if interior is None else np.asarray(interior, dtype=np.float64)
    room = offsets - normals @ point
    if room.min() > 1e-3 * room.max():
        return point
    if interior is not None and room.min() > 0:
        return point
    return _ball(normals, offsets)


def _ball(normals: Array, offsets: Array) -> Array:
    from scipy.optimize import linprog

    size = float(np.abs(offsets).max()) or 1.0
    found = linprog(
        [0, 0, 0, -1.0],
        A_ub=np.column_stack([normals, np.ones(len(normals))]),
        b_ub=offsets / size,
        bounds=[(None, None)] * 3 + [(None, 1e3)],
    )
    if found.status == 3 or (found.success and found.x[3] >= 1e3):
        raise _open(normals)
    if not found.success or found.x[3] <= SAME:
        raise EmptySolid("The facets leave nothing between them: at least one cuts the whole stone away.")
    return np.asarray(found.x[:3] * size, dtype=np.float64)


def _open(normals: Array) -> OpenSolid:
    """Which sides are open: a side is open when one can walk that way for ever without meeting a plane."""
    from scipy.optimize import linprog

    names = []
    for axis, name in _AXES:
        found = linprog(-axis, A_ub=normals, b_ub=np.zeros(len(normals)), bounds=[(-1, 1)] * 3)
        if found.success and -found.fun > 1e-7:
            names.append(name)
    said = ", ".join(names) or "along an edge"
    return OpenSolid(f"The facets do not close: the stone is open {said}.", directions=tuple(names))


def _assembled(
    planes: tuple[Plane, ...], normals: Array, offsets: Array, vertices: Array, vertex: Ints, face: Ints
) -> Solid:
    """Order the corners round each face, then areas, volume and centre of gravity.

    ``face`` and ``vertex``, shape (k,): which plane touches which corner. Written out by coordinates, because
    a stone has a few hundred corners and numpy's call, not its arithmetic, is what takes time at that size.
    """
    count = len(planes)
    corners = np.bincount(face, minlength=count)
    if corners[face].min() < 3:
        kept = corners[face] >= 3
        face, vertex = face[kept], vertex[kept]
        corners[corners < 3] = 0
    middle = vertices[vertex]
    share = 1 / np.maximum(corners, 1)
    cx, cy, cz = (np.bincount(face, weights=middle[:, i], minlength=count) * share for i in range(3))
    nx, ny, nz = normals.T

    # An orthonormal frame in each plane without a branch (Duff et al., JCGT 6(1), 2017).
    sign = np.where(nz < 0, -1.0, 1.0)
    a = -1 / (sign + nz)
    b = nx * ny * a
    x, y, z = middle[:, 0] - cx[face], middle[:, 1] - cy[face], middle[:, 2] - cz[face]
    right = x * (1 + sign * nx * nx * a)[face] + y * (sign * b)[face] - z * (sign * nx)[face]
    up = x * b[face] + y * (sign + ny * ny * a)[face] - z * ny[face]
    order = np.argsort(face * 8 + np.arctan2(up, right))
    face, vertex, right, up = face[order], vertex[order], right[order], up[order]

    starts: Ints = np.zeros(count + 1, dtype=np.int64)
    np.cumsum(corners, out=starts[1:])
    following = np.arange(1, len(face) + 1)
    there = corners > 0
    following[starts[1:][there] - 1] = starts[:-1][there]
    onward, upward = right[following], up[following]
    if ((onward - right) ** 2 + (upward - up) ** 2).min() < (SAME * float(np.ptp(vertices[:, 2]))) ** 2:
        return _assembled(planes, normals, offsets, *_merged(vertices, vertex, face))
    pieces = (right * upward - onward * up) / 2
    areas: Array = np.bincount(face, weights=pieces, minlength=count).astype(np.float64, copy=False)

    # Pyramids from one apex over triangles that fan out from the middle of each face.
    apex = vertices.sum(axis=0) / len(vertices)
    volumes = pieces * ((offsets - normals @ apex) / 3)[face]
    volume = float(volumes.sum())
    x, y, z = x[order], y[order], z[order]
    mean = [c[face] + (v + v[following]) / 3 for c, v in ((cx, x), (cy, y), (cz, z))]
    centroid = apex + 0.75 * (np.array([volumes @ m for m in mean]) / volume - apex)
    return Solid(planes, normals, offsets, vertices, vertex, starts, areas, volume, centroid)


def _merged(points: Array, vertex: Ints, face: Ints) -> tuple[Array, Ints, Ints]:
    """Corners that Qhull left double, a rounding apart, made one."""
    from scipy.cluster.hierarchy import fclusterdata

    step = 2 * SAME * float(np.ptp(points, axis=0).max())
    group = fclusterdata(points, step, criterion="distance", method="single") - 1
    merged = np.zeros((int(group.max()) + 1, 3))
    merged[group] = points
    pairs = np.unique(face * len(merged) + group[vertex])
    face, vertex = np.divmod(pairs, len(merged))
    return merged, vertex, face


def _edges(corners: Array) -> tuple[Array, Array]:
    """Heights of the upper and of the lower edge of a girdle wall at its corners."""
    _, top, bottom = _wall(corners)
    return top, bottom


def _wall(corners: Array) -> tuple[Array, Array, Array]:
    """A wall as a strip: distances along it, and the height of its upper and lower edge at each."""
    flat = corners[:, :2] - corners[0, :2]
    longest = flat[int(np.hypot(*flat.T).argmax())]
    along = flat @ longest / max(float(np.hypot(*longest)), 1e-300)
    at = np.unique(np.round(along, 12))
    top, bottom = np.full(len(at), -np.inf), np.full(len(at), np.inf)
    for i in range(len(corners)):
        a, b, za, zb = along[i - 1], along[i], corners[i - 1, 2], corners[i, 2]
        if b < a:
            a, b, za, zb = b, a, zb, za
        on = (at >= a - 1e-9) & (at <= b + 1e-9)
        level = np.interp(at[on], [a, b], [za, zb]) if b - a > 1e-9 else np.full(int(on.sum()), max(za, zb))
        top[on] = np.maximum(top[on], level)
        bottom[on] = np.minimum(bottom[on], level if b - a > 1e-9 else min(za, zb))
    return at, top, bottom


def _thickness(face: Face) -> tuple[float, float, float]:
    """Least and greatest thickness of a wall, and how far it runs."""
    along, top, bottom = _wall(face.corners)
    thick = top - bottom
    return float(thick.min()), float(thick.max()), float(np.ptp(along))


def _restated(plane: Plane, normal: Array, distance: float) -> Plane:
    flat = math.hypot(float(normal[0]), float(normal[1]))
    angle = (
        plane.angle_deg if plane.angle_deg in (0.0, 90.0) else math.degrees(math.atan2(flat, abs(normal[2])))
    )
    azimuth = (
        math.degrees(math.atan2(float(normal[0]), float(normal[1]))) % 360 if flat > 0 else plane.azimuth_deg
    )
    return Plane(angle, azimuth, float(distance), plane.side, plane.label)
