"""Papers drawn once for a whole run."""

import pytest
from django.db import transaction

from tests.papers.specimens import make_all


@pytest.fixture(scope="session")
def specimens(django_db_setup, django_db_blocker):
    """``{kind: Specimen}``; the rows are gone again, see ``plant``."""
    with django_db_blocker.unblock(), transaction.atomic():
        made = make_all()
        transaction.set_rollback(True)
    return made
