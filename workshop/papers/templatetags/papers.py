"""For the sheets: how very long words may break."""

from __future__ import annotations

import re

from django import template

register = template.Library()

BREAK = "\u200b"
LONGEST_WORD = 24


@register.filter
def breakable(text: str) -> str:
    """The text with places to break in words that no line would hold; a break nobody sees where none is needed.

    The style sheet cannot do it: asked to break words, the renderer also cuts short ones at the edge of a float.
    """
    return re.sub(rf"(\S{{{LONGEST_WORD}}})(?=\S)", rf"\1{BREAK}", str(text))
