"""From a frozen paper to its bytes: read the record, fetch its pictures, draw the sheet."""

from __future__ import annotations

import itertools
import json
import re
from typing import Any

from django.core.files.storage import default_storage
from django.utils import formats, translation
from django.utils.dateparse import parse_date

from workshop.common import photos
from workshop.common.errors import DeedRefused
from workshop.handbook.drawings import outline_drawing

from . import drawn, keys, marks, pdf, qr, sealing
from .kinds import SHEETS
from .models import Paper
from .record import sha256_of

#: The photograph's size that goes on a paper: 640 px over 52 mm is 312 dots per inch.
PICTURE = "card"

#: On a document: 1600 px, brought down to 300 dots per inch over 80 mm.
DOCUMENT_PICTURE = "large"

#: A figure of so many characters stays on one line; a table of more columns is set smaller.
SHORT_FIGURE, MANY_COLUMNS = 28, 6

#: What is longer may run over to the next page: kept whole, it might be taller than a page.
WHOLE_TEXT, WHOLE_MARKS = 500, 12


class PaperDamaged(DeedRefused):
    """What is stored is not what was issued: a record, a picture or bytes changed underneath."""


def content_of(paper: Paper) -> dict[str, Any]:
    """What the paper says, checked against its hash. Raises PaperDamaged."""
    if sha256_of(paper.content) != paper.content_sha256:
        raise PaperDamaged(f"The record of {paper.number} is not the one that was issued.")
    content: dict[str, Any] = json.loads(paper.content)
    return content


def draw(paper: Paper, size: str) -> bytes:
    """The PDF of a paper in one of its sizes; the same content gives the same bytes."""
    content = content_of(paper)
    files = {"qr.svg": qr.svg(content["check_url"])} | _picture(content.get("picture") or {})
    if mark := content.get("shop", {}).get("mark"):
        files["mark.jpg"] = _photograph(mark, PICTURE)
    members = content.get("members", [])
    beside = drawn.SMALL_PX if len(members) > 2 else drawn.PAIR_PX
    context = {
        "paper": content,
        "issued_on": parse_date(content["issued_on"]),
        "picture": next((name for name in files if name.startswith("picture.")), ""),
        "blocks": [_laid_out(block, files) for block in content.get("blocks", [])],
        # Without a photograph the drawing stands in its place, larger.
        "views": _views(content, files, drawn.FACE_PX if content.get("photographs") else drawn.LARGE_PX),
        "photographs": [_photo_on_page(one | {"marks": []}, files) for one in content.get("photographs", [])],
        "members": [one | {"views": _views(one, files, beside)} for one in members],
    }
    # The paper's own language, whoever asks for it first: its bytes are drawn once.
    with translation.override(content.get("language", "en")):
        return pdf.render(SHEETS[paper.kind][size], context, _worded(files), _sealed(paper))


def _worded(files: dict[str, bytes]) -> dict[str, bytes]:
    """The drawings with the decimal sign of the language in force; the handbook draws a point."""
    sign = formats.get_format("DECIMAL_SEPARATOR")
    told = re.compile(rb"(?<=\d)\.(?=\d\d mm)")
    return {
        name: told.sub(sign.encode(), data) if name.endswith(".svg") else data for name, data in files.items()
    }


def _sealed(paper: Paper) -> pdf.Sealed | None:
    """What travels inside; nothing in papers from before papers were signed."""
    if paper.key is None:
        return None
    key = keys.holding(paper.key.public)
    signature = paper.signature
    if key is None:
        # The file of the old key is lost: the shop vouches for the record with the key it has now.
        key = keys.current()
        signature = key.sign(paper.content.encode())
    return pdf.Sealed(paper.content, sealing.Signed(key.public, signature), paper.issued_at, key.sign)


