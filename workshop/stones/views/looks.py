"""How a stone looks on a page: its newest photograph, or a line drawing worked out from its own size."""

from __future__ import annotations

from dataclasses import dataclass

from workshop.common.models import Photo
from workshop.handbook.drawings import outline_drawing

from ..models import Stone


@dataclass(frozen=True)
class Look:
    """A photograph or a drawing, and the words for whoever sees neither."""

    photo: Photo | None
    drawing: str
    words: str


def look_of(stone: Stone, *, size_px: int = 180, dimensions: bool = True) -> Look:
    """The newest photograph, or the drawing."""
    newest = stone.photos.select_related("photo").order_by("-at", "-pk").first()
    if newest is not None:
        words = newest.caption or f"{stone.code}, {newest.get_stage_display()}"
        return Look(newest.photo, "", words)
    return Look(None, drawn(stone, size_px=size_px, dimensions=dimensions), f"Drawing of {stone.code}")


def drawn(stone: Stone, *, size_px: int, dimensions: bool) -> str:
    """Its outline in lines, to scale as far as its size is known."""
    return outline_drawing(
        stone.shape or "oval",
        stone.length_mm,
        stone.width_mm,
        stone.depth_mm,
        size_px=size_px,
        dimensions=dimensions and stone.length_mm is not None,
        title=f"Outline of {stone.code}",
    )
