"""The steepest angles that fit a depth, against the closed forms of a round and against the solid itself."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workshop.handbook import outlines
from workshop.handbook.errors import OutOfRange
from workshop.handbook.solids import (
    CrownMeetsPavilion,
    ImpossibleAngle,
    Proportions,
    cut,
    depth_of,
    fitted_to_depth,
)

ROUND = outlines.make_outline("round", length=10, width=10)
PLAIN = Proportions()  # 57 % table, crown 34, girdle 3 %, pavilion 42


def tan(degrees):
    return math.tan(math.radians(degrees))


def test_a_flatter_pavilion_takes_what_is_missing():
    """Pavilion depth of a round is 50 % x tan P (Reinitz, Geurts and Gilbertson, studylib.net/doc/8864652)."""
    crown, girdle = 2.15 * tan(34), 0.3
    found = fitted_to_depth("brilliant", ROUND, PLAIN, 6.0, part="pavilion")
    assert found.pavilion_angle == pytest.approx(math.degrees(math.atan((6.0 - crown - girdle) / 5)))
    assert found.crown_angle == 34


def test_a_flatter_crown_takes_what_is_missing():
    """Crown height of a round is (100 - table) / 2 x tan C, same source."""
    pavilion, girdle = 5 * tan(42), 0.3
    found = fitted_to_depth("brilliant", ROUND, PLAIN, 5.6, part="crown")
    assert found.crown_angle == pytest.approx(math.degrees(math.atan((5.6 - pavilion - girdle) / 2.15)))
    assert found.pavilion_angle == 42


def test_both_go_by_one_ratio_of_the_tangents():
    """B. Keller, Gemstone design conversion using the tangent ratio method (usfacetersguild.org)."""
    found = fitted_to_depth("brilliant", ROUND, PLAIN, 5.5, part="both")
    ratio = (5.5 - 0.3) / (2.15 * tan(34) + 5 * tan(42))
    assert tan(found.crown_angle) / tan(34) == pytest.approx(ratio)
    assert tan(found.pavilion_angle) / tan(42) == pytest.approx(ratio)


def test_where_there_is_room_the_angles_rise():
    found = fitted_to_depth("brilliant", ROUND, PLAIN, 7.0, part="pavilion")
    assert found.pavilion_angle > 42
    assert depth_of("brilliant", ROUND, found) == pytest.approx(7.0)


def test_no_crown_is_flat_enough_for_less_than_pavilion_and_girdle():
    assert fitted_to_depth("brilliant", ROUND, PLAIN, 5 * tan(42) + 0.2, part="crown") is None


@pytest.mark.parametrize("depth", [0, -1, math.nan, math.inf])
def test_a_depth_is_a_size_above_zero(depth):
    with pytest.raises(OutOfRange):
        fitted_to_depth("brilliant", ROUND, PLAIN, depth)


def test_an_unknown_part_is_named():
    with pytest.raises(OutOfRange, match="girdle"):
        fitted_to_depth("brilliant", ROUND, PLAIN, 6, part="girdle")


@given(
    st.sampled_from([key for key in outlines.KEYS if key not in ("heart", "polygon")]),
    st.sampled_from(["brilliant", "step", "mixed"]),
    st.sampled_from(["pavilion", "crown", "both"]),
    st.floats(0.3, 1.2),
)
@settings(max_examples=60, deadline=None)
def test_what_is_found_is_as_deep_as_asked_or_as_steep_as_can_be(key, style, part, deep):
    ratio = outlines.usual_length_to_width(key)
    outline = outlines.make_outline(key, length=8 * ratio, width=8)
    found = fitted_to_depth(style, outline, PLAIN, 8 * deep, part=part)
    if found is None:
        return
    depth = depth_of(style, outline, found)
    assert depth <= 8 * deep * (1 + 1e-9)
    try:
        solid = cut(style, outline, found)
    except (CrownMeetsPavilion, ImpossibleAngle):
        # Some depths want breaks so steep that they meet at the girdle; the angles are told all the same.
        return
    assert solid.depth <= 8 * deep * (1 + 1e-6)
