"""What was issued stays as it was issued, through any life; see ``paper_life.py`` for what is held after each step."""

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.laws.paper_life import DONE, PaperCommissionLife, PaperShopLife

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]


@pytest.mark.parametrize("life", [PaperShopLife, PaperCommissionLife])
def test_issued_papers_never_change_through_any_life(life, settings_of_data):
    profile = settings()
    DONE.clear()
    run_state_machine_as_test(
        life,
        settings=settings(
            max_examples=max(profile.max_examples // 12, 3),
            stateful_step_count=max(profile.stateful_step_count * 3 // 2, 45),
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
    # Every life begins with papers; over many lives each deed on them has to have gone through.
    if profile.max_examples > 100:
        wanted = {"issue", "revise", "void", "draw", "key"}
        assert wanted <= DONE, f"Never went through: {wanted - DONE}"


@pytest.fixture
def settings_of_data(settings, tmp_path):
    """Keys are files, which no savepoint takes back: a folder of the test's own."""
    settings.WORKSHOP_DATA = tmp_path
