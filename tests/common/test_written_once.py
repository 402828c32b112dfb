"""What is written once stays: journal lines refuse change and deletion, in Python and in the database itself."""

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction

from tests.makers import NOON, make_lot, make_owner, make_shop
from workshop.common import journal
from workshop.common.models import DoneDeed, JournalEntry
from workshop.common.once import do_once

pytestmark = pytest.mark.django_db


@pytest.fixture
def line():
    return journal.note("tried", "S-0001", by=None, at=NOON, after={"weight_ct": "1.000"})


def test_a_line_keeps_who_when_what_before_and_after():
    make_shop()
    owner = make_owner()
    lot = make_lot("10 ct", by=owner)
    entry = JournalEntry.objects.get(about=lot.code)
    assert (entry.by, entry.verb, entry.happened_at) == (owner, "received lot", NOON)
    assert entry.after["weight_ct"] == "10.000"


def test_python_refuses_to_change_or_delete_a_line(line):
    line.verb = "other"
    for deed in (line.save, line.delete):
        with pytest.raises(ValidationError):
            deed()


@pytest.mark.parametrize(
    "sql", ["UPDATE common_journalentry SET verb = 'other'", "DELETE FROM common_journalentry"]
)
def test_the_database_refuses_too(line, sql):
    with (
        pytest.raises(DatabaseError, match="written once"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(sql)
    assert JournalEntry.objects.get().verb == "tried"


def test_a_key_is_used_once_and_a_failed_deed_gives_it_back():
    owner = make_owner()

    def fails():
        raise RuntimeError("in the middle")

    with pytest.raises(RuntimeError):
        do_once("k", owner, fails)
    assert not DoneDeed.objects.exists()
    assert do_once("k", owner, lambda: "/there/") == "/there/"
    assert do_once("k", owner, fails) == "/there/"
