"""What every test finds ready: the database, the browser, and how long hypothesis may think."""

import os
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from tests.absent import absent, in_ci

pytest_plugins = ["tests.browser"]

# On two busy cores an example may take long without being wrong.
COMMON: dict[str, Any] = {
    "deadline": None,
    "suppress_health_check": [HealthCheck.too_slow],
    "print_blob": True,
}
settings.register_profile("quick", max_examples=40, stateful_step_count=30, derandomize=in_ci(), **COMMON)
settings.register_profile("deep", max_examples=1000, stateful_step_count=150, **COMMON)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--deep", action="store_true", help="let hypothesis look long and far (profile deep)")


def pytest_configure(config: pytest.Config) -> None:
    wanted = (
        "deep" if config.getoption("--deep", default=False) else os.environ.get("HYPOTHESIS_PROFILE", "quick")
    )
    settings.load_profile(wanted)


def on_postgresql() -> bool:
    return bool(os.environ.get("DATABASE_URL"))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """A test about the other engine is left out, not skipped: its own run has it."""
    other = "sqlite_only" if on_postgresql() else "postgresql_only"
    out = [item for item in items if item.get_closest_marker(other)]
    if out:
        config.hook.pytest_deselected(items=out)
        items[:] = [item for item in items if item not in out]


def pytest_runtest_setup(item: pytest.Item) -> None:
    if item.get_closest_marker("pdf"):
        from workshop import serve

        fault = serve.pango_fault()
        if fault:
            absent(fault)


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> None:
    from tests import flushing

    with django_db_blocker.unblock():
        flushing.install()


@pytest.fixture(autouse=True)
def own_media(request: pytest.FixtureRequest) -> None:
    """Each test that touches the database begins without files of another one's making."""
    if "db" not in request.fixturenames and "transactional_db" not in request.fixturenames:
        return
    import shutil

    from django.conf import settings as django_settings

    shutil.rmtree(django_settings.MEDIA_ROOT, ignore_errors=True)
