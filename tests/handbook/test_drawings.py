"""Drawings: lawful SVG for a strict content policy, true to scale, and never a crash for odd sizes."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.handbook import drawings, outlines
from workshop.handbook.solids import STYLES, Plane, make_cut, solid_from_planes

SVG = "{http://www.w3.org/2000/svg}"
DRAWN = {"svg", "title", "desc", "g", "polygon", "polyline", "path", "text"}


def read(svg: str) -> ET.Element:
    """The drawing as a tree, after a look for everything a strict page or a PDF would refuse."""
    tree = ET.fromstring(svg)
    for node in tree.iter():
        assert node.tag.removeprefix(SVG) in DRAWN
        for name, value in node.attrib.items():
            assert name != "style" and not name.lower().startswith("on")
            assert "url(" not in value and "nan" not in value and "inf" not in value
        for paint in ("stroke", "fill"):
            assert node.get(paint, "none") in {"none", "currentColor"}
    assert tree.get("role") == "img"
    assert tree[0].tag == SVG + "title" and tree[0].text
    assert tree[1].tag == SVG + "desc" and tree[1].text
    return tree


def corners(node: ET.Element) -> list[tuple[float, float]]:
    return [tuple(map(float, pair.split(","))) for pair in node.attrib["points"].split()]


def extent(tree: ET.Element) -> tuple[float, float]:
    """Width and height of the first polygon, which is the girdle."""
    xs, ys = zip(*corners(next(tree.iter(SVG + "polygon"))), strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


@pytest.mark.parametrize("style", [None, "brilliant", "step"])
@pytest.mark.parametrize("key", outlines.KEYS)
def test_every_outline_is_drawn_to_scale(key, style):
    width = 6.0
    length = width * outlines.usual_length_to_width(key)
    tree = read(drawings.outline_drawing(key, length, width, 4.1, style=style, size_px=200))
    wide, tall = extent(tree)
    assert tall / wide == pytest.approx(length / width, rel=0.002)
    assert max(wide, tall) == pytest.approx(200, abs=0.3)
    said = [node.text for node in tree.iter(SVG + "text")]
    assert said == [f"{width:.2f} mm", f"{length:.2f} mm", "4.10 mm"]


@pytest.mark.parametrize("style", ["brilliant", "step"])
@pytest.mark.parametrize("key", outlines.KEYS)
def test_facet_lines_stay_inside_the_frame_of_the_girdle(key, style):
    tree = read(drawings.outline_drawing(key, None, None, dimensions=False, style=style))
    wide, tall = extent(tree)
    lines = [corners(node) for node in tree.iter(SVG + "polyline")]
    assert len(lines) >= 7
    for x, y in (point for line in lines for point in line):
        assert abs(x) <= wide / 2 + 0.1
        assert abs(y) <= tall / 2 + 0.1


def test_a_heart_says_that_it_is_not_convex():
    tree = read(drawings.outline_drawing("heart", 7, 7.2, 4))
    assert "not convex" in tree[1].text


def test_an_unknown_shape_is_an_oval_and_says_so():
    tree = read(drawings.outline_drawing("blob <b>", Decimal("8.00"), Decimal("6.00")))
    assert "oval" in tree[1].text and "blob" in tree[1].text
    assert "oval" in tree[0].text


def test_a_round_that_is_not_round_is_drawn_as_it_measures():
    wide, tall = extent(read(drawings.outline_drawing("round", 9, 7)))
    assert tall / wide == pytest.approx(9 / 7, rel=0.002)


sizes = st.one_of(st.none(), st.floats(allow_nan=True), st.integers(-5, 50), st.decimals(-5, 100))


@given(st.text(max_size=12) | st.sampled_from(outlines.KEYS), sizes, sizes, sizes, st.integers(-3, 40))
def test_no_size_breaks_the_drawing(shape, length, width, depth, sides):
    tree = read(drawings.outline_drawing(shape, length, width, depth, sides=sides))
    numbers = re.findall(r"-?\d+\.?\d*", tree.get("viewBox"))
    assert len(numbers) == 4
    assert all(math.isfinite(float(n)) and abs(float(n)) < 5000 for n in numbers)


def test_words_from_outside_are_escaped():
    svg = drawings.outline_drawing("oval", 8, 6, title='<script>alert("x")</script>')
    assert "<script" not in svg
    assert read(svg)[0].text == '<script>alert("x")</script>'


# --- drawings of solids --------------------------------------------------------------------------------------------


def strokes(tree):
    """Every short line of the facets as ((x, y), (x, y))."""
    path = "".join(node.attrib["d"] for node in tree.iter(SVG + "path"))
    numbers = [tuple(map(float, pair.split())) for pair in re.split("[ML]", path)[1:]]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("key", outlines.KEYS)
def test_every_cut_is_drawn_from_four_sides_to_scale(key, style):
    cut = make_cut(key, style, width=6)
    wide, tall = extent(read(drawings.face_up(cut, size_px=240)))
    assert tall / wide == pytest.approx(cut.length / cut.width, rel=0.002)
    assert extent(read(drawings.pavilion(cut, size_px=240))) == pytest.approx((wide, tall), abs=0.2)
    run, deep = extent(read(drawings.side(cut)))
    assert deep / run == pytest.approx(cut.depth / cut.length, rel=0.005)
    run, deep = extent(read(drawings.end(cut)))
    assert deep / run == pytest.approx(cut.depth / cut.width, rel=0.005)


def test_the_crown_shows_the_edges_a_cutter_counts():
    """A level round seen face up: 32 crown facets and a table on 16 girdle points; Euler in the plane counts its edges.

    Corners: 8 of the table, 8 star tips, 16 on the girdle. Faces: 1 table, 8 stars, 8 mains, 16 breaks. So edges are
    corners + faces - 1 = 64, of which 16 are the outline; each is drawn once.
    """
    lines = strokes(read(drawings.face_up(make_cut("round", "brilliant", girdle_facets=1), size_px=400)))
    assert len(lines) == len({frozenset(line) for line in lines}) == 64
    radii = sorted({round(math.hypot(*end), 0) for line in lines for end in line})
    assert max(radii) == pytest.approx(200, abs=0.5)
    assert min(radii) == pytest.approx(0.57 * 200, abs=1)


def test_the_pavilion_of_a_pointed_round_runs_to_the_culet():
    lines = strokes(read(drawings.pavilion(make_cut("round", "brilliant", girdle_facets=1), size_px=400)))
    at_the_culet = [line for line in lines if min(math.hypot(*end) for end in line) < 0.2]
    assert len(at_the_culet) == 8


def test_the_figures_on_the_drawing_are_the_stone_s_own():
    cut = make_cut("oval", width=6.1234, length_to_width=1.4)
    said = [node.text for node in read(drawings.face_up(cut)).iter(SVG + "text")]
    assert said == ["6.12 mm", "8.57 mm"]
    said = [node.text for node in read(drawings.side(cut)).iter(SVG + "text")]
    assert said == [f"{cut.depth:.2f} mm", "8.57 mm"]
    assert not list(read(drawings.face_up(cut, dimensions=False)).iter(SVG + "text"))


def test_the_sheet_holds_four_views_that_do_not_overlap_and_the_proportions():
    cut = make_cut("pear", width=7)
    tree = read(drawings.sheet(cut))
    boxes = []
    for loop in map(corners, tree.iter(SVG + "polygon")):
        xs, ys = zip(*loop, strict=True)
        boxes.append((min(xs), max(xs), min(ys), max(ys)))
    assert len(boxes) == 4
    for i, a in enumerate(boxes):
        for b in boxes[:i]:
            assert a[1] < b[0] or b[1] < a[0] or a[3] < b[2] or b[3] < a[2]
    words = " ".join(node.text for node in tree.iter(SVG + "text"))
    for figure in (
        "7.00 mm",
        "10.50 mm",
        f"{cut.depth:.2f} mm",
        "Table 57.0 %",
        "to 42.0°",
        "length to width 1.50",
    ):
        assert figure in words


def test_the_words_of_a_sheet_stay_inside_it():
    for key in ("round", "marquise", "cut_corner_rectangle"):
        tree = read(drawings.sheet(make_cut(key, width=7), size_px=360))
        left, _, wide, _ = map(float, tree.get("viewBox").split())
        for node in tree.iter(SVG + "text"):
            if node.get("text-anchor") == "start":
                assert float(node.get("x")) >= left
                assert float(node.get("x")) + 6 * len(node.text) <= left + wide


def test_a_stone_lies_inside_its_rough_on_the_drawing():
    sides = [Plane(90, a, 4.0 if a % 180 else 5.0, "girdle", str(a)) for a in (0, 90, 180, 270)]
    rough = solid_from_planes([*sides, Plane(0, 0, 2, "crown", "up"), Plane(0, 0, 3.5, "pavilion", "down")])
    tree = read(drawings.within(make_cut("oval", width=6.5), rough, size_px=200))
    plan, stone, end, seen = [corners(node) for node in tree.iter(SVG + "polygon")]
    for outer, inner in ((plan, stone), (end, seen)):
        for axis in (0, 1):
            assert min(p[axis] for p in outer) < min(p[axis] for p in inner)
            assert max(p[axis] for p in inner) < max(p[axis] for p in outer)
    assert [bool(node.get("stroke-dasharray")) for node in tree.iter(SVG + "polygon")] == [
        True,
        False,
        True,
        False,
    ]
    assert "8.00" in tree[1].text and "5.50" in tree[1].text


@pytest.mark.parametrize("shape", ["round", "oval", "heart", "triangle", "cut_corner_rectangle", "kite"])
def test_the_outline_at_its_true_size_says_its_millimetres(shape):
    """CSS counts 96 px to an inch of 25.4 mm: what is drawn, ink included, is as large as the stone."""
    length, width = 9.12, 8.9
    svg = drawings.life_size(shape, length, width)
    head = re.search(
        r'width="([\d.]+)mm" height="([\d.]+)mm" viewBox="[-\d.]+ [-\d.]+ ([\d.]+) ([\d.]+)"', svg
    )
    wide, tall, box_wide, box_tall = map(float, head.groups())
    assert wide / box_wide == pytest.approx(25.4 / 96, rel=0.002) == tall / box_tall
    points = [tuple(map(float, one.split(","))) for one in re.search(r'points="([^"]+)"', svg)[1].split()]
    stroke = float(re.search(r'stroke-width="([\d.]+)"', svg)[1])
    mm = 25.4 / 96
    xs, ys = zip(*points, strict=True)
    assert (max(xs) - min(xs) + stroke) * mm == pytest.approx(width, abs=0.05)
    assert (max(ys) - min(ys) + stroke) * mm == pytest.approx(length, abs=0.05)
