"""A commission on a card: its pieces in outline, the next thing, and what alarms."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from workshop.handbook.drawings import outline_drawing

from ..looks import Look, Piece
from ..steps import Step, next_step

#: More outlines than this say no more than a number.
DRAWN = 4
SMALL_PX = 44


@dataclass(frozen=True)
class Outline:
    """A piece in lines, and in words for whoever does not see it."""

    svg: str
    words: str


@dataclass(frozen=True)
class Card:
    """One commission on the board or in the list."""

    look: Look
    step: Step
    outlines: list[Outline]
    more: int


def card_of(look: Look) -> Card:
    """The card of a commission."""
    drawn = [outline_of(piece) for piece in look.pieces[:DRAWN]]
    return Card(look, next_step(look), drawn, max(0, len(look.pieces) - DRAWN))


def outline_of(piece: Piece, *, size_px: int = SMALL_PX) -> Outline:
    """What a piece is to become or has become, in lines: its gem's own size, or else the wished one."""
    words = f"Piece {piece.item.number}: {piece.item.wanted}"
    size = piece.gems[-1] if piece.gems else piece.item
    return Outline(_lines(size.shape or "oval", size.length_mm, size.width_mm, size_px), words)


@lru_cache(maxsize=512)
def _lines(shape: str, length: object, width: object, size_px: int) -> str:
    # The words stand beside the drawing; inside it they would make each one its own.
    return outline_drawing(shape, length, width, size_px=size_px, dimensions=False, title="Outline")  # type: ignore[arg-type]
