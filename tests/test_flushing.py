"""A transactional test may leave journal lines behind, although the journal refuses to lose one."""

import pytest
from django.db import (
    IntegrityError,
    InternalError,
    OperationalError,
    ProgrammingError,
    connection,
    transaction,
)
from django.utils import timezone

from workshop.common.models import JournalEntry

REFUSALS = (IntegrityError, InternalError, OperationalError, ProgrammingError)


def write_a_line() -> JournalEntry:
    return JournalEntry.objects.create(verb="tried", about="L-0001", happened_at=timezone.now())


# The two run in this order in one process, and the second would see the first one's line.
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("round_", [1, 2])
def test_each_transactional_test_begins_with_an_empty_journal(round_):
    assert not JournalEntry.objects.exists()
    write_a_line()


@pytest.mark.django_db(transaction=True)
def test_the_journal_refuses_to_lose_a_line_even_after_a_flush():
    line = write_a_line()
    with pytest.raises(REFUSALS), transaction.atomic():
        JournalEntry.objects.filter(pk=line.pk).delete()
    with pytest.raises(REFUSALS), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE common_journalentry SET verb = 'lied'")
    assert JournalEntry.objects.get().verb == "tried"
