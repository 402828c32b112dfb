"""Cost shared among what carries it, after IAS 2."""

from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from workshop.handbook.allocation import (
    abnormal_loss,
    allocate_by_relative_value,
    carrying_amount,
    net_realisable_value,
    reversal,
    split,
    split_seconds,
    write_down,
)
from workshop.handbook.errors import DoesNotAddUp, NothingToShareBy, OutOfRange

D = Decimal
CENT = D("0.01")
amounts = st.integers(0, 10**8).map(lambda n: n * CENT)
values = st.lists(amounts, min_size=1, max_size=20)


def test_split_takes_its_step():
    assert split(D(100), [D(1)] * 3, step=D(1)) == [34, 33, 33]
    assert split(D("1.000"), [D(1)] * 3, step=D("0.001")) == [D("0.334"), D("0.333"), D("0.333")]


@given(st.integers(0, 10**7), st.lists(st.integers(0, 10**6), min_size=1, max_size=12))
def test_no_second_is_lost(total, shares):
    assume(any(shares))
    parts = split_seconds(total, shares)
    assert sum(parts) == total
    assert all(isinstance(part, int) for part in parts)


def test_three_stones_dopped_together_share_the_time():
    assert split_seconds(3 * 3600 + 1, [1, 1, 1]) == [3601, 3600, 3600]
    with pytest.raises(NothingToShareBy):
        split_seconds(60, [0, 0])


def test_cost_still_to_come_is_taken_off_first():
    """IAS 2.14: value when the products become separable. Worked by hand: 1200-200 : 600-100 : 200-200."""
    carried = allocate_by_relative_value(
        D("1500.00"), [D(1200), D(600), D(200)], still_to_come=[D(200), D(100), D(200)]
    )
    assert carried == [D("1000.00"), D("500.00"), D("0.00")]


def test_a_piece_not_worth_finishing_carries_nothing_rather_than_less_than_nothing():
    carried = allocate_by_relative_value(D("100.00"), [D(50), D(10)], still_to_come=[D(0), D(40)])
    assert carried == [D("100.00"), D("0.00")]


@given(amounts, values, amounts)
def test_relative_value_keeps_the_joint_cost(landed, expected, by_product):
    assume(any(expected) and by_product <= landed)
    carried = allocate_by_relative_value(landed, expected, by_product_nrv=by_product)
    assert sum(carried) == landed - by_product
    assert all(cost >= 0 for cost in carried)


def test_what_cannot_be_is_refused():
    with pytest.raises(DoesNotAddUp):
        allocate_by_relative_value(D("100.00"), [D(1), D(2)], still_to_come=[D(1)])
    with pytest.raises(DoesNotAddUp):
        allocate_by_relative_value(D("100.00"), [D(1)], by_product_nrv=D("100.01"))
    with pytest.raises(DoesNotAddUp):
        allocate_by_relative_value(D("100.00"), [D(1)], by_product_nrv=D("-1"))
    with pytest.raises(NothingToShareBy):
        allocate_by_relative_value(D("100.00"), [D(0)])
    with pytest.raises(OutOfRange):
        abnormal_loss([D(1)], {1})
    with pytest.raises(OutOfRange):
        abnormal_loss([D(1)], {-1})
    with pytest.raises(DoesNotAddUp):
        reversal(D(600), D(601), D(700))


@given(values, st.data())
def test_an_abnormal_loss_moves_no_survivor(carried, data):
    lost = data.draw(st.sets(st.integers(0, len(carried) - 1)))
    after = abnormal_loss(carried, lost)
    assert after.expense + sum(after.carried) == sum(carried)
    assert all(after.carried[i] == carried[i] for i in range(len(carried)) if i not in lost)


@given(amounts, st.integers(-(10**8), 10**8).map(lambda n: n * CENT))
def test_the_lower_of_cost_and_realisable_value(cost, nrv):
    assert 0 <= carrying_amount(cost, nrv) <= cost
    assert write_down(cost, nrv) + carrying_amount(cost, nrv) == cost


@given(amounts, amounts, amounts)
def test_a_reversal_never_lifts_above_cost(cost, first, later):
    carried = carrying_amount(cost, first)
    back = reversal(cost, carried, later)
    assert back >= 0
    assert carried + back <= cost
    assert carried + back == max(carried, carrying_amount(cost, later))


def test_three_amethysts_at_year_end():
    """Acceptance scenario 12: cost 501.30, price 84.00 less 10 % for selling."""
    nrv = net_realisable_value(D("84.00"), to_sell=D("8.40"))
    assert nrv == D("75.60")
    assert write_down(D("501.30"), nrv) == D("425.70")
    assert D("12449.15") - D("214.30") - write_down(D("501.30"), nrv) == D("11809.15")
