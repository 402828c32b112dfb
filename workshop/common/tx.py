"""One writer at a time: every deed runs inside ``write_tx()``.

SQLite polls for its write lock, so an unlucky writer can starve; a file lock queues in the kernel and is let go
when its process dies. On PostgreSQL an advisory lock does the same. One shop's few hands never notice the
queue, and no law ever has to reason about two deeds at once.
"""

from __future__ import annotations

import fcntl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import IO, TypeVar

from django.conf import settings
from django.db import connection, transaction

# Any number will do so long as nothing else on the same PostgreSQL server takes it for another purpose.
ADVISORY_KEY = 0x6765_6D63

Answer = TypeVar("Answer")

_held = threading.local()


@contextmanager
def write_tx() -> Iterator[None]:
    """Run the block as the only writer, all or nothing. Blocks may be nested; the outermost one holds the lock."""
    if getattr(_held, "depth", 0):
        with transaction.atomic():
            yield
        return
    _held.depth = 1
    try:
        if connection.vendor == "sqlite":
            with _file_lock(), transaction.atomic():
                yield
        else:
            with transaction.atomic():
                with connection.cursor() as cursor:
                    cursor.execute("SELECT pg_advisory_xact_lock(%s)", [ADVISORY_KEY])
                yield
    finally:
        _held.depth = 0


@contextmanager
def _file_lock() -> Iterator[IO[str]]:
    path = settings.WORKSHOP_DATA / "write.lock"
    with open(path, "a", encoding="ascii") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield handle


class _Undo(Exception):
    pass


def rehearse(deed: Callable[[], Answer]) -> Answer:
    """Do a deed, keep what it answered, and undo it: the figures of a deed before anyone decides on it.

    The answer must not need the database any more.
    """
    try:
        with write_tx():
            answer = deed()
            raise _Undo
    except _Undo:
        return answer
