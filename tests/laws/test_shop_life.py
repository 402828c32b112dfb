"""The laws of the house over long random shop lives, on whichever engine the run has."""

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.laws.lending_life import LendingLife
from tests.laws.shop_life import ShopLife


@pytest.mark.django_db
@pytest.mark.parametrize(("life", "steps"), [(ShopLife, 120), (LendingLife, 60)])
def test_the_laws_hold_through_any_life(life, steps):
    profile = settings()
    run_state_machine_as_test(
        life,
        settings=settings(
            max_examples=max(profile.max_examples // 4, 8),
            stateful_step_count=max(profile.stateful_step_count * steps // 30, steps),
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
