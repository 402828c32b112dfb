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

SVG = "{http://www.w3.org/2000/svg}"
DRAWN = {"svg", "title", "desc", "g", "polygon", "polyline", "line", "path", "text"}


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
