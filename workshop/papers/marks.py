"""Marks on a photograph: numbered rings over the places a condition report speaks of, drawn as SVG.

A ring leaves open what it points at; its number stands beside it, turned inwards at the edges of the picture. All
measures are parts of the width of the 4 : 3 frame that the picture is shown in, upright pictures too.
"""

from __future__ import annotations

from html import escape
from typing import Any, Final

RING: Final = 0.03
"""Radius of a ring: 2.4 mm in a frame 80 mm wide."""

LINE: Final = 0.005
HALO: Final = 0.013
TAG: Final = 0.028
FIGURE: Final = 0.036
"""Size of the numbers: 8 pt in a frame 80 mm wide."""

INK: Final = "#1d1b18"


def overlay(picture: dict[str, Any]) -> str:
    """The rings alone, as large as the picture, to be laid over it. ``picture`` is one of a document's content."""
    return _svg(picture, "")


def marked(picture: dict[str, Any], address: str) -> str:
    """The picture at an address with its rings, in one drawing."""
    width, height = picture["width"], picture["height"]
    return _svg(picture, f'<image href="{escape(address)}" width="{width}" height="{height}"/>')


def _svg(picture: dict[str, Any], beneath: str) -> str:
    width, height = picture["width"], picture["height"]
    drawn = [_ring(number, mark, width, height) for number, mark in enumerate(picture["marks"], start=1)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" font-family="Card Sans, sans-serif">'
        f"{beneath}{''.join(drawn)}</svg>"
    )


def _ring(number: int, mark: dict[str, str], width: int, height: int) -> str:
    side = max(width, height * 4 / 3)
    x, y = float(mark["x"]) / 100 * width, float(mark["y"]) / 100 * height
    ring, tag = RING * side, TAG * side
    wide = tag * (0.62 + 0.38 * len(str(number)))
    away = 0.71 * ring + tag
    tag_x = x + away if x + away + wide < width else x - away
    tag_y = y - away if y - away - tag > 0 else y + away
    circle = f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{ring:.2f}" fill="none"'
    return (
        f'<g class="mark">{circle} stroke="#fff" stroke-width="{HALO * side:.2f}"/>'
        f'{circle} stroke="{INK}" stroke-width="{LINE * side:.2f}"/>'
        f'<rect x="{tag_x - wide:.2f}" y="{tag_y - tag:.2f}" width="{2 * wide:.2f}" height="{2 * tag:.2f}"'
        f' rx="{tag:.2f}" fill="{INK}" stroke="#fff" stroke-width="{LINE * side:.2f}"/>'
        f'<text x="{tag_x:.2f}" y="{tag_y + 0.36 * FIGURE * side:.2f}" font-size="{FIGURE * side:.2f}"'
        f' font-weight="600" fill="#fff" text-anchor="middle">{number}</text></g>'
    )
