"""For the sheets: how much of a text is kept, and how very long words may break."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from django import template
from django.utils.text import Truncator

from workshop.common import say

register = template.Library()

BREAK = "\u200b"
LONGEST_WORD, STEP = 20, 10


@register.filter
def breakable(text: str) -> str:
    """The text with places to break in words that no line would hold; a break nobody sees where none is needed.

    The style sheet cannot do it: asked to break words, the renderer also cuts short ones at the edge of a float.
    """
    return re.sub(rf"\S{{{LONGEST_WORD + 1},}}", lambda word: BREAK.join(_pieces(word[0])), str(text))


def _pieces(word: str) -> list[str]:
    return [word[at : at + STEP] for at in range(0, len(word), STEP)]


@register.filter
def kept(text: str, most: int | None) -> str:
    """As much of a text as the setting keeps (all of it where the setting names no number), with places to break."""
    shown = Truncator(text).chars(most) if most else text
    return breakable(shown)


@register.filter
def day(value: date) -> str:
    """A day in the order of the paper's language."""
    return say.moment(value)


@register.filter
def figure(value: str) -> str:
    """A figure of the record with the decimal sign of the paper's language."""
    return say.number(value)


@register.filter
def topic(line: dict[str, Any]) -> str:
    """What a line of a disclosure is about. Papers from before they had a language say it in their label alone."""
    return str(line.get("topic") or line["label"].lower())


@register.filter
def ended(text: str) -> str:
    """The text with a full stop, unless it has one or was cut."""
    return text if text.endswith((".", "…")) else f"{text}."
