"""A cutter's own tier table: distances from meets, in the order cut, and what such a table may not ask."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workshop.handbook.errors import OpenSolid, OutOfRange
from workshop.handbook.solids import (
    ImpossibleAngle,
    NoMeet,
    Plane,
    Tier,
    angle_through,
    azimuth_of,
    crown_height_percent,
    cut_table,
    make_cut,
    meet_point,
    pavilion_depth_percent,
    solve_tiers,
)

EIGHT = tuple(range(0, 96, 12))


def octagon(pavilion=42.0, crown=34.0, *, lift=0.3, teeth=96):
    """An eight-sided stone cut as at the machine: pavilion to a point, girdle, crown up from the girdle, table."""
    step = teeth // 8
    every = tuple(range(0, teeth, step))
    deep = 4 * math.sin(math.radians(pavilion))
    return [
        Tier("pavilion", "pavilion", pavilion, every, distance=deep),
        Tier("girdle", "girdle", 90, every, distance=4.0),
        Tier("crown", "crown", crown, every, through=(0.0, 4.0, lift)),
        Tier("table", "crown", 0, (0,), through=(0.0, 2.2, lift + 1.8 * math.tan(math.radians(crown)))),
    ]


def test_an_octagon_cut_by_tiers_has_its_closed_volume():
    """Pyramid, prism and frustum over one regular octagon of inradius 4; closed forms."""
    solid = cut_table(octagon(), 96).solid
    base = 8 * 16 * math.tan(math.pi / 8)
    deep, rise, part = 4 * math.tan(math.radians(42)), 1.8 * math.tan(math.radians(34)), 2.2 / 4
    expected = base * deep / 3 + base * 0.3 + rise * base * (1 + part + part**2) / 3
    assert solid.volume == pytest.approx(expected, rel=1e-12)
    assert len(solid.faces) == 8 + 8 + 8 + 1
    assert solid.depth == pytest.approx(deep + 0.3 + rise)


@pytest.mark.parametrize("teeth", [32, 64, 72, 80, 96, 120])
def test_the_same_cut_on_another_wheel_is_the_same_stone(teeth):
    assert cut_table(octagon(teeth=teeth), teeth).solid.volume == pytest.approx(
        cut_table(octagon(), 96).solid.volume
    )


def test_percentages_of_a_cut_by_tiers_agree_with_the_formulae():
    solid = cut_table(octagon(), 96).solid
    assert 100 * solid.crown_height / 8 == pytest.approx(crown_height_percent(55, 34))
    assert 100 * solid.pavilion_depth / 8 == pytest.approx(pavilion_depth_percent(42))


def standard_round(table_part=0.57):
    """Sixteen-sided girdle, breaks level on it, mains to meet breaks and girdle: every distance but two from a meet."""
    breaks = tuple(k + side for k in EIGHT for side in (-3, 3))
    radius = 5.0
    table = (0.0, table_part * radius, 0.0)
    mains = (("girdle", 93), ("girdle", 3), ("edge", 0))
    return [
        Tier(
            "girdle",
            "girdle",
            90,
            tuple(b % 96 for b in breaks),
            distance=radius * math.cos(math.radians(11.25)),
        ),
        Tier("edge", "crown", 0, (0,), distance=0.15),
        Tier("crown main", "crown", 34, EIGHT, meets=mains),
        Tier(
            "table",
            "crown",
            0,
            (0,),
            through=(*table[:2], 0.15 + (1 - table_part) * radius * math.tan(math.radians(34))),
        ),
    ]


def test_a_main_meets_two_girdle_facets_at_the_girdle_edge():
    distances, planes = solve_tiers(standard_round(), 96)
    main = next(plane for plane in planes if plane.label == "crown main 0")
    corner = np.array([0.0, 5.0, 0.15])
    assert np.dot(main.normal, corner) == pytest.approx(main.distance)
    assert distances[2] == pytest.approx(5 * math.sin(math.radians(34)) + 0.15 * math.cos(math.radians(34)))


def test_a_cut_rebuilt_from_its_own_angles_and_meets_is_the_same_stone():
    """Take a round with a level girdle, write its angles down as a table with meets, and cut it again."""
    round_ = make_cut("round", "brilliant", width=10, girdle_facets=1)
    upper, star = round_.angles("crown break")[0], round_.angles("crown star")[0]
    lower = round_.angles("pavilion break")[0]
    breaks = tuple((k + side) % 96 for k in EIGHT for side in (3, -3))
    stars = tuple(k + 6 for k in EIGHT)
    half = 0.3 / 2
    corner = (0.0, 5.0)
    low, high = (*corner, -half), (*corner, half)
    rise = round_.crown_height + half
    tiers = [
        Tier("low main", "pavilion", 42, EIGHT, through=low),
        Tier("low break", "pavilion", lower, breaks, through=low),
        Tier("girdle", "girdle", 90, breaks, distance=5 * math.cos(math.radians(11.25))),
        Tier("break", "crown", upper, breaks, through=high),
        Tier("main", "crown", 34, EIGHT, meets=(("break", 93), ("break", 3), ("girdle", 3))),
        Tier("table", "crown", 0, (0,), distance=rise),
        Tier("star", "crown", star, stars, meets=(("main", 0), ("main", 12), ("break", 3))),
    ]
    again = cut_table(tiers, 96).solid
    assert again.volume == pytest.approx(round_.volume, rel=1e-9)
    assert len(again.faces) == len(round_.faces)
    assert sorted(again.areas[again.areas > 1e-9]) == pytest.approx(sorted(round_.areas), rel=1e-6)


def test_the_star_angle_is_the_one_through_three_meets():
    round_ = make_cut("round", "brilliant", width=10)
    table = round_.table.corners
    near = sorted(table.tolist(), key=lambda p: abs(p[0] - 1e-9) if p[1] > 0 else 99)[0]
    star = next(f for f in round_.faces if f.label == "crown star")
    low = min(star.corners.tolist(), key=lambda p: p[2])
    top = [p for p in star.corners.tolist() if p[2] > low[2] + 1e-6]
    assert angle_through(low, top) == pytest.approx(star.plane.angle_deg)
    assert near[2] == pytest.approx(top[0][2])


def test_azimuths_follow_the_wheel_and_wrap():
    assert azimuth_of(24, 96) == 90
    assert azimuth_of(96, 96) == azimuth_of(0, 96) == 0
    assert azimuth_of(-3, 96) == azimuth_of(93, 96) == 348.75
    assert azimuth_of(0.5, 64) == 2.8125
    with pytest.raises(OutOfRange):
        azimuth_of(0, 2)


@given(st.lists(st.floats(-50, 50), min_size=9, max_size=9), st.floats(0.1, 5))
@settings(deadline=None)
def test_a_meet_lies_on_its_three_planes(numbers, distance):
    normals = np.array(numbers).reshape(3, 3)
    angles = [
        (abs(a) % 89, b * 7, side)
        for (a, b, _), side in zip(normals, ("crown", "pavilion", "crown"), strict=True)
    ]
    planes = [Plane(a, b, distance, side, f"p{i}") for i, (a, b, side) in enumerate(angles)]
    try:
        point = meet_point(planes)
    except NoMeet:
        return
    size = 1 + np.abs(point).max()
    assert all(abs(np.dot(plane.normal, point) - plane.distance) < 1e-6 * size for plane in planes)


# --- what is refused -----------------------------------------------------------------------------------------------


def test_a_meet_with_a_facet_not_yet_cut_is_refused_by_name():
    tiers = octagon()
    tiers.insert(0, Tier("early", "crown", 30, EIGHT, meets=(("crown", 0), ("crown", 12), ("table", 0))))
    with pytest.raises(NoMeet, match="crown 0, which is not cut above"):
        solve_tiers(tiers, 96)
    tiers = [*octagon(), Tier("late", "crown", 30, EIGHT, meets=(("crown", 1), ("crown", 12), ("table", 0)))]
    with pytest.raises(NoMeet, match="crown 1"):
        solve_tiers(tiers, 96)


def test_three_facets_that_do_not_cross_in_a_point_are_refused():
    walls = (("girdle", 0), ("girdle", 12), ("girdle", 24))
    with pytest.raises(NoMeet, match="cross"):
        solve_tiers([*octagon(), Tier("x", "crown", 30, EIGHT, meets=walls)], 96)
    with pytest.raises(NoMeet, match="three"):
        meet_point([])


def test_one_way_to_say_how_deep_and_only_one():
    with pytest.raises(OutOfRange, match="one of them"):
        Tier("both", "crown", 30, (0,), distance=1.0, through=(0, 0, 1))
    with pytest.raises(OutOfRange, match="one of them"):
        Tier("neither", "crown", 30, (0,))


def test_a_table_with_a_slip_in_it_is_refused():
    with pytest.raises(OutOfRange, match="Two tiers"):
        solve_tiers([*octagon(), Tier("crown", "crown", 20, (0,), distance=1)], 96)
    with pytest.raises(OutOfRange, match="twice"):
        solve_tiers([Tier("a", "crown", 20, (0, 96), distance=1)], 96)
    with pytest.raises(OutOfRange, match="setting"):
        Tier("a", "crown", 20, (), distance=1)
    with pytest.raises(OutOfRange, match="not a number"):
        Tier("a", "crown", 20, (math.nan,), distance=1)
    with pytest.raises(OutOfRange, match="not a number"):
        solve_tiers([Tier("a", "crown", 20, (0,), distance=math.nan)], 96)
    with pytest.raises(ImpossibleAngle):
        Tier("a", "girdle", 45, (0,), distance=1)
    with pytest.raises(ImpossibleAngle):
        angle_through((0, 0, 0), [(1, 1, 1), (2, 2, 2)])


def test_a_table_without_a_crown_is_open_above():
    with pytest.raises(OpenSolid, match="above"):
        cut_table(octagon()[:2], 96)
