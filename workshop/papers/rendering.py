"""From a frozen paper to its bytes: read the record, fetch its pictures, draw the sheet."""

from __future__ import annotations

import json
from typing import Any

from django.core.files.storage import default_storage
from django.utils.dateparse import parse_date

from workshop.common import photos
from workshop.common.errors import DeedRefused
from workshop.handbook.drawings import outline_drawing

from . import pdf, qr
from .kinds import SHEETS
from .models import Paper
from .record import sha256_of

#: The photograph's size that goes on a paper: 640 px over 52 mm is 312 dots per inch.
PICTURE = "card"


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
    context = {
        "paper": content,
        "issued_on": parse_date(content["issued_on"]),
        "picture": next((name for name in files if name.startswith("picture.")), ""),
    }
    return pdf.render(SHEETS[paper.kind][size], context, files)


def _picture(picture: dict[str, Any]) -> dict[str, bytes]:
    if picture.get("kind") == "photo":
        return {"picture.jpg": _photograph(picture)}
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


def _photograph(picture: dict[str, Any]) -> bytes:
    path = photos.path_of(picture["sha256"], PICTURE)
    if not default_storage.exists(path):
        raise PaperDamaged("The photograph of this paper is not in the picture store any more.")
    with default_storage.open(path) as handle:
        data = bytes(handle.read())
    if sha256_of(data) != picture["bytes_sha256"]:
        raise PaperDamaged("The photograph of this paper is not the one it was issued with.")
    return data
