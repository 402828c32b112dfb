"""The machine, its programs, the disk and the database under the shop."""

from __future__ import annotations

import shutil
import sqlite3
import stat
import sys
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from workshop.papers.pdf import PDF_MISSING

Told = tuple[str, str, bool]

LEAST_FREE_BYTES = 1_000_000_000
#: The first with UPSERT, window functions and the planner fixes Django 5.2 asks for (its release notes).
LEAST_SQLITE = (3, 31, 0)
LEAST_PYTHON = (3, 11)


def programs() -> Iterator[Told]:
    """Python, SQLite and Pango."""
    if sys.version_info < LEAST_PYTHON:
        yield f"Python {sys.version.split()[0]} is older than 3.11.", "Install Python 3.11 or newer.", True
    if connection.vendor == "sqlite" and sqlite3.sqlite_version_info < LEAST_SQLITE:
        yield (
            f"SQLite {sqlite3.sqlite_version} is too old.",
            "Use a newer Python, which brings its own.",
            True,
        )
    try:
        import weasyprint  # noqa: F401  it looks for Pango when it is imported
    except (ImportError, OSError):
        yield "Papers cannot be made here.", PDF_MISSING, False


def disk() -> Iterator[Told]:
    """Room on the disk, and who may read the data folder."""
    data = Path(settings.WORKSHOP_DATA)
    free = shutil.disk_usage(data).free
    if free < LEAST_FREE_BYTES:
        yield (
            f"Only {free // 1_000_000} MB are free on the disk of {data}.",
            "Make room before the next photograph.",
            True,
        )
    for path in (data, data / "keys", data / "secret_key", data / "keys" / "papers.pem"):
        if path.exists() and stat.S_IMODE(path.stat().st_mode) & 0o077:
            yield f"Others on this machine can read {path}.", f"Run: chmod go= {path}", False
    for half in data.parent.glob(f".{data.name}-restoring-*"):
        yield (
            f"{half} was left by a restore that was stopped.",
            "It may hold the shop that was there before: look at it, then delete it.",
            False,
        )


def database() -> Iterator[Told]:
    """Soundness of the file, foreign keys, and migrations."""
    executor = MigrationExecutor(connection)
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if waiting:
        yield (
            f"{len(waiting)} migrations wait.",
            "Run: python3 manage.py up (it makes a shop ready by itself)",
            True,
        )
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        for (said,) in cursor.execute("PRAGMA integrity_check(20)").fetchall():
            if said != "ok":
                yield f"The database file is damaged: {said}.", "Restore the newest backup that opens.", True
        for table, row, parent, _ in cursor.execute("PRAGMA foreign_key_check").fetchall():
            yield f"{table} {row} names a row of {parent} that is not there.", "Restore a backup.", True
