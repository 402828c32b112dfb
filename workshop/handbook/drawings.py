"""Line drawings of stones as SVG text: presentation attributes only, so they pass a strict content policy.

Every stroke and letter is ``currentColor``: the page decides, in light, in dark and on paper. No style
attribute, no script, no markers, no clip paths: only polygon, polyline, line and text, which every PDF maker
draws alike.
"""

from __future__ import annotations

import math
from decimal import Decimal
from html import escape

import numpy as np

from . import outlines
from .outlines import Array, Outline
from .solids import Solid, convex_outline

Number = Decimal | float | int

TABLE_PART = 0.56  # table as a part of the width where nothing better is known; common practice, no source
STAR_PART = 0.5  # how far a star reaches from the table to the girdle; common practice, no source
CROWN_SHARE, GIRDLE_SHARE = 0.27, 0.04  # of the depth, near the computed 24.2/4.2/71.7 % of a reference round
DEEPEST = 1.5  # a depth beyond this part of the width is drawn at it; the figure beside it stays as said
STATIONS = {"triangle": 18, "shield": 10}  # girdle facets around, where sixteen would crowd the drawing
STEP_SHAPES = ("rectangle", "cut_corner_rectangle", "square", "kite")

EDGE, FACET, RULE = 1.6, 0.8, 0.6  # stroke widths, in the drawing's own pixels
FONT = 12.0
MARGIN = 3.0
DIMENSION_GAP = 12.0  # from the stone to its dimension line
# CSS Values and Units, section 5.2, <https://www.w3.org/TR/css-values-3/>
PX_PER_INCH, MM_PER_INCH = 96.0, 25.4


def outline_drawing(
    shape: str,
    length_mm: Number | None,
    width_mm: Number | None,
    depth_mm: Number | None = None,
    *,
    style: str | None = None,
    sides: int = 8,
    size_px: int = 220,
    dimensions: bool = True,
    title: str | None = None,
) -> str:
    """A stone without a photograph: its outline to scale with the usual facet lines, and its side if deep
    enough known.

    ``shape``: a key of ``outlines.KEYS``; anything else is drawn as an oval and ``<desc>`` says so.
    ``style``: "brilliant" or "step", the outline's usual one when None. Sizes in mm; a missing, zero,
    negative or endless size is not written and the outline's usual length to width stands in. ``size_px``:
    the longer side of the face-up view. Never raises for odd numbers. The facet lines are a scheme; nothing
    was computed about this stone's light or weight.
    """
    outline, length, width, remarks = _nearest_outline(shape, length_mm, width_mm, sides)
    depth = _usable(depth_mm)
    step = style == "step" if style in ("step", "brilliant") else shape in STEP_SHAPES
    scale = size_px / max(outline.length, outline.width)
    facets = _step_scheme(outline) if step else _brilliant_scheme(outline)
    wide, tall = outline.width * scale, outline.length * scale
    canvas = _Canvas()
    canvas.loop(_rim(outline) * scale, EDGE)
    for line in facets:
        canvas.line(line * scale, FACET)
    if dimensions and width and length:
        canvas.across(-wide / 2, wide / 2, -tall / 2 - DIMENSION_GAP, f"{width:.2f} mm")
        canvas.upward(-tall / 2, tall / 2, -wide / 2 - DIMENSION_GAP, f"{length:.2f} mm")
        if depth:
            below, deep = -tall / 2 - DIMENSION_GAP - 2.5 * FONT, min(depth / width, DEEPEST) * wide
            _end_scheme(canvas, wide, deep, below, step=step)
            canvas.upward(below - deep, below, -wide / 2 - DIMENSION_GAP, f"{depth:.2f} mm")
    words = title or f"{outline.label}, {_sizes(length, width, depth)}".removesuffix(", ")
    return canvas.svg(words, " ".join(["Facet lines are a scheme, drawn from outline and sizes.", *remarks]))


def life_size(shape: str, length_mm: Number, width_mm: Number, *, title: str | None = None) -> str:
    """The bare outline, as large as the stone when printed at 100 %: width and height are written in mm.

    ``shape``: as for ``outline_drawing``. CSS counts 96 px to the inch of 25.4 mm.
    """
    px = PX_PER_INCH / MM_PER_INCH
    outline, length, width, remarks = _nearest_outline(shape, length_mm, width_mm, 8)
    canvas = _Canvas()
    # Half the stroke lies outside the outline: drawn that much smaller, the ink ends where the stone does.
    points = _rim(outline) * (max(length or 1, width or 1) * px / max(outline.length, outline.width))
    reach = np.abs(points).max(axis=0)
    canvas.loop(points * (reach - RULE / 2) / reach, RULE)
    words = title or f"{outline.label}, {_sizes(length, width, None)}".removesuffix(", ")
    return canvas.svg(words, " ".join(["The outline at its true size.", *remarks]), life=True)


