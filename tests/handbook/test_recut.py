"""A stone matched to its measured sizes, and stones cut deeper."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from workshop.handbook import outlines
from workshop.handbook.errors import EmptySolid, OutOfRange
from workshop.handbook.solids import CrownMeetsPavilion, cut_to_size, deeper, depth_of, make_cut, usual_style
from workshop.handbook.solids.cuts import Proportions


@given(st.sampled_from(outlines.KEYS), st.floats(3, 20), st.floats(0.9, 1.8), st.floats(0.3, 1.1))
@settings(max_examples=80, deadline=None)
def test_the_three_sizes_come_out_as_measured(key, width, ratio, deep):
    ratio = 1.0 if key in ("round", "square") else ratio
    try:
        stone = cut_to_size(key, length=width * ratio, width=width, depth=width * deep)
    except CrownMeetsPavilion:
        assume(False)
    assert (stone.width, stone.length, stone.depth) == pytest.approx(
        (width, width * ratio, width * deep), rel=1e-6
    )


def test_a_usual_depth_keeps_crown_table_and_girdle():
    plain = make_cut("oval", width=8)
    stone = cut_to_size("oval", length=plain.length, width=8, depth=plain.depth + 0.3)
    assert stone.crown_height == pytest.approx(plain.crown_height)
    assert stone.table_percent == pytest.approx(plain.table_percent)
    assert stone.girdle_thickness[1] == pytest.approx(plain.girdle_thickness[1])
    assert stone.pavilion_depth == pytest.approx(plain.pavilion_depth + 0.3)
    assert math.tan(math.radians(stone.angles("pavilion main")[1])) == pytest.approx(
        math.tan(math.radians(42)) * (1 + 0.3 / plain.pavilion_depth)
    )


def test_a_stone_too_flat_for_any_pavilion_is_stretched():
    stone = cut_to_size("round", length=8, width=8, depth=1.2)
    assert stone.depth == pytest.approx(1.2)
    assert stone.fraction == pytest.approx(make_cut("round").fraction)


@pytest.mark.parametrize("key", outlines.KEYS)
def test_the_depth_foretold_is_the_depth_cut(key):
    outline = outlines.make_outline(key, length=8 * outlines.usual_length_to_width(key), width=8)
    for style in {usual_style(key), "mixed"}:
        solid = make_cut(key, style, width=8)
        assert depth_of(style, outline, Proportions()) == pytest.approx(solid.depth)


def test_going_deeper_on_a_box_of_tiers_takes_a_slice():
    """A square step with one tier: the whole pavilion 0.2 deeper takes 0.2 / cos(42) off the depth, a similar pyramid."""
    plain = make_cut("square", "step", width=8, tiers=1, girdle_percent=8)
    less = deeper(plain, "pavilion", 0.2)
    rise = 0.2 / math.cos(math.radians(42))
    assert less.depth == pytest.approx(plain.depth - rise)
    assert plain.volume - less.volume == pytest.approx(
        rise * 64
    )  # every upright line loses as much: 8 x 8 in plan
    assert less.girdle_thickness[0] == pytest.approx(plain.girdle_thickness[0] - rise)


def test_opening_the_table_lowers_the_crown_and_widens_the_table():
    plain = make_cut("round", width=6.5)
    less = deeper(plain, "table", 0.15)
    assert less.depth == pytest.approx(plain.depth - 0.15)
    assert less.table_percent > plain.table_percent
    assert less.volume < plain.volume
    assert less.girdle_thickness == pytest.approx(plain.girdle_thickness)


@given(
    st.sampled_from(outlines.KEYS),
    st.sampled_from(["crown", "pavilion", "girdle", "table"]),
    st.floats(0, 0.3),
)
@settings(max_examples=60, deadline=None)
def test_going_deeper_never_adds_weight_and_zero_changes_nothing(key, label, by):
    plain = make_cut(key, width=8)
    less = deeper(plain, label, by)
    assert less.volume <= plain.volume * (1 + 1e-9)
    assert deeper(plain, label, 0).volume == pytest.approx(plain.volume, rel=1e-9)
    further = deeper(less, label, 0.05)
    assert further.volume < less.volume


def test_what_cannot_be_cut_is_refused():
    plain = make_cut("round", width=6)
    with pytest.raises(OutOfRange, match="called lower"):
        deeper(plain, "lower", 0.1)
    for by in (-0.1, math.nan, math.inf):
        with pytest.raises(OutOfRange, match="deeper"):
            deeper(plain, "table", by)
    with pytest.raises(EmptySolid):
        deeper(plain, "table", 10)
    for depth in (0, -1, math.nan):
        with pytest.raises(OutOfRange, match="depth"):
            cut_to_size("round", length=6, width=6, depth=depth)
