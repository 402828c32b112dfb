"""Own cases of the wheels chapter: properties, refusals and the girdle balance helper."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.handbook import wheels
from workshop.handbook.errors import OutOfRange

D = Decimal
teeth = st.integers(16, 200)
folds = st.integers(2, 16)


@given(teeth, folds)
def test_no_facet_is_further_off_than_half_a_tooth(g, n):
    division = wheels.nearest_settings(g, n)
    assert all(abs(error) <= Fraction(1, 2) for error in division.errors_teeth)
    assert division.greatest_error_deg <= 180 / g + 1e-12
    assert division.exact == (g % n == 0)


@given(teeth, folds)
def test_error_is_wanted_azimuth_minus_tooth(g, n):
    division = wheels.nearest_settings(g, n)
    for k, (setting, error) in enumerate(zip(division.settings, division.errors_deg, strict=True)):
        wanted = (setting * 360 / g + error) % 360
        assert min(abs(wanted - k * 360 / n) % 360, 360 - abs(wanted - k * 360 / n) % 360) < 1e-9


@given(teeth, st.integers(3, 16))
def test_steps_go_once_round(g, n):
    assert sum(wheels.nearest_settings(g, n).steps_deg) == pytest.approx(360)


@given(st.sampled_from([3, 5, 7, 9, 11, 13, 15]), teeth)
def test_odd_symmetry_on_a_coprime_wheel_misses_by_the_closed_form(n, g):
    """Bound for n coprime to G and odd: 180 (n-1) / (n G) (derived: the residues k G mod n run through 0..n-1)."""
    from math import gcd

    if gcd(n, g) == 1:
        assert wheels.nearest_settings(g, n).greatest_error_deg == pytest.approx(180 * (n - 1) / (n * g))


@given(st.lists(st.integers(0, 96), min_size=1, max_size=20), st.sampled_from([64, 72, 80, 96, 120]))
def test_moving_to_another_wheel_and_back_where_it_is_exact(settings, other):
    for moved in wheels.move_settings(settings, 96, other):
        if moved.exact:
            (back,) = wheels.move_settings([moved.nearest], other, 96)
            assert back.exact
            assert back.nearest == moved.old % 96
        assert abs(moved.error_deg) <= 180 / other + 1e-12


def test_a_start_between_teeth_turns_the_whole_pattern():
    """4 corners of a square stood on the half tooth of an 80 wheel: every corner is half a tooth off."""
    division = wheels.nearest_settings(80, 4, start=Fraction(5, 2))
    assert division.settings == (3, 23, 43, 63)
    assert set(division.errors_teeth) == {Fraction(-1, 2)}


def test_start_beyond_one_turn_wraps_and_stays_in_wheel_order():
    division = wheels.nearest_settings(96, 8, start=90)
    assert division.settings == (6, 18, 30, 42, 54, 66, 78, 90)
    assert division.exact


def test_labels_name_the_top_tooth_by_the_count():
    assert [wheels.setting_label(s, 96) for s in (0, 96, 12)] == ["96", "96", "12"]


def test_wheels_for_a_fold_needs_more_with_midway_and_breaks():
    assert [w.teeth for w in wheels.wheels_for(7)] == [77, 84, 112]
    assert [w.teeth for w in wheels.wheels_for(7, midway=True)] == [84, 112]
    assert [w.teeth for w in wheels.wheels_for(7, breaks=True)] == [84, 112]
    assert [w.teeth for w in wheels.wheels_for(8, breaks=True)] == [32, 64, 96]


@pytest.mark.parametrize("bad", [0, 2, -96, 5000])
def test_a_wheel_without_sensible_teeth_is_refused(bad):
    with pytest.raises(OutOfRange, match="teeth"):
        wheels.degrees_per_tooth(bad)


def test_other_refusals_say_what_to_do():
    with pytest.raises(OutOfRange, match="no setting 97"):
        wheels.move_settings([97], 96, 64)
    with pytest.raises(OutOfRange, match="finer wheel"):
        wheels.nearest_settings(8, 9)
    with pytest.raises(OutOfRange, match="1-fold or more"):
        wheels.divides(96, 0)
    with pytest.raises(OutOfRange, match="180"):
        _ = wheels.nearest_settings(96, 2).side_lengths


def test_girdle_balance_names_the_long_and_the_short_side():
    """Mean of 5.00 5.10 4.90 5.00 is 5.00; with 0.05 either way side 2 is long, side 3 short."""
    balance = wheels.girdle_balance([D("5.00"), D("5.10"), D("4.90"), D("5.00")], D("0.05"))
    assert balance.mean == D("5.00")
    assert [side.verdict for side in balance.sides] == ["even", "long", "short", "even"]
    assert [side.off for side in balance.sides] == [D(0), D("0.10"), D("-0.10"), D(0)]
    assert balance.sides[1].off_percent == 2
    assert not balance.balanced
    assert balance.spread_percent == 4


def test_a_side_off_by_exactly_the_tolerance_is_even():
    balance = wheels.girdle_balance([D("5.05"), D("4.95"), D("5.00")], D("0.05"))
    assert balance.balanced


@given(st.lists(st.decimals(D("0.5"), D(20), places=2), min_size=3, max_size=16))
def test_what_is_long_equals_what_is_short(lengths):
    balance = wheels.girdle_balance(lengths, D("0.01"))
    assert abs(sum(side.off for side in balance.sides)) < D("1e-20")


@pytest.mark.parametrize(
    ("sides", "tolerance", "says"),
    [
        ([D(1), D(1)], D("0.1"), "three sides"),
        ([D(1), D(0), D(1)], D("0.1"), "longer than zero"),
        ([D(1), D("NaN"), D(1)], D("0.1"), "longer than zero"),
        ([D(1), D(1), D(1)], D("-0.1"), "tolerance"),
    ],
)
def test_girdle_balance_refuses(sides, tolerance, says):
    with pytest.raises(OutOfRange, match=says):
        wheels.girdle_balance(sides, tolerance)