def face_up(solid: Solid, *, size_px: int = 220, title: str | None = None, dimensions: bool = True) -> str:
    """The crown seen from above, to scale, with width and length in mm. ``size_px``: longer side of the
    outline.
    """
    canvas = _Canvas()
    _view(canvas, solid, "crown", size_px / max(solid.width, solid.length), dimensions=dimensions)
    return canvas.svg(title or "Crown, seen face up", _said(solid))


def pavilion(solid: Solid, *, size_px: int = 220, title: str | None = None) -> str:
    """The pavilion seen from below, turned over about its length, so left and right change places."""
    canvas = _Canvas()
    _view(canvas, solid, "pavilion", size_px / max(solid.width, solid.length), dimensions=False)
    return canvas.svg(title or "Pavilion, seen from below", _said(solid))


def side(solid: Solid, *, size_px: int = 220, title: str | None = None, dimensions: bool = True) -> str:
    """The stone seen from its right, its length from right to left, with depth, crown and pavilion in mm."""
    canvas = _Canvas()
    _view(canvas, solid, "side", size_px / max(solid.length, solid.depth), dimensions=dimensions)
    return canvas.svg(title or "Side", _said(solid))


def end(solid: Solid, *, size_px: int = 220, title: str | None = None, dimensions: bool = True) -> str:
    """The stone seen from its lower end, its width from left to right, with depth, crown and pavilion in mm."""
    canvas = _Canvas()
    _view(canvas, solid, "end", size_px / max(solid.width, solid.depth), dimensions=dimensions)
    return canvas.svg(title or "End", _said(solid))


def sheet(solid: Solid, *, size_px: int = 520, title: str | None = None) -> str:
    """Crown, pavilion, end and side at one scale with their sizes, and the proportions in words underneath.

    ``size_px``: about how wide the whole sheet is.
    """
    gap = 4.5 * FONT
    scale = (size_px - 2 * gap) / (solid.width + max(solid.width, solid.length))
    across, along = solid.width * scale, solid.length * scale
    right = across / 2 + gap + max(across, along) / 2
    below = -along / 2 - gap - solid.depth * scale / 2
    canvas = _Canvas()
    _view(canvas, solid, "crown", scale, dimensions=True)
    canvas.origin = np.array([right, 0.0])
    _view(canvas, solid, "pavilion", scale, dimensions=False)
    canvas.origin = np.array([0.0, below])
    _view(canvas, solid, "end", scale, dimensions=True, with_run=False)
    canvas.origin = np.array([right, below])
    _view(canvas, solid, "side", scale, dimensions=False)
    canvas.across(-along / 2, along / 2, -solid.depth * scale / 2 - DIMENSION_GAP, f"{solid.length:.2f} mm")
    canvas.origin = np.zeros(2)
    foot = below - solid.depth * scale / 2 - DIMENSION_GAP - 3 * FONT
    for i, words in enumerate(_proportions(solid)):
        canvas.text((-across / 2, foot - 1.4 * FONT * i), words, anchor="start")
    return canvas.svg(title or "Plan of the cut", _said(solid), "stone-sheet")


def within(
    stone: Solid,
    rough: Solid,
    *,
    size_px: int = 220,
    title: str | None = None,
    description: str | None = None,
) -> str:
    """A stone where it lies in its rough, seen face up and from the side; both solids in one frame, mm.

    The rough is drawn in dashes. ``size_px``: the greatest extent of the rough.
    """
    scale = size_px / max(rough.width, rough.length, rough.depth)
    middle = (rough.vertices.min(axis=0) + rough.vertices.max(axis=0)) / 2
    canvas = _Canvas()
    for (i, j), kind in (((0, 1), "crown"), ((0, 2), "end")):
        around = convex_outline(rough.vertices[:, (i, j)])
        if kind == "end":
            canvas.origin = np.array([0.0, -(rough.length + rough.depth) * scale / 2 - 2 * FONT])
        canvas.loop((around - middle[[i, j]]) * scale, FACET, dashed=True)
        _view(canvas, stone, kind, scale, dimensions=False, middle=middle)
    words = f"Rough {rough.length:.2f} × {rough.width:.2f} × {rough.depth:.2f} mm. {_said(stone)}"
    return canvas.svg(title or "The stone in its rough", description or words)


