"""``{% load why %}``: behind a line of a paper, the rule that wants it, where that was read, and who said it.

``{% why line statements %}`` opens without a script. ``line`` is a line of a disclosure or of a content record,
``statements`` those it may rest on, as the engine read them or as a record keeps them.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import template

from ..models import Evidence
from ..sources import cited

register = template.Library()


@register.inclusion_tag("materials/_why.html")
def why(line: Any, statements: Iterable[Any], also: str = "") -> dict[str, Any]:
    """Why a line is there. ``also``: the topic, where the line has none of its own."""
    topic = also or _of(line, "topic") or str(_of(line, "label")).lower()
    rule = str(_of(line, "why"))
    said = [_told(one) for one in statements if _of(one, "question") == topic]
    return {"rule": rule, "sources": cited(rule), "said": said, "house": "house rule" in rule}


def _of(thing: Any, name: str) -> Any:
    return thing.get(name, "") if isinstance(thing, dict) else getattr(thing, name, "")


def _told(one: Any) -> dict[str, Any]:
    day = _of(one, "said_on")
    return {
        "by": _of(one, "said_by"),
        "on": date.fromisoformat(day) if isinstance(day, str) else day,
        "how": _of(one, "how"),
        "words": _of(one, "words"),
        "evidence": Evidence(_of(one, "evidence")).label,
        "rung": int(_of(one, "evidence")),
    }
