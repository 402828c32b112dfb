"""Long lists, a page at a time, found by key: the last page costs what the first one costs."""

from __future__ import annotations

import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from binascii import Error as Base64Error
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import F, Field, Model, Q, QuerySet
from django.http import HttpRequest
from django.http.request import QueryDict

ROWS = 50


@dataclass(frozen=True)
class Page:
    """One page of a list: its rows, and where the neighbouring pages are."""

    rows: list[Any]
    next_url: str
    previous_url: str
    total: int

    @property
    def count_text(self) -> str:
        """How many rows the whole list has."""
        return "1 row" if self.total == 1 else f"{self.total:,} rows"


def page_of(
    request: HttpRequest,
    rows: QuerySet[Any],
    *,
    sorts: dict[str, str],
    default: str,
    total: int | None = None,
    size: int = ROWS,
) -> Page:
    """The page a request asks for.

    ``sorts`` maps what may stand in ``?sort=`` to an ORM path on the row (``"seller": "seller__name"``); a leading
    minus turns the order. Position is kept in ``?after=`` or ``?before=`` as the key of the row at the edge; a key
    nobody could have been given is ignored. ``total`` saves the count where totals were summed anyway.
    """
    wanted = request.GET.get("sort") or default
    name, downwards = wanted.lstrip("-"), wanted.startswith("-")
    if name not in sorts:
        name, downwards = default.lstrip("-"), default.startswith("-")
    path = sorts[name]
    before = _read_key(request.GET.get("before"))
    after = _read_key(request.GET.get("after")) if before is None else None
    back = before is not None
    found = _ordered(rows, path, downwards != back)
    edge = before if back else after
    if edge is not None:
        found = found.filter(_beyond(rows.model, path, edge, downwards != back) or Q())
    got = list(found[: size + 1])
    more, got = len(got) > size, got[:size]
    if back:
        got.reverse()
    has_next = more if not back else True
    has_previous = (edge is not None) if not back else more
    return Page(
        rows=got,
        next_url=_url(request, after=_key(got[-1], path)) if got and has_next else "",
        previous_url=_url(request, before=_key(got[0], path)) if got and has_previous else "",
        total=rows.order_by().count() if total is None else total,
    )


def _ordered(rows: QuerySet[Any], path: str, downwards: bool) -> QuerySet[Any]:
    # Rows without a value always stand at the far end of the ascending order, on both engines alike.
    column = F(path).desc(nulls_first=True) if downwards else F(path).asc(nulls_last=True)
    return rows.order_by(column, F("pk").desc() if downwards else F("pk").asc())


def _beyond(model: type[Model], path: str, edge: tuple[Any, int], downwards: bool) -> Q | None:
    raw, pk = edge
    then = Q(pk__lt=pk) if downwards else Q(pk__gt=pk)
    if raw is None:
        rest = Q(**{f"{path}__isnull": True}) & then
        return rest | Q(**{f"{path}__isnull": False}) if downwards else rest
    value = _typed(_field(model, path), raw)
    if value is None:
        return None
    further = Q(**{f"{path}__{'lt' if downwards else 'gt'}": value})
    beyond = further | (Q(**{path: value}) & then)
    return beyond if downwards else beyond | Q(**{f"{path}__isnull": True})


def _typed(field: Field[Any, Any], raw: Any) -> Any:
    """The value of a key as its column would keep it; None for one that no row of ours can have."""
    try:
        value = field.to_python(raw)
        if isinstance(value, datetime):
            # Both databases keep UTC, where the first and the last day of the calendar may not exist.
            value.astimezone(UTC)
        field.get_prep_value(value)
    except (ValidationError, TypeError, ValueError, OverflowError):
        return None
    return value


def _field(model: type[Model], path: str) -> Field[Any, Any]:
    parts = path.split("__")
    for part in parts[:-1]:
        model = model._meta.get_field(part).related_model  # type: ignore[assignment]
    # "pk" is a word of queries, not the name of a field.
    return model._meta.pk if parts[-1] == "pk" else model._meta.get_field(parts[-1])  # type: ignore[return-value]


def _value(row: Any, path: str) -> Any:
    for part in path.split("__"):
        row = getattr(row, part) if row is not None else None
    return row


def _key(row: Any, path: str) -> str:
    value = _value(row, path)
    if isinstance(value, Decimal | datetime | date):
        value = str(value)
    return urlsafe_b64encode(json.dumps([value, row.pk]).encode()).decode().rstrip("=")


def _read_key(text: str | None) -> tuple[Any, int] | None:
    if not text or len(text) > 2000:
        return None
    try:
        value, pk = json.loads(urlsafe_b64decode(text + "=" * (-len(text) % 4)))
    except (ValueError, TypeError, Base64Error, UnicodeDecodeError, RecursionError):
        return None
    good = (value is None or isinstance(value, str | int | bool)) and isinstance(pk, int) and abs(pk) < 2**62
    return (value, pk) if good and (not isinstance(value, str) or _is_text(value)) else None


def _is_text(value: str) -> bool:
    """Whether a database takes it: JSON spells halves of characters too, and PostgreSQL compares with no nul."""
    try:
        return b"\x00" not in value.encode()
    except UnicodeEncodeError:
        return False


def _url(request: HttpRequest, **position: str) -> str:
    query: QueryDict = request.GET.copy()
    for name in ("after", "before"):
        query.pop(name, None)
    for name, value in position.items():
        query[name] = value
    return f"?{query.urlencode()}"