# How each view looks: which coordinates run right and up (as rows of a matrix), and which way the viewer
# stands.
_VIEWS = {
    "crown": (np.array([[1.0, 0, 0], [0, 1.0, 0]]), np.array([0, 0, 1.0])),
    "pavilion": (np.array([[-1.0, 0, 0], [0, 1.0, 0]]), np.array([0, 0, -1.0])),
    "side": (np.array([[0, 1.0, 0], [0, 0, 1.0]]), np.array([1.0, 0, 0])),
    "end": (np.array([[1.0, 0, 0], [0, 0, 1.0]]), np.array([0, -1.0, 0])),
}


def _view(
    canvas: _Canvas,
    solid: Solid,
    kind: str,
    scale: float,
    *,
    dimensions: bool,
    with_run: bool = True,
    middle: Array | None = None,
) -> None:
    """One view with the middle of the stone's box, or ``middle``, at the canvas's origin.

    ``with_run``: write the width or length beneath a view from the side, too.
    """
    plane, towards = _VIEWS[kind]
    box = (solid.vertices.min(axis=0) + solid.vertices.max(axis=0)) / 2
    flat = (solid.vertices - (box if middle is None else middle)) @ plane.T * scale
    canvas.edges(flat, _seen_edges(solid, towards), FACET)
    canvas.loop(convex_outline(flat), EDGE)
    if not dimensions:
        return
    (left, low), (right, high) = flat.min(axis=0), flat.max(axis=0)
    if kind == "crown":
        canvas.across(left, right, low - DIMENSION_GAP, f"{solid.width:.2f} mm")
        canvas.upward(low, high, left - DIMENSION_GAP, f"{solid.length:.2f} mm")
        return
    canvas.upward(low, high, left - DIMENSION_GAP, f"{solid.depth:.2f} mm")
    if with_run:
        canvas.across(left, right, low - DIMENSION_GAP, f"{np.ptp(flat[:, 0]) / scale:.2f} mm")


def _seen_edges(solid: Solid, towards: Array) -> Array:
    """Edges with a face turned to the viewer on at least one side, shape (m, 2), each once; walls aside from
    above.
    """
    facing = solid.normals @ towards > 1e-9
    face = np.repeat(np.arange(len(solid.planes)), np.diff(solid.starts))
    after = np.arange(1, len(solid.loop) + 1)
    ends = solid.starts[1:][np.diff(solid.starts) > 0] - 1
    after[ends] = solid.starts[:-1][np.diff(solid.starts) > 0]
    pairs = np.column_stack([solid.loop, solid.loop[after]])[facing[face]]
    return np.unique(np.sort(pairs, axis=1), axis=0)


def _said(solid: Solid) -> str:
    """The sizes in a sentence, for those who hear the drawing."""
    return f"Length {solid.length:.2f}, width {solid.width:.2f}, depth {solid.depth:.2f} mm, to scale."


def _proportions(solid: Solid) -> list[str]:
    """What a cutter writes under a plan, in two short lines and one for the girdle."""
    least, most = (100 * t / solid.width for t in solid.girdle_thickness)
    lines = [
        f"Table {solid.table_percent:.1f} %, crown {100 * solid.crown_height / solid.width:.1f} %, "
        f"pavilion {100 * solid.pavilion_depth / solid.width:.1f} %, "
        f"depth {100 * solid.depth / solid.width:.1f} % of width",
        f"Girdle {least:.1f} to {most:.1f} % of width; length to width {solid.length / solid.width:.2f}",
    ]
    angles = []
    for name in (
        "crown main",
        "crown step",
        "crown break",
        "crown star",
        "pavilion main",
        "pavilion step",
        "pavilion break",
    ):
        found = solid.angles(name)
        if found:
            low, high = found
            angles.append(f"{name} {low:.1f}°" + (f" to {high:.1f}°" if high - low > 0.05 else ""))
    return lines + [", ".join(angles[i : i + 2]) for i in range(0, len(angles), 2)]


