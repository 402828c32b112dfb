"""The guards' shop: built once for a file."""

import pytest

from tests.guards import house as houses


@pytest.fixture(scope="module")
def house(django_db_setup, django_db_blocker):
    with houses.standing(django_db_blocker) as built:
        yield built


@pytest.fixture
def own_media():
    """The shop's pictures are kept from test to test; the shared fixture of this name would sweep them away."""
