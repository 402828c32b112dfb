"""A shop with its owner signed in."""

import pytest

from tests.makers import make_owner, make_shop


@pytest.fixture
def owner(client, db):
    make_shop()
    person = make_owner()
    client.force_login(person)
    return person
