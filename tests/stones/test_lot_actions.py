"""Deeds on a lot, where its pages do not reach."""

from datetime import timedelta
from decimal import Decimal

import pytest

from tests.makers import DAY, NOON
from workshop.common.errors import DeedRefused
from workshop.handbook.units import parse_weight
from workshop.stones import actions
from workshop.stones.actions import GroupSpec


def test_two_groups_may_swap_their_names(lot):
    groups = [GroupSpec("A", Decimal(60)), GroupSpec("B", Decimal(40))]
    actions.sort_lot(lot, groups, rule="weight", by=None, at=NOON)
    a, b = lot.groups.all()
    swapped = [GroupSpec("B", Decimal(60), pk=a.pk), GroupSpec("A", Decimal(40), pk=b.pk)]
    actions.sort_lot(lot, swapped, rule="weight", by=None, at=NOON)
    assert list(lot.groups.values_list("name", "weight_ct")) == [("B", Decimal(60)), ("A", Decimal(40))]


def test_nothing_leaves_a_lot_before_it_came_in(lot):
    with pytest.raises(DeedRefused, match="before it came in"):
        actions.lose_from_lot(
            lot, parse_weight("1 ct"), cause="trimmed", on=DAY - timedelta(days=1), by=None, at=NOON
        )
