"""Own cases of the optics chapter: properties, limits and refusals."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.handbook import optics
from workshop.handbook.errors import OutOfRange

indices = st.floats(1.3, 3.5)


@given(indices, st.floats(0, 89))
def test_in_and_out_again_is_the_same_direction(index, incidence):
    inside = optics.into_stone_deg(incidence, index)
    assert optics.out_of_stone_deg(inside, index) == pytest.approx(incidence, abs=1e-6)


@given(indices, st.floats(0, 89.9))
def test_reflection_is_the_same_from_either_side_of_one_path(index, incidence):
    """Reciprocity: what is reflected on the way in is reflected on the way out along the same path."""
    inside = optics.into_stone_deg(incidence, index)
    there = float(optics.reflectance(incidence, index))
    back = float(optics.reflectance(inside, index, from_inside=True))
    assert back == pytest.approx(there, abs=1e-6)


@given(indices)
def test_reflection_from_inside_is_total_past_the_critical_angle(index):
    critical = optics.critical_angle_deg(index)
    beyond = optics.reflectance(np.linspace(critical + 1e-6, 90, 50), index, from_inside=True)
    assert (beyond == 1).all()
    assert float(optics.reflectance(critical * 0.99, index, from_inside=True)) < 1


@given(indices)
def test_grazing_light_is_all_reflected(index):
    assert float(optics.reflectance(90, index)) == pytest.approx(1)


@given(indices)
def test_parallel_light_vanishes_at_brewsters_angle(index):
    """At atan n the reflected and the refracted ray stand at right angles, so only the across half is left."""
    at = optics.brewster_deg(index)
    assert at + optics.into_stone_deg(at, index) == pytest.approx(90)
    across = ((index**2 - 1) / (index**2 + 1)) ** 2
    assert float(optics.reflectance(at, index)) == pytest.approx(across / 2)


@given(indices, st.floats(30, 60))
def test_tilt_is_zero_exactly_where_it_windows_face_up(index, pavilion):
    critical = optics.critical_angle_deg(index)
    tilt = optics.window_tilt(index, pavilion)
    windows = pavilion <= critical or pavilion >= optics.steepest_useful_pavilion_deg(index)
    assert tilt.face_up == windows


@given(indices)
def test_tilt_tolerance_is_greatest_at_45(index):
    """Derived: P and 180 - 3P cross at 45 degrees."""

    def tolerance(pavilion):
        tilt = optics.window_tilt_deg(index, pavilion)
        return 90 if tilt is None else tilt

    assert tolerance(45) >= max(tolerance(44.5), tolerance(45.5))


def test_a_stone_may_never_window():
    """Moissanite, n 2.65, at 45: 45 - 22.2 = 22.8; 2.65 sin 22.8 > 1, so no tilt lets light through the first facet."""
    assert optics.window_tilt(2.65, 45).first_deg is None
    assert optics.window_tilt_deg(2.65, 45) is None


@given(indices, st.floats(20, 60), st.floats(20, 50))
def test_least_table_is_under_the_greatest(index, pavilion, crown):
    least, greatest = optics.table_limits(index, pavilion, crown)
    assert least < greatest or crown - optics.into_stone_deg(crown, index) >= optics.critical_angle_deg(index)


@given(st.lists(st.floats(0, 89), min_size=1, max_size=6), st.floats(30, 50), st.floats(30, 50))
def test_tangent_ratio_there_and_back_again(angles, old, new):
    there = optics.carry_angles(angles, old, new)
    back = optics.carry_angles(there.angles_deg, new, old)
    assert back.angles_deg == pytest.approx(tuple(angles), abs=1e-9)


@given(st.floats(30, 50), st.floats(30, 50))
def test_the_main_itself_lands_on_the_new_main(old, new):
    assert optics.carry_angles([old], old, new).angles_deg[0] == pytest.approx(new)


def test_a_small_shift_warns_of_nothing():
    assert optics.carry_angles([42, 60], 43, 42).warnings == ()


def test_a_large_shift_and_a_lower_one_warn():
    up = optics.carry_angles([60], 40, 43).warnings
    down = optics.carry_angles([60], 43, 39).warnings
    assert len(up) == 1
    assert "+3.00°" in up[0]
    assert len(down) == 2
    assert "worse" in down[1]


def test_a_tier_below_the_critical_angle_is_named():
    """Quartz, critical angle 40.37: mains at 41 pass, a tier carried to under 40.37 does not."""
    carried = optics.carry_angles([41.5], 42.5, 41, pavilion_index=1.544)
    assert carried.angles_deg[0] == pytest.approx(40.00, abs=0.02)
    assert any("below the critical angle 40.37°" in warning for warning in carried.warnings)
    assert any("window from 1.0° of tilt" in warning for warning in carried.warnings)


def test_mains_past_the_second_facet_limit_are_named():
    warnings = optics.carry_angles([47], 46, 47, pavilion_index=1.544).warnings
    assert any("second facet leaks face-up" in warning for warning in warnings)


def test_divergence_outside_matches_the_head_zone_edge():
    """Harding: at the edge of the zone the divergence in air is exactly the head's 10 degrees."""
    zone = optics.viewer_head_zone(1.762)
    for edge in (zone.low_deg, zone.high_deg):
        inside = optics.table_to_table_divergence_deg(edge)
        assert optics.divergence_outside_deg(inside, 1.762) == pytest.approx(10)
    assert zone.holds(45)
    assert not zone.holds(43)
    assert optics.divergence_outside_deg(170, 1.762) is None


def test_recommendations_carry_their_judgement():
    """Topaz at 39 is 0.9 over critical and windows at 1.4 degrees of tilt (derived)."""
    low = optics.recommended_pavilions(1.62)[0]
    assert low.angle_deg == 39
    assert low.over_critical_deg == pytest.approx(0.9, abs=0.05)
    assert low.window_tilt_deg == pytest.approx(1.4, abs=0.05)
    assert not low.in_head_zone


@pytest.mark.parametrize("index", [1.0, 1.29, 3.51, -1, math.nan, math.inf])
@pytest.mark.parametrize(
    "ask",
    [
        optics.critical_angle_deg,
        optics.brewster_deg,
        optics.normal_reflectance,
        optics.viewer_head_zone,
        optics.recommended_pavilions,
        optics.tolkowsky_limits,
        lambda n: optics.window_tilt(n, 42),
        lambda n: optics.table_limits(n, 42, 35),
        lambda n: optics.reflectance(10, n),
        lambda n: optics.carry_angles([50], 42, 41, pavilion_index=n),
    ],
)
def test_an_index_no_gem_has_is_refused(ask, index):
    with pytest.raises(OutOfRange, match="refractive index"):
        ask(index)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: optics.window_tilt(1.544, 0),
        lambda: optics.window_tilt(1.544, 61),
        lambda: optics.into_stone_deg(91, 1.5),
        lambda: optics.out_of_stone_deg(-1, 1.5),
        lambda: optics.reflectance([10, 100], 1.5),
        lambda: optics.carry_angles([91], 42, 41),
        lambda: optics.carry_angles([50], 0, 41),
        lambda: optics.carry_angles([50], 42, 90),
        lambda: optics.table_limits(1.544, 90, 30),
        lambda: optics.viewer_head_zone(1.544, divergence_deg=200),
    ],
)
def test_impossible_angles_are_refused(ask):
    with pytest.raises(OutOfRange, match="°"):
        ask()
