"""At each start the database is asked whether it is set as settings.py says."""

import pytest
from django.core.checks import run_checks
from django.db import connection, connections

from workshop.common import checks

pytestmark = [pytest.mark.sqlite_only, pytest.mark.django_db]


def faults() -> list[str]:
    return [
        fault.id
        for fault in run_checks(tags=["database"], databases=["default"])
        if fault.id.startswith("workshop")
    ]


def test_the_database_is_set_as_asked():
    assert faults() == []


def test_the_pragmas_are_those_of_the_measured_table():
    with connection.cursor() as cursor:
        answers = {
            name: cursor.execute(f"PRAGMA {name}").fetchone()[0]
            for name in (
                "journal_mode",
                "synchronous",
                "foreign_keys",
                "busy_timeout",
                "cache_size",
                "journal_size_limit",
            )
        }
    # 2 is FULL: sqlite.org/pragma.html#pragma_synchronous
    assert answers == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "busy_timeout": 10000,
        "cache_size": -20000,
        "journal_size_limit": 27103364,
    }


def test_an_option_that_did_not_arrive_is_found(monkeypatch, settings):
    monkeypatch.setitem(settings.DATABASES["default"]["OPTIONS"], "timeout", 30)
    assert faults() == ["workshop.E003"]


def test_deferred_transactions_are_found(monkeypatch):
    monkeypatch.setattr(connections["default"], "transaction_mode", "DEFERRED")
    assert faults() == ["workshop.E004"]


def test_an_old_sqlite_is_found(monkeypatch):
    monkeypatch.setattr(checks.sqlite3, "sqlite_version_info", (3, 31, 1))
    assert faults() == ["workshop.E001"]


@pytest.mark.parametrize(
    ("kind", "found"), [("nfs4", ["workshop.E002"]), ("cifs", ["workshop.E002"]), ("ext4", [])]
)
def test_a_network_disk_is_found(monkeypatch, tmp_path, settings, kind, found):
    mounts = tmp_path / "mounts"
    shop = tmp_path.resolve() / "net work" / "shop"
    shop.mkdir(parents=True)
    mounts.write_text(
        f"/dev/sda1 / ext4 rw 0 0\nserver:/x {str(shop.parent).replace(' ', chr(92) + '040')} {kind} rw 0 0\n"
    )
    monkeypatch.setattr(checks, "MOUNTS", mounts)
    settings.WORKSHOP_DATA = shop
    assert faults() == found


def test_a_machine_that_tells_nothing_of_its_disks_is_believed(monkeypatch, tmp_path):
    monkeypatch.setattr(checks, "MOUNTS", tmp_path / "absent")
    assert faults() == []
