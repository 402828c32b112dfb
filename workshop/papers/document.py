"""A4 documents: what a room wants to say, as the content record that ``papers.actions.issue`` freezes.

A room that knows the facts builds a ``Document`` and issues ``document.content()``::

    content = Document(
        title="Quote",
        shop=Shop.the(),
        reference="C-0042, version 2",
        parties=[Party("For", ["Ada Lund", "3 Quay Street", "Port Ellen"])],
        facts=[("Valid until", "1 April 2026"), ("Currency", "EUR")],
        blocks=[
            Text(["Thank you for asking."], heading="What I offer"),
            Table(
                [Column("Item"), Column("Amount", numeric=True)],
                [["Cutting one oval", "350.00"]],
                foot=[["In all", "350.00"]],
                heading="Price",
            ),
            Signatures(["Accepted: name, place, day"]),
        ],
        role="The cutter's own statement, not a laboratory's.",
    ).content()
    paper = papers.actions.issue(PaperKind.QUOTE, "C-0042", content, by=by, at=at)

All figures come as texts ready to print. A fact, line or paragraph without text is left out; a block without any
of its own is left out with its heading. Line breaks in a paragraph make paragraphs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final, Protocol

from workshop.common import photos, say
from workshop.common.errors import DeedRefused
from workshop.common.models import Photo, Shop

from .record import sha256_of
from .rendering import DOCUMENT_PICTURE, PICTURE

WORDING: Final = 1
"""Edition of the documents' wording; a later one leaves issued papers as they are."""

DRAWING_PX: Final = 150

Rows = Sequence[tuple[str, str]]


class Block(Protocol):
    """A part of a document in its order."""

    def content(self) -> dict[str, Any]:
        """What is frozen of it: ``kind``, ``heading``, and what the kind needs; empty when there is nothing."""


@dataclass(frozen=True)
class Party:
    """Who the paper is for or from: a label ("For", "Owner of the goods") and lines of name and address."""

    label: str
    lines: Sequence[str]


@dataclass(frozen=True)
class Text:
    """Running text; ``strong`` sets it apart in a box with a rule, for what must not be missed."""

    paragraphs: Sequence[str]
    heading: str = ""
    strong: bool = False

    def content(self) -> dict[str, Any]:
        said = _lines(self.paragraphs)
        return _block("text", self.heading, paragraphs=said, strong=self.strong) if said else {}


@dataclass(frozen=True)
class Facts:
    """Rows of a label and a text."""

    rows: Rows
    heading: str = ""

    def content(self) -> dict[str, Any]:
        said = _facts(self.rows)
        return _block("facts", self.heading, rows=said) if said else {}


@dataclass(frozen=True)
class Column:
    """A column of a table; a ``numeric`` one is set to the right, in figures of one width."""

    label: str
    numeric: bool = False


@dataclass(frozen=True)
class Table:
    """A table; its heading row is repeated on each page, its ``foot`` rows (sums) stand once, at the end.

    ``total`` says which of the foot rows is the one that counts and is set strong; the last one unless told.
    """

    columns: Sequence[Column]
    rows: Sequence[Sequence[str]]
    foot: Sequence[Sequence[str]] = ()
    heading: str = ""
    note: str = ""
    total: int = -1

    def content(self) -> dict[str, Any]:
        for row in [*self.rows, *self.foot]:
            if len(row) != len(self.columns):
                raise ValueError(
                    f"A row of {len(row)} cells in a table of {len(self.columns)} columns: {row}"
                )
        if not self.rows and not self.foot:
            return {}
        columns = [{"label": one.label, "numeric": one.numeric} for one in self.columns]
        return _block(
            "table", self.heading, columns=columns, rows=[list(row) for row in self.rows],
            foot=[list(row) for row in self.foot], note=self.note, total=self.total % max(len(self.foot), 1),
        )  # fmt: skip


@dataclass(frozen=True)
class Points:
    """A list of points, one sentence or so each; ``numbered`` when the order or a reference to one matters."""

    points: Sequence[str]
    heading: str = ""
    numbered: bool = False

    def content(self) -> dict[str, Any]:
        said = [one for one in self.points if one.strip()]
        return _block("list", self.heading, points=said, numbered=self.numbered) if said else {}


@dataclass(frozen=True)
class Mark:
    """A place on a photograph, in per cent of its width from the left and of its height from the top."""

    x_percent: Decimal
    y_percent: Decimal
    words: str

    def content(self) -> dict[str, str]:
        """The place as text. Raises ValueError outside the picture."""
        for place in (self.x_percent, self.y_percent):
            if not 0 <= place <= 100:
                raise ValueError(f"A mark lies on its picture, 0 to 100 per cent, not at {place}.")
        return {"x": _figure(self.x_percent), "y": _figure(self.y_percent), "words": self.words}


