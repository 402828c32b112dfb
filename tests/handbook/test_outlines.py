"""Outlines: right size, right area, convex where they say so, and divided where a cutter would divide them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import gamma

from workshop.handbook import outlines
from workshop.handbook.errors import OutOfRange
from workshop.handbook.outlines import make_outline, measure, regular_polygon

CONVEX = [key for key in outlines.KEYS if key != "heart"]


def turns(points):
    """Cross product at each corner: all negative for a convex loop that runs clockwise."""
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    return before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]


def usual(key, width=8.0, sides=8):
    ratio = outlines.usual_length_to_width(key, sides)
    return make_outline(key, length=width * ratio, width=width, sides=sides)


@pytest.mark.parametrize("key", outlines.KEYS)
def test_an_outline_has_the_size_asked_for(key):
    points = usual(key).array
    assert np.ptp(points[:, 0]) == pytest.approx(8.0, rel=1e-12)
    assert np.ptp(points[:, 1]) == pytest.approx(8.0 * outlines.usual_length_to_width(key), rel=1e-12)
    assert points.max(axis=0) == pytest.approx(-points.min(axis=0), abs=1e-12)


@pytest.mark.parametrize("ratio", [0.4, 0.8, 1.0, 1.3, 2.0, 3.5])
@pytest.mark.parametrize("key", [key for key in CONVEX if key not in ("round", "square")])
def test_convex_outlines_stay_convex_at_any_length_to_width(key, ratio):
    outline = make_outline(key, length=ratio, width=1.0)
    assert outline.convex
    assert turns(outline.array).max() < 1e-9
    assert turns(outlines.places(outline, 16)).max() < 1e-9


def test_a_heart_is_not_convex_and_its_hull_is():
    heart = usual("heart")
    assert not heart.convex
    assert turns(heart.array).max() > 1e-3
    bridged = outlines.hull(heart)
    assert bridged.convex
    assert turns(bridged.array).max() < 1e-9
    assert outlines.area(heart) < outlines.area(bridged) < 1.1 * outlines.area(heart)
    assert (bridged.length, bridged.width) == (heart.length, heart.width)


@pytest.mark.parametrize("key", [key for key in outlines.KEYS if key != "polygon"])
def test_left_and_right_are_mirrored(key):
    points = usual(key).array
    mirrored = points * [-1, 1]
    gaps = np.hypot(*(points[:, None] - mirrored[None]).transpose(2, 0, 1)).min(axis=1)
    assert gaps.max() < 1e-9


# Areas by closed forms of plane geometry (exact; no source needed): pi a b of the ellipse, the superellipse by gamma
# functions (DLMF 5.12), the lens of two arcs, trapezia.
def test_areas_against_closed_forms():
    assert outlines.area(make_outline("round", length=2, width=2)) == pytest.approx(math.pi, rel=1e-8)
    assert outlines.area(make_outline("oval", length=9, width=7)) == pytest.approx(math.pi * 63 / 4, rel=1e-8)
    p = outlines.CUSHION_POWER
    cushion = 4 * gamma(1 + 1 / p) ** 2 / gamma(1 + 2 / p)
    assert outlines.area(make_outline("cushion", length=2, width=2)) == pytest.approx(cushion, rel=1e-7)
    length, width = 16.0, 8.0
    radius = (length**2 + width**2) / (4 * width)
    half = math.asin(length / 2 / radius)
    lens = radius**2 * (2 * half - math.sin(2 * half))
    assert outlines.area(make_outline("marquise", length=length, width=width)) == pytest.approx(
        lens, rel=1e-7
    )
    pear = lens / 2 + math.pi * 4**2 / 2
    assert outlines.area(make_outline("pear", length=12, width=8)) == pytest.approx(pear, rel=1e-7)
    assert outlines.area(make_outline("rectangle", length=9, width=7)) == 63
    assert outlines.area(make_outline("kite", length=9, width=7)) == pytest.approx(63 / 2)
    leg = outlines.CORNER_LEG * 7
    assert outlines.area(make_outline("cut_corner_rectangle", length=9, width=7)) == pytest.approx(
        63 - 2 * leg**2
    )


def test_perimeters_against_closed_forms():
    assert outlines.perimeter(make_outline("round", length=2, width=2)) == pytest.approx(
        2 * math.pi, rel=1e-8
    )
    around, _ = quad(lambda t: math.hypot(4.5 * math.cos(t), 3.5 * math.sin(t)), 0, 2 * math.pi, epsabs=1e-12)
    assert outlines.perimeter(make_outline("oval", length=9, width=7)) == pytest.approx(around, rel=1e-8)
    assert outlines.perimeter(make_outline("kite", length=8, width=6)) == pytest.approx(
        2 * (math.hypot(3, 8 * outlines.KITE_SHOULDER) + math.hypot(3, 8 * (1 - outlines.KITE_SHOULDER)))
    )


def test_the_centre_of_area_of_a_half_round_head_lies_towards_the_head():
    x, y = outlines.centroid(make_outline("pear", length=15, width=10))
    assert x == pytest.approx(0, abs=1e-9)
    assert -1.5 < y < 0
    assert outlines.centroid(make_outline("kite", length=9, width=6))[1] == pytest.approx(
        (4.5 + (4.5 - 9 * outlines.KITE_SHOULDER) - 4.5) / 3
    )


@pytest.mark.parametrize("key", ["round", "oval", "cushion", "pear", "marquise"])
def test_sixteen_places_take_in_the_ends_and_the_widest_points(key):
    outline = usual(key)
    points = outlines.places(outline, 16)
    assert len(points) == 16
    assert np.ptp(points[:, 0]) == pytest.approx(outline.width, rel=1e-9)
    assert np.ptp(points[:, 1]) == pytest.approx(outline.length, rel=1e-9)


def test_mains_come_down_at_every_corner():
    for key in ("pear", "marquise", "triangle", "shield", "kite", "cut_corner_rectangle"):
        outline = usual(key)
        stations = outlines.stations(outline, 16)
        mains = {tuple(np.round(p, 9)) for p in stations.points[stations.main]}
        assert mains >= {tuple(np.round(outline.array[c], 9)) for c in outline.corners}
        pairs = zip(stations.main, np.roll(stations.main, -1), strict=True)
        assert not any(not a and not b for a, b in pairs), "two junctions without a main between them"


def test_girdle_half_planes_bound_the_places_and_nothing_else():
    outline = usual("oval")
    planes = outlines.half_planes(outline, 16)
    points = outlines.places(outline, 16)
    normal = np.array(
        [[math.sin(math.radians(h.azimuth_deg)), math.cos(math.radians(h.azimuth_deg))] for h in planes]
    )
    room = np.array([h.distance for h in planes]) - points @ normal.T
    assert room.min() > -1e-9
    assert ((np.abs(room) < 1e-9).sum(axis=0) == 2).all()
    assert sorted(h.azimuth_deg for h in planes) == pytest.approx([h.azimuth_deg for h in planes])


def test_side_lengths_of_a_rectangle_are_read_around():
    rectangle = make_outline("rectangle", length=9, width=7)
    assert list(outlines.side_lengths(rectangle.points)) == pytest.approx([9, 7, 9, 7])


# Rules of measuring: a Thai laboratory's page, http://aglthai.com/measurement.php (WT-14a of our notes).
def test_round_and_square_are_the_mean_of_two_readings():
    assert measure(make_outline("round", length=8.08, width=8.02)).width == pytest.approx(8.05)
    assert measure(make_outline("square", length=5.9, width=5.7)).length == pytest.approx(5.8)


def test_a_rectangle_is_measured_along_its_side_not_its_diagonal():
    said = measure(make_outline("rectangle", length=4, width=3))
    assert (said.length, said.width) == (4, 3)


def test_a_triangle_may_be_shorter_than_it_is_wide():
    triangle = make_outline("triangle", length=5.0, width=6.0)
    said = measure(triangle)
    assert said.length == 5.0
    assert said.width == pytest.approx(6.0, rel=1e-9)
    assert said.length < said.width


def test_a_heart_is_measured_across_the_lobes_and_from_point_to_lobes():
    said = measure(make_outline("heart", length=5.0, width=6.0))
    assert (said.length, said.width) == (5.0, 6.0)


def test_other_shapes_are_measured_along_the_longest_dimension():
    said = measure(make_outline("marquise", length=5.0, width=10.0))
    assert said.length == pytest.approx(10.0, rel=1e-6)
    assert said.width == pytest.approx(5.0, rel=1e-6)


def test_an_octagon_is_read_flat_to_flat_and_point_to_point():
    octagon = regular_polygon(8, 1.0)
    said = measure(make_outline("polygon", length=octagon.inscribed, width=octagon.inscribed, sides=8))
    assert said.width == pytest.approx(octagon.flat_to_flat, rel=1e-9)
    assert said.length == pytest.approx(octagon.point_to_point, rel=1e-5)


@pytest.mark.parametrize("sides", range(3, 25))
def test_the_diameters_of_a_polygon_against_its_own_corners(sides):
    exact = regular_polygon(sides, 1.0)
    turn = 2 * np.pi * np.arange(sides) / sides
    corners = exact.circumradius * np.column_stack([np.sin(turn), np.cos(turn)])
    apart = np.hypot(*(corners[:, None] - corners[None]).transpose(2, 0, 1))
    assert apart.max() == pytest.approx(exact.point_to_point)
    assert np.hypot(*(corners[1] - corners[0])) == pytest.approx(exact.side)
    middle = (corners[0] + corners[1]) / 2
    assert np.hypot(*middle) == pytest.approx(exact.inradius)
    across = np.hypot(*(middle - corners[(sides + 1) // 2])) if sides % 2 else 2 * np.hypot(*middle)
    assert across == pytest.approx(exact.flat_to_point if sides % 2 else exact.flat_to_flat)
    assert (exact.flat_to_flat is None) == (sides % 2 == 1) == (exact.flat_to_point is not None)


@given(
    st.integers(3, 24), st.sampled_from(["circumscribed", "inscribed", "point_to_point"]), st.floats(0.1, 100)
)
def test_a_polygon_from_a_reading_gives_that_reading_back(sides, across, width):
    assert getattr(outlines.regular_polygon_from_width(sides, width, across=across), across) == pytest.approx(
        width
    )


def test_a_polygon_has_no_reading_it_cannot_have():
    with pytest.raises(OutOfRange, match="flat_to_flat"):
        outlines.regular_polygon_from_width(7, 6.0, across="flat_to_flat")
    with pytest.raises(OutOfRange, match="flat_to_point"):
        outlines.regular_polygon_from_width(8, 6.0, across="flat_to_point")
    with pytest.raises(OutOfRange):
        outlines.regular_polygon_from_width(8, 6.0, across="side")


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"length": 0, "width": 5}, "length"),
        ({"length": 5, "width": -1}, "width"),
        ({"length": math.nan, "width": 5}, "length"),
        ({"length": math.inf, "width": 5}, "length"),
        ({"length": 50, "width": 5}, "1/8 to 8"),
    ],
)
def test_sizes_that_cannot_be_are_refused(said, words):
    with pytest.raises(OutOfRange, match=words):
        make_outline("oval", **said)


def test_names_that_do_not_fit_are_refused():
    with pytest.raises(outlines.UnknownOutline, match="marquise") as caught:
        make_outline("blob", length=5, width=5)
    assert caught.value.said["known"] == outlines.KEYS
    with pytest.raises(OutOfRange, match="oval"):
        make_outline("round", length=9, width=7)
    with pytest.raises(OutOfRange, match="rectangle"):
        make_outline("square", length=9, width=7)
    for sides in (2, 25):
        with pytest.raises(OutOfRange, match="3 to 24"):
            make_outline("polygon", length=5, width=5, sides=sides)


@given(st.sampled_from(CONVEX), st.floats(0.2, 40), st.floats(0.96, 1.04))
def test_area_goes_with_the_square_of_the_size(key, size, ratio):
    one = make_outline(key, length=ratio, width=1.0)
    many = make_outline(key, length=ratio * size, width=size)
    assert outlines.area(many) == pytest.approx(size**2 * outlines.area(one), rel=1e-9)
    assert outlines.perimeter(many) == pytest.approx(size * outlines.perimeter(one), rel=1e-9)


@pytest.mark.parametrize(("key", "ratio"), [(key, r) for key in outlines.KEYS for r in (None, 1.3)])
def test_an_outline_has_the_symmetry_it_claims(key, ratio):
    """Turned by a full turn over ``folds`` it lies on itself; with two mirrors or more, top and bottom agree."""
    if key in ("round", "square") and ratio:
        return
    outline = make_outline(key, length=ratio or outlines.usual_length_to_width(key), width=1.0)
    folds = 16 if outline.folds is None else outline.folds
    turn = 2 * math.pi / folds
    spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    points = outline.array
    for moved in (points @ spin, points * ([1, -1] if (outline.mirrors or 2) >= 2 else [-1, 1])):
        gaps = np.hypot(*(points[:, None] - moved[None]).transpose(2, 0, 1)).min(axis=1)
        assert gaps.max() < 0.01


def test_a_shape_given_wider_than_long_lies_on_its_side():
    for key in ("marquise", "cut_corner_rectangle", "oval"):
        lying, standing = make_outline(key, length=4, width=9), make_outline(key, length=9, width=4)
        assert outlines.area(lying) == pytest.approx(outlines.area(standing), rel=1e-9)
        assert outlines.perimeter(lying) == pytest.approx(outlines.perimeter(standing), rel=1e-9)
