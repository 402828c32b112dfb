"""Triggers that make the database itself refuse to change what is written once; for use in migrations."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import migrations


def refuse(table: str, deed: str, name: str, message: str, when: str = "") -> migrations.RunPython:
    """An operation that refuses ``deed`` (UPDATE or DELETE) on ``table``, or only where the SQL ``when`` holds.

    ``when`` compares OLD and NEW rows in SQL that both engines read alike (``IS DISTINCT FROM`` is written
    ``IS NOT`` for SQLite).
    """

    def forwards(apps: Any, schema_editor: Any) -> None:
        for statement in create(schema_editor.connection.vendor, table, deed, name, message, when):
            schema_editor.execute(statement)

    def backwards(apps: Any, schema_editor: Any) -> None:
        for statement in drop(schema_editor.connection.vendor, table, name):
            schema_editor.execute(statement)

    return migrations.RunPython(forwards, backwards)


def create(vendor: str, table: str, deed: str, name: str, message: str, when: str) -> Sequence[str]:
    """The SQL that makes the trigger on one engine."""
    if vendor == "sqlite":
        condition = f"WHEN {when.replace('IS DISTINCT FROM', 'IS NOT')} " if when else ""
        return [
            f"CREATE TRIGGER {name} BEFORE {deed} ON {table} {condition}"
            f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
        ]
    condition = f"WHEN ({when}) " if when else ""
    return [
        f"CREATE OR REPLACE FUNCTION {name}_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{message}' USING ERRCODE = 'integrity_constraint_violation'; END $$",
        f"CREATE TRIGGER {name} BEFORE {deed} ON {table} FOR EACH ROW {condition}EXECUTE FUNCTION {name}_refuse()",
    ]


def drop(vendor: str, table: str, name: str) -> Sequence[str]:
    """The SQL that takes the trigger away again."""
    if vendor == "sqlite":
        return [f"DROP TRIGGER IF EXISTS {name}"]
    return [f"DROP TRIGGER IF EXISTS {name} ON {table}", f"DROP FUNCTION IF EXISTS {name}_refuse()"]
