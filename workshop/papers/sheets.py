"""Many cards or labels on one A4 or Letter sheet, with ticks to cut along. A sheet is no paper: it has no number.

Cards are not drawn again: the very pages that were issued are set on the sheet, so what is cut out is the paper.
Printed on both sides, turned over its long edge, each back falls behind its front: backs lie mirrored.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from workshop.common.errors import DeedRefused

from . import pdf, qr
from .actions import bytes_of
from .kinds import LABEL_SHEETS
from .labels import Label
from .models import Paper, PaperKind

MOST: Final = 200
GAP_MM, EDGE_MM = 3.0, 7.0
"""Between two cards, and what a printer leaves white at the edge of the paper; common practice, no source."""

TICK_MM, TICK_OFF_MM = 1.1, 0.3
"""Length of a tick and how far off the corner it begins; two of them fit between two cards."""

PT: Final = 72 / 25.4


@dataclass(frozen=True)
class Stock:
    """A size of paper to print on."""

    words: str
    width_mm: float
    height_mm: float


STOCKS: Final = {"a4": Stock("A4", 210, 297), "letter": Stock("Letter", 215.9, 279.4)}
#: ISO/IEC 7810 ID-1, and the bag label.
CARD_MM, LABEL_MM = (85.6, 53.98), (50.0, 25.0)


@dataclass(frozen=True)
class Grid:
    """As many items as fit a sheet, in its middle: left to right, then downwards."""

    stock: Stock
    width_mm: float
    height_mm: float

    @property
    def columns(self) -> int:
        """Items side by side."""
        return self._fitting(self.stock.width_mm, self.width_mm)

    @property
    def rows(self) -> int:
        """Items one below the other."""
        return self._fitting(self.stock.height_mm, self.height_mm)

    @property
    def count(self) -> int:
        """Items on a sheet."""
        return self.columns * self.rows

    def sheets_for(self, count: int) -> int:
        """How many sheets so many items fill."""
        return math.ceil(count / self.count)

    def place(self, at: int, *, back: bool = False) -> tuple[float, float]:
        """Left and top edge of the item at a place, mm from the sheet's left and top. A back lies mirrored."""
        row, column = divmod(at, self.columns)
        if back:
            column = self.columns - 1 - column
        left = (self.stock.width_mm - self._run(self.columns, self.width_mm)) / 2
        top = (self.stock.height_mm - self._run(self.rows, self.height_mm)) / 2
        return left + column * (self.width_mm + GAP_MM), top + row * (self.height_mm + GAP_MM)

    def ticks(self, places: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float, float, float]]:
        """Lines (x, y to x, y; mm) off the four corners of each item, all outside of every item."""
        near, far = TICK_OFF_MM, TICK_OFF_MM + TICK_MM
        for left, top in places:
            for x, outward_x in ((left, -1), (left + self.width_mm, 1)):
                for y, outward_y in ((top, -1), (top + self.height_mm, 1)):
                    yield x + outward_x * near, y, x + outward_x * far, y
                    yield x, y + outward_y * near, x, y + outward_y * far

    @staticmethod
    def _fitting(room: float, size: float) -> int:
        return int((room - 2 * EDGE_MM + GAP_MM) // (size + GAP_MM))

    @staticmethod
    def _run(count: int, size: float) -> float:
        return count * size + (count - 1) * GAP_MM


def card_grid(on: str) -> Grid:
    """How information cards lie on a sheet."""
    return Grid(STOCKS[on], *CARD_MM)


def label_grid(on: str) -> Grid:
    """How bag labels lie on a sheet."""
    return Grid(STOCKS[on], *LABEL_MM)


def check_cards(papers: Sequence[Paper]) -> None:
    """Raises DeedRefused, naming the paper, for one that is no card, or does not stand."""
    _check_count(len(papers))
    for paper in papers:
        if paper.kind != PaperKind.INFO_CARD:
            raise DeedRefused(f"{paper.number} is no information card.")
        if not paper.stands:
            raise DeedRefused(f"{paper.number} is {paper.state_word}: leave it out.")


def draw_cards(papers: Sequence[Paper], on: str, *, at: datetime) -> bytes:
    """The PDF of a sheet of cards, fronts and backs in turns. A card nobody printed yet is drawn, and kept."""
    from pypdf import PdfReader, PdfWriter

    check_cards(papers)
    grid, writer = card_grid(on), PdfWriter()
    for start in range(0, len(papers), grid.count):
        some = papers[start : start + grid.count]
        readers = [PdfReader(io.BytesIO(bytes(bytes_of(paper, "id1", at=at).pdf))) for paper in some]
        for side, back in enumerate((False, True)):
            places = [grid.place(at, back=back) for at in range(len(some))]
            _sheet(writer, grid, places, [reader.pages[side] for reader in readers])
    numbers = f"{papers[0].number} to {papers[-1].number}" if len(papers) > 1 else papers[0].number
    writer.add_metadata({"/Title": f"Cards {numbers}"})
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def _sheet(writer: Any, grid: Grid, places: Sequence[tuple[float, float]], pages: Sequence[Any]) -> None:
    """One side of a sheet: each page as a form of its own, then the ticks."""
    from pypdf.generic import DictionaryObject, NameObject, StreamObject

    stock = grid.stock
    page = writer.add_blank_page(stock.width_mm * PT, stock.height_mm * PT)
    forms, drawn = DictionaryObject(), []
    for at, ((left, top), source) in enumerate(zip(places, pages, strict=True)):
        name = f"/C{at}"
        forms[NameObject(name)] = _form(writer, source)
        low = (stock.height_mm - top) * PT - float(source.mediabox.height)
        drawn.append(f"q 1 0 0 1 {left * PT:.4f} {low:.4f} cm {name} Do Q")
    drawn.append("q 0.25 w 0 G")
    for x1, y1, x2, y2 in grid.ticks(places):
        y1, y2 = stock.height_mm - y1, stock.height_mm - y2
        drawn.append(f"{x1 * PT:.3f} {y1 * PT:.3f} m {x2 * PT:.3f} {y2 * PT:.3f} l S")
    drawn.append("Q")
    content = StreamObject()
    content.set_data("\n".join(drawn).encode())
    page[NameObject("/Contents")] = writer._add_object(content.flate_encode())
    page[NameObject("/Resources")] = DictionaryObject({NameObject("/XObject"): forms})


def _form(writer: Any, source: Any) -> Any:
    """A page of an issued card as a form to be placed; its fonts and pictures come along once."""
    from pypdf.generic import NameObject, NumberObject, StreamObject

    form = StreamObject()
    form.set_data(source.get_contents().get_data())
    form = form.flate_encode()
    form[NameObject("/Type")] = NameObject("/XObject")
    form[NameObject("/Subtype")] = NameObject("/Form")
    form[NameObject("/FormType")] = NumberObject(1)
    form[NameObject("/BBox")] = source.mediabox.clone(writer)
    form[NameObject("/Resources")] = source["/Resources"].clone(writer)
    return writer._add_object(form)


def draw_labels(labels: Sequence[Label], on: str) -> bytes:
    """The PDF of a sheet of bag labels, one side. Drawn as one document."""
    _check_count(len(labels))
    grid = label_grid(on)
    files = {f"qr-{at}.svg": qr.svg(label.url) for at, label in enumerate(labels)}
    sides = []
    for start in range(0, len(labels), grid.count):
        some = list(enumerate(labels))[start : start + grid.count]
        places = [grid.place(at) for at in range(len(some))]
        name = f"ticks-{start}.svg"
        files[name] = _ticks_svg(grid, places)
        items = [
            {"label": label, "code": f"qr-{at}.svg", "left": _mm(left), "top": _mm(top)}
            for (at, label), (left, top) in zip(some, places, strict=True)
        ]
        sides.append({"ticks": name, "items": items})
    return pdf.render(LABEL_SHEETS[on], {"sides": sides, "title": f"{len(labels)} labels"}, files)


def _mm(figure: float) -> str:
    return f"{figure:.3f}mm"


def _ticks_svg(grid: Grid, places: Sequence[tuple[float, float]]) -> bytes:
    wide, tall = grid.stock.width_mm, grid.stock.height_mm
    path = "".join(f"M{a:.3f} {b:.3f}L{c:.3f} {d:.3f}" for a, b, c, d in grid.ticks(places))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{tall}mm" viewBox="0 0 {wide} {tall}">'
        f'<path d="{path}" stroke="#000" stroke-width="0.09" fill="none"/></svg>'
    ).encode()


def _check_count(count: int) -> None:
    if not 1 <= count <= MOST:
        raise DeedRefused(f"A sheet is made of one to {MOST} at once, not of {count}: choose fewer.")
