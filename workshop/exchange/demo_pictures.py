"""Placeholder photographs of the demo: a stone drawn on stone paper, so that no picture of anybody's is used."""

from __future__ import annotations

import colorsys
import hashlib
import io
import math

from PIL import Image, ImageDraw, ImageFilter

from workshop.common import photos

SIDE = 900

#: Hue, saturation and value that each lot's stones are drawn in.
COLOURS = {
    "T": (0.40, 0.55, 0.52), "G": (0.94, 0.65, 0.62), "A": (0.77, 0.48, 0.60), "Z": (0.60, 0.60, 0.58),
    "z1": (0.58, 0.55, 0.58), "Q": (0.52, 0.25, 0.86), "F": (0.08, 0.45, 0.46), "C": (0.96, 0.60, 0.74),
    "K": (0.22, 0.55, 0.66),
}  # fmt: skip

#: Corners of an outline in a unit square; a shape that is not here is drawn as an ellipse.
CORNERS: dict[str, list[tuple[float, float]]] = {
    "cut_corner_rectangle": [(-1, -0.6), (-0.7, -1), (0.7, -1), (1, -0.6), (1, 0.6), (0.7, 1), (-0.7, 1), (-1, 0.6)],
    "rectangle": [(-1, -1), (1, -1), (1, 1), (-1, 1)],
    "square": [(-1, -1), (1, -1), (1, 1), (-1, 1)],
    "triangle": [(0, -1), (1, 0.8), (-1, 0.8)],
    "kite": [(0, -1), (0.9, -0.2), (0, 1), (-0.9, -0.2)],
    "shield": [(-0.9, -1), (0.9, -1), (1, -0.2), (0, 1), (-1, -0.2)],
    "polygon": [(math.cos(k * math.pi / 3), math.sin(k * math.pi / 3)) for k in range(6)],
    "marquise": [
        (math.cos(k * math.pi / 16) * abs(math.cos(k * math.pi / 16)) ** 0.3, math.sin(k * math.pi / 16) * 0.62)
        for k in range(32)
    ],
    "pear": [(math.sin(k * math.pi / 16) * (0.55 + 0.45 * (k <= 8 or k >= 24)) * 0.8, -math.cos(k * math.pi / 16))
             for k in range(32)],
}  # fmt: skip


def picture_of(row: dict[str, str]) -> dict[str, bytes]:
    """The prepared sizes of a drawn picture of the demo's stone in ``row``."""
    seed = int.from_bytes(hashlib.sha256(row["key"].encode()).digest()[:4], "big")
    paper = Image.new("RGB", (SIDE, SIDE), (236, 233, 226))
    draw = ImageDraw.Draw(paper)
    draw.polygon([(0, SIDE * 0.72), (SIDE, SIDE * 0.66), (SIDE, SIDE), (0, SIDE)], fill=(222, 219, 211))
    outline = _outline(row["shape"])
    shadow = Image.new("L", paper.size, 0)
    ImageDraw.Draw(shadow).polygon([(x + 14, y + 30) for x, y in outline], fill=120)
    paper.paste((150, 147, 140), mask=shadow.filter(ImageFilter.GaussianBlur(22)))
    _facets(ImageDraw.Draw(paper), outline, COLOURS[row["from"]], seed)
    out = io.BytesIO()
    paper.filter(ImageFilter.GaussianBlur(0.8)).save(out, "PNG")
    return photos.prepare(out)


def _outline(shape: str) -> list[tuple[float, float]]:
    stretch = 1.0 if shape in {"round", "square", "triangle", "cushion"} else 1.28
    corners = CORNERS.get(shape) or [
        (math.cos(k * math.pi / 12), math.sin(k * math.pi / 12)) for k in range(24)
    ]
    reach = SIDE * 0.30
    return [(SIDE / 2 + x * reach * stretch, SIDE * 0.47 + y * reach) for x, y in corners]


def _facets(
    draw: ImageDraw.ImageDraw,
    outline: list[tuple[float, float]],
    colour: tuple[float, float, float],
    seed: int,
) -> None:
    """Facets as triangles between girdle, table and centre, each with a light of its own."""
    hue, saturation, value = colour
    middle = (SIDE / 2, SIDE * 0.47)
    table = [_between(middle, corner, 0.56) for corner in outline]
    count = len(outline)
    for k in range(count):
        following = (k + 1) % count
        for step, face in enumerate(
            ([outline[k], outline[following], table[k]], [outline[following], table[following], table[k]],
             [table[k], table[following], middle])
        ):  # fmt: skip
            light = 0.72 + 0.5 * (((seed >> (k + 3 * step) % 24) & 7) / 7)
            shade = colorsys.hsv_to_rgb(hue, saturation * (1.15 - light * 0.25), min(value * light * 1.1, 1))
            draw.polygon(face, fill=tuple(int(255 * part) for part in shade))
    draw.line([*table, table[0]], fill=(255, 255, 255), width=2)
    draw.line(
        [*outline, outline[0]],
        fill=tuple(int(90 * part) for part in colorsys.hsv_to_rgb(hue, 0.5, 1)),
        width=2,
    )


def _between(one: tuple[float, float], two: tuple[float, float], share: float) -> tuple[float, float]:
    return one[0] + (two[0] - one[0]) * share, one[1] + (two[1] - one[1]) * share
