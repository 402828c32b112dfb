"""Our own line drawings, kept in one SVG file and written into pages.

They are written in, not referred to, because the content policy lets a page load nothing it does not need.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

SHEET = Path(__file__).parent / "static" / "common" / "icons.svg"
_SYMBOL = re.compile(
    r'<symbol id="(?P<name>[a-z-]+)" viewBox="0 0 24 24">(?P<drawing>.*?)</symbol>', re.DOTALL
)


@cache
def drawings() -> dict[str, str]:
    """The drawing of each icon by its name."""
    sheet = SHEET.read_text(encoding="utf-8")
    return {found["name"]: found["drawing"].strip() for found in _SYMBOL.finditer(sheet)}


@cache
def icon(name: str, words: str = "") -> SafeString:
    """One icon; with ``words`` it speaks for itself, without them it only decorates text beside it."""
    drawing = mark_safe(drawings()[name])  # noqa: S308  our own file
    if words:
        return format_html(
            '<svg class="icon" viewBox="0 0 24 24" role="img" aria-label="{}">{}</svg>', words, drawing
        )
    return format_html('<svg class="icon" viewBox="0 0 24 24" aria-hidden="true">{}</svg>', drawing)
