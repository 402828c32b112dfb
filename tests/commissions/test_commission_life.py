"""The laws of a commission over long random lives, on whichever engine the run has."""

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.commissions.commission_life import DONE, CommissionLife


@pytest.mark.django_db
def test_the_laws_of_a_commission_hold_through_any_life():
    profile = settings()
    DONE.clear()
    run_state_machine_as_test(
        CommissionLife,
        settings=settings(
            max_examples=max(profile.max_examples // 5, 8),
            stateful_step_count=max(profile.stateful_step_count * 2, 60),
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
    # A machine whose deeds are all refused would hold any law.
    idle = {"accept", "go ahead", "charge", "lost", "finish"} - set(DONE)
    assert not idle, f"Never went through: {idle}"
