"""What the handbook knows of a material, cell by cell, each marked when it is only from memory."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from workshop.handbook import tables

# How the table's remarks name a cell: in what was not read anywhere, and before the source of what was.
_NAMED_AS = {
    "ri": r"\bri\b|widths about",
    "sg": r"\bsg|widths about|spans about",
    "birefringence": r"birefringence",
    "dispersion": r"dispersion",
    "cleavage": r"cleavage",
    "toughness": r"toughness",
    "heat": r"heat",
    "dop": r"dop",
    "cleaning": r"clean",
    "acid": r"acid",
    "light": r"light",
    "treatments": r"treat",
    "hazard": r"hazard|radioactive|chromium",
}
_UNLESS_SOURCED = "where no source is named"
FROM_MEMORY_WORDS = "from memory or common practice, no source read"


@dataclass(frozen=True)
class Cell:
    """One thing the handbook says of a material."""

    label: str
    value: str
    from_memory: bool = False


@dataclass(frozen=True)
class Source:
    """Where a figure was read."""

    title: str
    url: str


def from_memory(row: tables.Material, cell: str) -> bool:
    """Whether what the row says in ``cell`` (a key of ``_NAMED_AS``) was read in no source."""
    named = re.compile(_NAMED_AS[cell], re.IGNORECASE)
    sourced = any(named.search(head) for head in re.findall(r"(?:^|; )([^:;<]+): ", row.other_source))
    for remark in row.from_memory.split(";"):
        if named.search(remark) and not (_UNLESS_SOURCED in remark and sourced):
            return True
    return False


def figures(row: tables.Material) -> list[Cell]:
    """What the instruments read."""
    return [
        Cell("Refractive index", _span(row.ri_low, row.ri_high), from_memory(row, "ri")),
        Cell("Birefringence, at most", _text(row.birefringence_max), from_memory(row, "birefringence")),
        Cell("Optic character", row.optic_character),
        Cell("Dispersion, B to G", _text(row.dispersion), from_memory(row, "dispersion")),
        Cell(
            "Specific gravity",
            f"{row.sg_typical} ({_span(row.sg_low, row.sg_high)})",
            from_memory(row, "sg"),
        ),
        Cell("Hardness, Mohs", _span(row.mohs_low, row.mohs_high)),
        Cell("Crystal system", row.crystal_system),
        Cell("Formula", row.formula),
    ]


def bench_care(row: tables.Material) -> list[Cell]:
    """What it stands at the bench and in the bath, untreated and without fractures."""
    return [
        Cell("Cleavage", row.cleavage, from_memory(row, "cleavage")),
        Cell("Toughness", row.toughness, from_memory(row, "toughness")),
        Cell("Minds heat", row.heat_sensitive, from_memory(row, "heat")),
        Cell("Hot wax on the dop", row.hot_wax_dop_ok, from_memory(row, "dop")),
        Cell("Minds acid", row.acid_sensitive, from_memory(row, "acid")),
        Cell("Minds light", row.light_sensitive, from_memory(row, "light")),
        Cell("Ultrasonic bath", row.ultrasonic_ok, from_memory(row, "cleaning")),
        Cell("Steam", row.steam_ok, from_memory(row, "cleaning")),
    ]


def sources(text: str) -> list[Source]:
    """The sources named in a cell of the tables, each once."""
    found = re.findall(r"([^<>|;+]+?)\s*<(https?://[^>]+)>", text)
    titled = ((re.sub(r"^\s*[\w ]{3,40}: (?=\S)", "", title).strip(), url) for title, url in found)
    return [Source(title, url) for title, url in dict.fromkeys(titled)]


def _span(low: Decimal, high: Decimal) -> str:
    return str(low) if low == high else f"{low}–{high}"


def _text(figure: Decimal | None) -> str:
    return "" if figure is None else str(figure)