def _nearest_outline(
    shape: str, length_mm: Number | None, width_mm: Number | None, sides: int
) -> tuple[Outline, float | None, float | None, list[str]]:
    """An outline for whatever was said, the sizes worth writing, and remarks on what had to be assumed."""
    length, width, remarks = _usable(length_mm), _usable(width_mm), []
    key = shape if shape in outlines.LABELS else "oval"
    if key != shape:
        remarks.append(f"Shape {shape!r} is not known here; drawn as an oval.")
    if key == "heart":
        remarks.append("A heart is not convex: its weight and light come from its convex hull.")
    sides = min(max(int(sides), 3), 24)
    usual = outlines.usual_length_to_width(key, sides)
    if not (length and width):
        remarks.append("Length to width assumed.")
    across = width or (length / usual if length else 1.0)
    along = length or across * usual
    ratio = along / across
    kept = min(max(ratio, 1 / outlines.MOST_ELONGATED), outlines.MOST_ELONGATED)
    if key in ("round", "square") and not 1 / outlines.NEARLY_EQUAL <= ratio <= outlines.NEARLY_EQUAL:
        key = "oval" if key == "round" else "rectangle"
        remarks.append(f"Its sizes are too far apart for the name given; drawn as {outlines.LABELS[key]}.")
    if kept != ratio:
        remarks.append("Length to width is out of scale; check the sizes.")
    return outlines.make_outline(key, length=kept, width=1.0, sides=sides), length, width, remarks


def _usable(size: Number | None) -> float | None:
    try:
        value = float(size) if size is not None else 0.0
    except (TypeError, ValueError, OverflowError):
        return None
    return value if math.isfinite(value) and value > 0 else None


