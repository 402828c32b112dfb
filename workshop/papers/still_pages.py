"""Check pages as plain files, so that a shop without a server still has them: same words, same paths, no script."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders
from django.core.files.storage import default_storage
from django.template.loader import render_to_string
from django.urls import reverse

from workshop.common import photos
from workshop.common.models import Shop

from .models import Paper
from .pages import paper_context
from .rendering import PICTURE

STYLES = ("common/paper.css", "common/pieces.css", "common/print.css")
FACES = "common/fonts"


def write_pages(folder: Path) -> int:
    """Every paper's page under ``folder``, with styles and pictures; how many there are."""
    _write_styles(folder / "style")
    shop = Shop.the()
    rows = Paper.objects.select_related("superseded_by", "key").prefetch_related("files").order_by("pk")
    count = 0
    for count, paper in enumerate(rows.iterator(chunk_size=200), 1):  # noqa: B007  the last count is the answer
        _write_page(folder, paper, shop)
    return count


def _write_page(folder: Path, paper: Paper, shop: Shop) -> None:
    place = folder / reverse("papers:check", args=[paper.check_code]).strip("/")
    place.mkdir(parents=True)
    context: dict[str, Any] = paper_context(paper) | {"still": True, "shop": shop, "up": "../../../"}
    picture = (context["content"] or {}).get("picture") or {}
    if picture.get("kind") == "photo" and not paper.is_private:
        with default_storage.open(photos.path_of(picture["sha256"], PICTURE)) as handle:
            (place / "picture.jpg").write_bytes(handle.read())
        context["picture_url"] = "picture.jpg"
    (place / "index.html").write_text(render_to_string("papers/check_still.html", context), encoding="utf-8")


def _write_styles(folder: Path) -> None:
    folder.mkdir(parents=True)
    for name in STYLES:
        shutil.copy(_found(name), folder / Path(name).name)
    shutil.copytree(_found(FACES), folder / "fonts")


def _found(name: str) -> Path:
    found = finders.find(name)
    assert isinstance(found, str)
    return Path(found)
