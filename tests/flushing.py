"""Emptying the tables after a transactional test, although the journal and the papers refuse to lose a row.

The shop's triggers refuse UPDATE and DELETE on frozen tables, and its migrations put rows in (species, treatments).
So here, in tests alone, the flush lets the triggers sleep and puts those first rows back.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction

Rows = dict[str, tuple[list[str], list[tuple[Any, ...]]]]

_seeds: Rows = {}


def install() -> None:
    """Call once, on the freshly migrated test database."""
    _seeds.update(_filled_tables())
    ops = type(connection.ops)
    if getattr(ops, "is_gentle", False):
        return
    plain_flush = ops.execute_sql_flush

    def gentle_flush(self: Any, sql_list: list[str]) -> None:
        with transaction.atomic(using=self.connection.alias), sleeping_triggers(self.connection):
            plain_flush(self, sql_list)
            _plant(self.connection)

    ops.execute_sql_flush = gentle_flush
    ops.is_gentle = True


@contextmanager
def sleeping_triggers(conn: Any) -> Iterator[None]:
    with conn.cursor() as cursor:
        if conn.vendor == "postgresql":
            cursor.execute("SET LOCAL session_replication_role = replica")
            yield
            cursor.execute("SET LOCAL session_replication_role = origin")
            return
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        triggers = cursor.fetchall()
        for name, _ in triggers:
            cursor.execute(f'DROP TRIGGER "{name}"')
        yield
        for _, sql in triggers:
            cursor.execute(sql)


def _filled_tables() -> Rows:
    found: Rows = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.django_table_names(only_existing=True, include_views=False):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            rows = cursor.fetchall()
            if rows:
                found[table] = ([column[0] for column in cursor.description], rows)
    return found


def _plant(conn: Any) -> None:
    with conn.cursor() as cursor:
        for table, (columns, rows) in _seeds.items():
            names = ", ".join(conn.ops.quote_name(column) for column in columns)
            places = ", ".join(["%s"] * len(columns))
            cursor.executemany(f"INSERT INTO {conn.ops.quote_name(table)} ({names}) VALUES ({places})", rows)
