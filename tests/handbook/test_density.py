"""Own cases of the density chapter: Monte Carlo, properties and refusals."""

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.handbook import density
from workshop.handbook.errors import DoesNotAddUp, OutOfRange


@pytest.mark.parametrize("sg", [2.65, 4.0])
@pytest.mark.parametrize("weight", [1.0, 3.0, 10.0])
@pytest.mark.parametrize("step", [0.01, 0.001])
def test_uncertainty_agrees_with_a_monte_carlo(sg, weight, step):
    """JCGM 101: draw the four readings and the temperature, work out SG each time; within 3 % of the formula."""
    rng = np.random.default_rng(7)
    count, water = 200_000, density.water_density(22)
    reading = lambda: rng.uniform(-step / 2, step / 2, count)  # noqa: E731
    air = weight + reading() - reading()
    wet = weight * (1 - water / sg) + reading() - reading()
    t = 22 + rng.uniform(-1, 1, count)
    liquid = 0.999974950 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))
    drawn = (air * water / (air - wet) * (liquid / water)).std()
    u = density.weigh(weight, weight * (1 - water / sg), balance_step=step, water_c=22).standard_uncertainty
    assert u == pytest.approx(drawn, rel=0.03)


def test_the_interval_holds_the_true_value_about_95_times_in_100():
    rng = np.random.default_rng(11)
    water, sg, weight, held = density.water_density(22), 3.52, 1.5, 0

    def read(true):
        """A balance of .01 ct: the zero it was set to is off by up to half a step, and the display rounds."""
        return round((true + rng.uniform(-0.005, 0.005)) / 0.01) * 0.01

    for _ in range(2000):
        stone = weight + rng.uniform(0, 0.1)
        result = density.weigh(read(stone), read(stone * (1 - water / sg)), balance_step=0.01, water_c=22)
        held += result.low <= sg <= result.high
    assert 0.93 <= held / 2000 <= 0.99


@given(
    st.floats(0.2, 500), st.floats(1.05, 7.2), st.floats(0, 40), st.sampled_from([0.0, density.AIR_DENSITY])
)
def test_sg_comes_back_from_the_weights_it_makes(weight, sg, celsius, air):
    """Archimedes: apparent weights Wa = V (SG - air), Ww = V (SG - water)."""
    water = density.water_density(celsius)
    volume = weight / (sg - air)
    found = density.specific_gravity(
        volume * (sg - air), volume * (sg - water), water_c=celsius, air_density=air
    )
    assert found == pytest.approx(sg, rel=1e-9)


@given(st.floats(0.1, 100), st.floats(0.001, 0.1))
def test_uncertainty_goes_as_one_over_the_weight(weight, step):
    one, two = (density.balance_uncertainty(w, 3.5, balance_step=step) for w in (weight, weight * 2))
    assert one == pytest.approx(2 * two)


def test_decimals_are_welcome():
    assert density.specific_gravity(Decimal("4.02"), Decimal("3.32"), wire=Decimal("0.30")) == pytest.approx(
        4.02
    )


def test_water_is_densest_at_four_degrees():
    assert max(range(41), key=density.water_density) == 4


def test_the_ends_of_the_water_table_are_the_ends_of_its_uncertainty():
    assert density.water_uncertainty(40, 2) == pytest.approx(density.water_uncertainty(39, 1), rel=0.3)
    assert density.water_uncertainty(22, 0) == 0


@pytest.mark.parametrize(
    ("ask", "error", "says"),
    [
        (lambda: density.water_density(-0.1), OutOfRange, "0 to 40"),
        (lambda: density.water_density(41), OutOfRange, "0 to 40"),
        (lambda: density.water_density(math.nan), OutOfRange, "0 to 40"),
        (lambda: density.specific_gravity(2, 2), DoesNotAddUp, "less in water"),
        (lambda: density.specific_gravity(2, 2.5), DoesNotAddUp, "less in water"),
        (lambda: density.specific_gravity(2, 0.1, wire=0.3), DoesNotAddUp, "floats"),
        (lambda: density.specific_gravity(0, 0), OutOfRange, "more than zero"),
        (lambda: density.specific_gravity(math.nan, 1), OutOfRange, "numbers"),
        (lambda: density.specific_gravity(2, 1, wire=-1), OutOfRange, "wire"),
        (lambda: density.specific_gravity(2, 1, air_density=2), OutOfRange, "lighter"),
        (lambda: density.weigh(2, 1, balance_step=0, water_c=20), OutOfRange, "step"),
        (lambda: density.weigh(2, 1, balance_step=0.01, water_c=20, water_c_within=-1), OutOfRange, "within"),
        (lambda: density.sg_error(0, 4, 0.01), OutOfRange, "more than zero"),
        (lambda: density.wire_drag_ct(-1), OutOfRange, "thick"),
    ],
)
def test_impossible_weighings_are_refused(ask, error, says):
    with pytest.raises(error, match=says):
        ask()