def _rim(outline: Outline) -> Array:
    """The outline with every corner and about 120 points: a curve needs no more on a page."""
    step = max(1, len(outline.points) // 120)
    keep = sorted({*range(0, len(outline.points), step), *outline.corners})
    return outline.array[keep]


def _sizes(length: float | None, width: float | None, depth: float | None) -> str:
    known = [f"{size:.2f}" for size in (length, width, depth) if size]
    return " × ".join(known) + " mm" if length and width else ""


def _brilliant_scheme(outline: Outline) -> list[Array]:
    """Table, stars, mains and breaks in plan; between two mains a star points at the girdle."""
    s = outlines.stations(outline, STATIONS.get(outline.key, 16))
    centre = np.array(outlines.centroid(outline))
    mains = np.flatnonzero(s.main)
    table = centre + TABLE_PART * (s.points[mains] - centre)
    lines = [np.vstack([table, table[:1]])]
    for i, k in enumerate(mains):
        after = (i + 1) % len(mains)
        junction = _between(s.points, int(k), int(mains[after]))
        edge = (table[i] + table[after]) / 2
        foot = junction[0] if len(junction) else (s.points[k] + s.points[mains[after]]) / 2
        tip = edge + STAR_PART * (foot - edge)
        lines += [np.array([a, tip]) for a in (table[i], table[after], s.points[k], s.points[mains[after]])]
        if len(junction):
            lines.append(np.array([foot, tip]))
        else:
            lines += [np.array([s.points[m], table[j]]) for m, j in ((k, i), (mains[after], after))]
    return lines


def _between(points: Array, start: int, stop: int) -> Array:
    stop = stop if stop > start else stop + len(points)
    return points[np.arange(start + 1, stop) % len(points)]


def _step_scheme(outline: Outline) -> list[Array]:
    """Two tiers and the table, each edge parallel to the girdle, and the ridges from corner to corner."""
    girdle = outlines.places(outline, 16)
    deepest = (1 - TABLE_PART) * float(np.abs(_inset_room(girdle)).min())
    rings = [girdle, *(_inset(girdle, deepest * part) for part in (0.36, 0.7, 1.0))]
    closed = [np.vstack([ring, ring[:1]]) for ring in rings[1:]]
    ridges = [np.array([ring[i] for ring in rings]) for i in range(len(girdle))]
    return closed + ridges


def _inset_room(points: Array) -> Array:
    """Distance from the middle to each side."""
    along = np.roll(points, -1, axis=0) - points
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    return np.asarray((normal * points).sum(axis=1))


def _inset(points: Array, distance: float) -> Array:
    """The corners of the polygon whose sides lie ``distance`` inside those given, in the same order."""
    along = np.roll(points, -1, axis=0) - points
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    reach = (normal * points).sum(axis=1) - distance
    pairs = np.stack([np.roll(normal, 1, axis=0), normal], axis=1)
    return np.linalg.solve(pairs, np.stack([np.roll(reach, 1), reach], axis=1)[:, :, None])[:, :, 0]


def _end_scheme(canvas: _Canvas, width: float, depth: float, below: float, *, step: bool) -> None:
    """The stone seen along its length, hung below the face-up view: usual shares of the depth, in pixels."""
    half, table = width / 2, width / 2 * TABLE_PART
    top = below - depth * CROWN_SHARE
    under = top - depth * GIRDLE_SHARE
    foot = below - depth
    right = [(table, below), (half, top), (half, under)]
    right += [(half * 0.78, under - depth * 0.32), (half * 0.42, under - depth * 0.56)] if step else []
    loop = [*right, (0.0, foot), *[(-x, y) for x, y in reversed(right)]]
    canvas.loop(np.array(loop), EDGE)
    for level in (top, under):
        canvas.line(np.array([(-half, level), (half, level)]), FACET)


class _Canvas:
    """Gathers strokes and letters in pixels, y upwards, and frames them all when the drawing is written."""

    def __init__(self) -> None:
        self._drawn: list[str] = []
        self._low = np.array([math.inf, math.inf])
        self._high = -self._low
        self.origin = np.zeros(2)

    def loop(self, points: Array, width: float, *, dashed: bool = False) -> None:
        """A closed polygon."""
        self._stroke("polygon", points, width, ' stroke-dasharray="4 3"' if dashed else "")

    def edges(self, points: Array, pairs: Array, width: float) -> None:
        """Many short lines, given as pairs of indices into ``points``, in one stroke."""
        self._frame(points)
        xy = points + self.origin
        path = "".join(
            f"M{xy[a, 0]:.1f} {-xy[a, 1]:.1f}L{xy[b, 0]:.1f} {-xy[b, 1]:.1f}" for a, b in pairs.tolist()
        )
        self._drawn.append(f'<path d="{path}" stroke-width="{width:g}"/>')

    def line(self, points: Array, width: float) -> None:
        """An open line."""
        self._stroke("polyline", points, width)

    def text(
        self, at: tuple[float, float], words: str, *, anchor: str = "middle", upright: bool = True
    ) -> None:
        """Words whose middle line passes ``at``; not upright is read from the right hand side."""
        x, y = at
        run, rise = 0.6 * FONT * len(words), 0.5 * FONT
        before = {"start": 0.0, "middle": run / 2, "end": run}[anchor]
        reach = np.array([[-before, -rise], [run - before, rise]])
        self._frame(np.array(at) + (reach if upright else reach[:, ::-1]))
        x, y = float(x + self.origin[0]), float(y + self.origin[1])
        turn = "" if upright else f' transform="rotate(-90 {x:.1f} {-y:.1f})"'
        self._drawn.append(
            f'<text x="{x:.1f}" y="{-y + 0.35 * FONT:.1f}" text-anchor="{anchor}" fill="currentColor" '
            f'stroke="none"{turn}>{escape(words)}</text>'
        )

    def across(self, left: float, right: float, y: float, words: str) -> None:
        """A dimension line from left to right at height ``y``, its words beneath."""
        for x in (left, right):
            self.line(np.array([(x, y - 4), (x, y + 4)]), RULE)
        self.line(np.array([(left, y), (right, y)]), RULE)
        self.text(((left + right) / 2, y - FONT), words)

    def upward(self, low: float, high: float, x: float, words: str) -> None:
        """A dimension line from ``low`` to ``high`` at ``x``, its words to the left, turned."""
        for y in (low, high):
            self.line(np.array([(x - 4, y), (x + 4, y)]), RULE)
        self.line(np.array([(x, low), (x, high)]), RULE)
        self.text((x - FONT * 0.9, (low + high) / 2), words, upright=False)

    def svg(self, title: str, description: str, kind: str = "stone-drawing", *, life: bool = False) -> str:
        """The whole drawing, framed with a small margin; ``life``: its size is written in millimetres."""
        (left, low), (right, high) = self._low - MARGIN, self._high + MARGIN
        wide, tall = right - left, high - low
        mm = MM_PER_INCH / PX_PER_INCH
        size = (
            f'width="{wide * mm:.3f}mm" height="{tall * mm:.3f}mm"'
            if life
            else f'width="{wide:.0f}" height="{tall:.0f}"'
        )
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" role="img" {size} '
            f'viewBox="{left:.1f} {-high:.1f} {wide:.1f} {tall:.1f}">'
        )
        ink = (
            '<g fill="none" stroke="currentColor" stroke-linejoin="round" stroke-linecap="round" '
            f'font-size="{FONT:g}">'
        )
        words = f"<title>{escape(title)}</title><desc>{escape(description)}</desc>"
        return f"{head}{words}{ink}{''.join(self._drawn)}</g></svg>"

    def _stroke(self, tag: str, points: Array, width: float, more: str = "") -> None:
        self._frame(points)
        path = " ".join(f"{x:.1f},{-y:.1f}" for x, y in points + self.origin)
        self._drawn.append(f'<{tag} points="{path}" stroke-width="{width:g}"{more}/>')

    def _frame(self, points: Array) -> None:
        self._low = np.minimum(self._low, points.min(axis=0) + self.origin)
        self._high = np.maximum(self._high, points.max(axis=0) + self.origin)
