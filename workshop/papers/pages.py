"""What the pages of a paper show, whether they are served or written to files."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils.dateparse import parse_date

from workshop.handbook.drawings import outline_drawing

from . import actions, checking, marks
from .kinds import SHEETS
from .models import Paper
from .pdf import PDF_MISSING
from .rendering import PaperDamaged, content_of, with_cells

DRAWING_PX = 190


def paper_context(shown: Paper) -> dict[str, Any]:
    """What the pages of one paper show: its record, checked, and whether record, bytes and signature hold."""
    faults = actions.faults(shown)
    try:
        content = content_of(shown)
    except PaperDamaged:
        return {"paper": shown, "faults": faults, "content": None}
    picture = content.get("picture") or {}
    drawing = (
        outline_drawing(**picture["drawing"] | {"size_px": DRAWING_PX})
        if picture.get("kind") == "outline"
        else ""
    )
    sheets = [
        (size, SHEETS[shown.kind][size].words) for size in content["sizes"] if size in SHEETS[shown.kind]
    ]
    return {
        "paper": shown,
        "faults": faults,
        "signature": checking.signature_words(shown),
        "content": content,
        "issued_on": parse_date(content["issued_on"]),
        "drawing": drawing,
        "blocks": [_shown(block) for block in content.get("blocks", [])],
        "sheets": sheets,
        "pdf_missing": "" if settings.PDF_AVAILABLE else PDF_MISSING,
    }


def _shown(block: dict[str, Any]) -> dict[str, Any]:
    """A part of a document as its page wants it: drawings drawn, figures told from words."""
    if block["kind"] == "photos":
        return block | {"pictures": [_with_marks(picture) for picture in block["pictures"]]}
    if block["kind"] == "drawing":
        return block | {"svg": outline_drawing(**block["drawing"] | {"size_px": DRAWING_PX})}
    return with_cells(block) if block["kind"] == "table" else block


def _with_marks(picture: dict[str, Any]) -> dict[str, Any]:
    address = reverse("common:photo", args=[picture["sha256"], "large"])
    return picture | {"address": address, "svg": marks.marked(picture, address) if picture["marks"] else ""}
