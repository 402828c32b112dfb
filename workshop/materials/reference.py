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
#: Degrees of pavilion mains in the table of windows.
PAVILIONS_SHOWN = (39, 40, 41, 42, 43, 44)
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


@dataclass(frozen=True)
class Lookalike:
    """Another species whose index and gravity both meet this one's, and what may tell the two apart."""

    species: str
    key: str
    told_by: tuple[str, ...]


def confused_with(row: tables.Material) -> list[Lookalike]:
    """Species of the table that readings of index and gravity alone do not part from this one, nearest first."""
    nearest: dict[str, tuple[Decimal, tables.Material]] = {}
    for other in tables.materials():
        shared = _shared(row, other)
        if other.species == row.species or shared is None:
            continue
        if other.species not in nearest or shared > nearest[other.species][0]:
            nearest[other.species] = (shared, other)
    found = sorted(nearest.values(), key=lambda pair: (-pair[0], pair[1].species))
    return [Lookalike(other.species, other.key, _told_by(row, other)) for _, other in found]


def _shared(one: tables.Material, other: tables.Material) -> Decimal | None:
    """How much of their spans of index and gravity the two share, 0 to 1; None where either lies apart."""
    indices = _overlap((one.ri_low, one.ri_high), (other.ri_low, other.ri_high))
    gravities = _overlap((one.sg_low, one.sg_high), (other.sg_low, other.sg_high))
    return None if indices is None or gravities is None else indices * gravities


def _overlap(one: tuple[Decimal, Decimal], other: tuple[Decimal, Decimal]) -> Decimal | None:
    low, high = max(one[0], other[0]), min(one[1], other[1])
    if low > high:
        return None
    whole = max(one[1], other[1]) - min(one[0], other[0])
    return (high - low) / whole if whole else Decimal(1)


#: Birefringences are told apart by eye where one is this many times the other; our own line, no source.
CLEARLY_MORE = 2


def _told_by(one: tables.Material, other: tables.Material) -> tuple[str, ...]:
    told = []
    if one.optic_character != other.optic_character:
        told.append(f"optic character: {other.optic_character}")
    mine, theirs = one.birefringence_max, other.birefringence_max
    if mine is not None and theirs is not None and max(mine, theirs) > CLEARLY_MORE * min(mine, theirs):
        told.append(f"birefringence: up to {theirs}")
    return tuple(told)


def angles(row: tables.Material) -> dict[str, object]:
    """What the lowest index of a material asks of a pavilion: that index has the largest critical angle."""
    # Needed by this page alone; most pages of the shop do without arrays.
    from workshop.handbook import optics

    index = float(row.ri_low)
    return {
        "index": row.ri_low,
        "critical": optics.critical_angle_deg(index),
        "steepest": optics.steepest_useful_pavilion_deg(index),
        "advised": [(one, sources(one.source)) for one in optics.recommended_pavilions(index)],
        "tilts": [(angle, optics.window_tilt_deg(index, angle)) for angle in PAVILIONS_SHOWN],
    }


def sources(text: str) -> list[Source]:
    """The sources named in a cell of the tables, each once."""
    found = re.findall(r"([^<>|;+]+?)\s*<(https?://[^>]+)>", text)
    titled = ((re.sub(r"^\s*[\w ]{3,40}: (?=\S)", "", title).strip(), url) for title, url in found)
    return [Source(title, url) for title, url in dict.fromkeys(titled)]


def _span(low: Decimal, high: Decimal) -> str:
    return str(low) if low == high else f"{low}–{high}"


def _text(figure: Decimal | None) -> str:
    return "" if figure is None else str(figure)
