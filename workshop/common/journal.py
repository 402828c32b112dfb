"""Every deed leaves one line: who, when, what, before and after."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from .models import Hand, JournalEntry


def note(
    verb: str,
    about: str,
    *,
    by: Hand | None,
    at: datetime,
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
    reason: str = "",
) -> JournalEntry:
    """Write the line of one deed. ``about`` is the code of the thing it was done to, ``at`` when it happened."""
    return JournalEntry.objects.create(
        verb=verb,
        about=about,
        by=by,
        happened_at=at,
        before=_plain(before or {}),
        after=_plain(after or {}),
        reason=reason,
    )


def _plain(facts: Mapping[str, Any]) -> dict[str, Any]:
    return {key: _plain_value(value) for key, value in facts.items()}


def _plain_value(value: Any) -> Any:
    if isinstance(value, bool | int | str) or value is None:
        return value
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, Mapping):
        return _plain(value)
    if isinstance(value, list | tuple):
        return [_plain_value(item) for item in value]
    if hasattr(value, "isoformat"):
        return value.isoformat()
    return str(value)