@dataclass(frozen=True)
class Picture:
    """A photograph with its caption; its marks are drawn over it as numbered rings, their words stand beneath."""

    photo: Photo
    words: str
    marks: Sequence[Mark] = ()

    def content(self) -> dict[str, Any]:
        """Which bytes are shown, and how large they are. Raises DeedRefused when they are not there any more."""
        try:
            data = photos.read(self.photo, DOCUMENT_PICTURE)
        except FileNotFoundError as error:
            raise DeedRefused(
                f"The photograph “{self.words}” is not in the picture store any more; take it off the paper."
            ) from error
        return {
            "sha256": self.photo.sha256,
            "bytes_sha256": sha256_of(data),
            "width": self.photo.width,
            "height": self.photo.height,
            "words": self.words,
            "marks": [mark.content() for mark in self.marks],
        }


@dataclass(frozen=True)
class Photos:
    """Photographs, two in a row."""

    pictures: Sequence[Picture]
    heading: str = ""

    def content(self) -> dict[str, Any]:
        if not self.pictures:
            return {}
        return _block("photos", self.heading, pictures=[one.content() for one in self.pictures])


@dataclass(frozen=True)
class Drawing:
    """A stone's outline to scale from its measurements, with a caption; facet lines are a scheme."""

    shape: str
    length_mm: Decimal | None
    width_mm: Decimal | None
    depth_mm: Decimal | None = None
    words: str = ""
    heading: str = ""

    def content(self) -> dict[str, Any]:
        sides = {"length_mm": self.length_mm, "width_mm": self.width_mm, "depth_mm": self.depth_mm}
        drawing: dict[str, Any] = {"shape": self.shape, "size_px": DRAWING_PX}
        drawing |= {name: None if side is None else format(side, "f") for name, side in sides.items()}
        return _block("drawing", self.heading, drawing=drawing, words=self.words)


@dataclass(frozen=True)
class Signatures:
    """Lines to sign on in ink, each with what stands beneath it: "For the shop: name, day"."""

    lines: Sequence[str]
    heading: str = ""
    words: str = ""

    def content(self) -> dict[str, Any]:
        said = [one for one in self.lines if one.strip()]
        return _block("signatures", self.heading, lines=said, words=self.words) if said else {}


@dataclass(frozen=True)
class Document:
    """A whole document. Whether its check page shows what it says is settled by its kind (``models.PRIVATE``).

    ``tax``: whether the shop's tax number stands on it, as it does on quotes and papers of account alone.
    """

    title: str
    shop: Shop
    parties: Sequence[Party] = ()
    reference: str = ""
    facts: Rows = ()
    blocks: Sequence[Block] = ()
    role: str = ""
    language: str = ""
    tax: bool = True

    def content(self) -> dict[str, Any]:
        """The record for ``papers.actions.issue``; nothing in it but texts, whole numbers, flags, lists."""
        parties = [{"label": one.label, "lines": _lines(one.lines)} for one in self.parties]
        return {
            "wording": WORDING,
            "language": self.language or say.language(),
            "title": self.title,
            "shop": shop_words(self.shop, tax=self.tax),
            "parties": [one for one in parties if one["lines"]],
            "reference": self.reference,
            "facts": _facts(self.facts),
            "blocks": [said for block in self.blocks if (said := block.content())],
            "role": self.role,
        }


def shop_words(shop: Shop, *, tax: bool) -> dict[str, Any]:
    """The shop as it stands at the head and foot of a paper: its address, its mark, its own line."""
    words: dict[str, Any] = {
        "name": shop.name,
        "address": _lines([shop.address]),
        "email": shop.email,
        "website": shop.website,
        "tax_number": shop.tax_number if tax else "",
    }
    if shop.foot_words:
        words["foot"] = shop.foot_words
    if shop.mark is not None:
        words["mark"] = _mark(shop.mark)
    return words


def _mark(mark: Photo) -> dict[str, Any]:
    try:
        data = photos.read(mark, PICTURE)
    except FileNotFoundError as error:
        raise DeedRefused("The shop’s mark is not in the picture store any more; give it again.") from error
    return {"sha256": mark.sha256, "bytes_sha256": sha256_of(data)}


def _block(kind: str, heading: str, **said: Any) -> dict[str, Any]:
    return {"kind": kind, "heading": heading, **said}


def _facts(rows: Iterable[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"label": label, "text": text} for label, text in rows if text.strip()]


def _lines(texts: Iterable[str]) -> list[str]:
    return [line.strip() for text in texts for line in text.splitlines() if line.strip()]


def _figure(place: Decimal) -> str:
    return format(Decimal(place).normalize(), "f")
