"""What must hold of the database before anyone trusts a weight to it; asked at each `migrate`, so at each start."""

import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

# RETURNING, by which Django reads back what it wrote, came with 3.35 (sqlite.org/changes.html).
OLDEST_SQLITE = (3, 35, 0)
NETWORK_FILE_SYSTEMS = (
    "nfs",
    "nfs4",
    "cifs",
    "smb3",
    "smbfs",
    "afs",
    "fuse.sshfs",
    "fuse.rclone",
    "glusterfs",
    "ceph",
)
MOUNTS = Path("/proc/mounts")

# As SQLite answers them; what settings.py asks for stands there, in words.
SYNCHRONOUS_FULL = 2


@register(Tags.database)
def sqlite_is_set_as_asked(*, databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """Options outside their place are ignored without a word, so the database itself is asked."""
    found: list[CheckMessage] = []
    for alias in databases or []:
        if connections[alias].vendor == "sqlite":
            found += [*_too_old(), *_on_a_network_disk(settings.WORKSHOP_DATA), *_pragmas(alias)]
    return found


def _too_old() -> list[CheckMessage]:
    if sqlite3.sqlite_version_info >= OLDEST_SQLITE:
        return []
    needed = ".".join(str(part) for part in OLDEST_SQLITE)
    return [
        Error(
            f"This Python brings SQLite {sqlite3.sqlite_version}; the shop needs {needed} or newer.",
            hint="Use a newer Python, or PostgreSQL by DATABASE_URL.",
            id="workshop.E001",
        )
    ]


def _on_a_network_disk(folder: Path) -> list[CheckMessage]:
    """The write-ahead log lives in memory shared between processes, which a network disk does not share."""
    kind = file_system(folder)
    if kind not in NETWORK_FILE_SYSTEMS:
        return []
    return [
        Error(
            f"The data folder {folder} lies on a network disk ({kind}), where SQLite loses what is written.",
            hint="Give a folder on a disk of this machine in WORKSHOP_DATA, or use PostgreSQL by DATABASE_URL.",
            id="workshop.E002",
        )
    ]


def file_system(folder: Path) -> str:
    """The kind of file system that `folder` lies on, as Linux names it; empty where nothing tells."""
    try:
        lines = MOUNTS.read_text().splitlines()
    except OSError:
        return ""
    real = folder.resolve()
    kind, longest = "", -1
    for line in lines:
        _, point, kind_here, *_ = line.split(" ")
        place = Path(point.replace("\\040", " "))
        # The last of equals wins: a later mount hides an earlier one.
        if (place == real or place in real.parents) and len(place.parts) >= longest:
            kind, longest = kind_here, len(place.parts)
    return kind


def _pragmas(alias: str) -> list[CheckMessage]:
    wanted: dict[str, Any] = {
        "journal_mode": "wal",
        "synchronous": SYNCHRONOUS_FULL,
        "foreign_keys": 1,
        "busy_timeout": int(settings.DATABASES[alias]["OPTIONS"]["timeout"] * 1000),
    }
    with connections[alias].cursor() as cursor:
        answers = {name: cursor.execute(f"PRAGMA {name}").fetchone()[0] for name in wanted}
    faults: list[CheckMessage] = [
        Error(
            f"SQLite answers {answers[name]!r} for PRAGMA {name}; the shop asked for {value!r}.",
            hint="Look at DATABASES and SQLITE_PRAGMAS in workshop/settings.py.",
            id="workshop.E003",
        )
        for name, value in wanted.items()
        if answers[name] != value
    ]
    if getattr(connections[alias], "transaction_mode", None) != "IMMEDIATE" or settings.DATABASES[alias].get(
        "ATOMIC_REQUESTS"
    ):
        faults.append(
            Error(
                "SQLite's transactions must be IMMEDIATE, and no request may be one as a whole.",
                hint="Look at transaction_mode and ATOMIC_REQUESTS in workshop/settings.py.",
                id="workshop.E004",
            )
        )
    return faults