def _laid_out(block: dict[str, Any], files: dict[str, bytes]) -> dict[str, Any]:
    """A part of a document as its template wants it; its pictures go among the files."""
    if block["kind"] == "photos":
        pictures = [_photo_on_page(picture, files) for picture in block["pictures"]]
        return block | {"pairs": [{"pictures": pair, "whole": _whole(pair)} for pair in _pairs(pictures)]}
    if block["kind"] == "facts":
        return block | {"rows": [row | {"whole": len(row["text"]) <= WHOLE_TEXT} for row in block["rows"]]}
    if block["kind"] == "drawing":
        name = f"drawing-{len(files)}.svg"
        files[name] = _in_ink(outline_drawing(**block["drawing"], title=block["words"] or None))
        return block | {"file": name}
    if block["kind"] == "signatures":
        return block | {"pairs": _pairs(block["lines"])}
    if block["kind"] == "table":
        return with_cells(block)
    return block


def _views(stone: dict[str, Any], files: dict[str, bytes], size_px: int) -> dict[str, str]:
    """The names of a stone's drawings, which go among the files."""
    names = {}
    for view, svg in (drawn.views(stone["drawing"], size_px=size_px) if stone.get("drawing") else {}).items():
        names[view] = f"{view}-{len(files)}.svg"
        files[names[view]] = _in_ink(svg)
    return names


def _photo_on_page(picture: dict[str, Any], files: dict[str, bytes]) -> dict[str, Any]:
    named = {"file": f"{picture['sha256']}.jpg"}
    files[named["file"]] = _photograph(picture, DOCUMENT_PICTURE)
    if picture["marks"]:
        named["rings"] = f"rings-{len(files)}.svg"
        files[named["rings"]] = marks.overlay(picture).encode()
    return picture | named


def _whole(pair: list[dict[str, Any] | None]) -> bool:
    shown = [picture for picture in pair if picture]
    return all(len(one["marks"]) <= WHOLE_MARKS and len(one["words"]) <= WHOLE_TEXT for one in shown)


def _pairs(things: list[Any]) -> list[list[Any]]:
    pairs = [things[at : at + 2] for at in range(0, len(things), 2)]
    return [[*pair, None] if len(pair) == 1 else pair for pair in pairs]


def with_cells(table: dict[str, Any]) -> dict[str, Any]:
    """A table whose cells know their label and whether they hold a figure. The first cell of a sum reaches over the
    empty ones beside it."""

    def cells(row: list[str]) -> list[dict[str, Any]]:
        named = zip(table["columns"], row, strict=True)
        return [column | {"text": text, "short": len(text) <= SHORT_FIGURE} for column, text in named]

    def sums(row: list[str]) -> list[dict[str, Any]]:
        first, *others = cells(row)
        beside = list(itertools.takewhile(lambda cell: not cell["text"], others))
        return [first | {"span": 1 + len(beside)}, *others[len(beside) :]]

    def whole(row: list[str]) -> bool:
        return max(map(len, row)) <= WHOLE_TEXT

    return table | {
        "rows": [{"cells": cells(row), "whole": whole(row)} for row in table["rows"]],
        "foot": [
            {"cells": sums(row), "whole": whole(row), "total": at == table["total"]}
            for at, row in enumerate(table["foot"])
        ],
        "many": len(table["columns"]) > MANY_COLUMNS,
    }


def _picture(picture: dict[str, Any]) -> dict[str, bytes]:
    if picture.get("kind") == "photo":
        return {"picture.jpg": _photograph(picture, PICTURE)}
    if picture.get("kind") == "outline":
        said = {"title": picture["words"], **picture["drawing"]}
        return {
            "picture.svg": _in_ink(outline_drawing(**said)),
            "small.svg": _in_ink(outline_drawing(**said, dimensions=False)),
        }
    return {}


def _in_ink(svg: str) -> bytes:
    """A drawing with the face and ink of the sheet, which it does not take from the style sheet as a picture."""
    return svg.replace("<svg ", '<svg font-family="Card Sans" color="#1d1b18" ', 1).encode()


def _photograph(picture: dict[str, Any], size: str) -> bytes:
    path = photos.path_of(picture["sha256"], size)
    if not default_storage.exists(path):
        raise PaperDamaged("The photograph of this paper is not in the picture store any more.")
    with default_storage.open(path) as handle:
        data = bytes(handle.read())
    if sha256_of(data) != picture["bytes_sha256"]:
        raise PaperDamaged("The photograph of this paper is not the one it was issued with.")
    return data
