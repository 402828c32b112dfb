"""The text tables of the handbook, read once: materials, treatments, care and cautions, every row with its
source.

A cell that no source could be read for stays marked in ``from_memory``. An empty cell is not known. Tables
are tab-separated, one header row, no quoting; lists inside a cell are parted by semicolons.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any, Final, TypeVar

from workshop.handbook.errors import OutOfRange

HERE: Final = Path(__file__).parent

NOT_ADVICE: Final = "Usual caution, not legal or medical advice; local rules come first."
"""Stands wherever cautions are shown."""

GENTLE: Final = "warm water, mild soap, soft brush"
"""How a stone without other words is cleaned. Sources: the bench charts named in ``care.tsv``."""


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of ``tables/<name>.tsv`` as they stand."""
    with (HERE / f"{name}.tsv").open(encoding="utf-8", newline="") as lines:
        return tuple(csv.DictReader(lines, delimiter="\t", quoting=csv.QUOTE_NONE))


@dataclass(frozen=True)
class Material:
    """One species and variety.

    ``ri_low`` and ``ri_high`` are the lowest and highest principal index (sodium light) over the usual range
    of the variety, not one stone's pair; ``birefringence_max`` is of one crystal; ``dispersion`` the B to G
    trade figure; specific gravities need no unit; hardness after Mohs. ``ultrasonic_ok``, ``steam_ok``,
    ``hot_wax_dop_ok`` are "yes", "caution" or "no", for an untreated and unfractured stone.
    """

    key: str
    name: str
    species: str
    variety: str
    formula: str
    crystal_system: str
    optic_character: str
    ri_low: Decimal
    ri_high: Decimal
    birefringence_max: Decimal | None
    dispersion: Decimal | None
    sg_low: Decimal
    sg_typical: Decimal
    sg_high: Decimal
    mohs_low: Decimal
    mohs_high: Decimal
    cleavage: str
    toughness: str
    heat_sensitive: str
    hot_wax_dop_ok: str
    ultrasonic_ok: str
    steam_ok: str
    acid_sensitive: str
    light_sensitive: str
    common_treatments: tuple[str, ...]
    bench_hazard: str
    from_memory: str
    source: str
    other_source: str

    @property
    def is_man_made(self) -> bool:
        """Whether the row describes a laboratory-grown or artificial material, and no natural one as well."""
        made = re.search(r"synthetic|man-made", self.variety) and not re.search(r"\bnatural\b", self.variety)
        return bool(made) or self.species == "glass"


@cache
def materials() -> tuple[Material, ...]:
    """Every material, in the order of the table."""
    return tuple(
        Material(
            key=row["key"],
            name=row["name"],
            species=row["species"],
            variety=row["variety"],
            formula=row["formula"],
            crystal_system=row["crystal_system"],
            optic_character=row["optic_character"],
            ri_low=Decimal(row["ri_low"]),
            ri_high=Decimal(row["ri_high"]),
            birefringence_max=_known(row["birefringence_max"]),
            dispersion=_known(row["dispersion_bg"]),
            sg_low=Decimal(row["sg_low"]),
            sg_typical=Decimal(row["sg_typical"]),
            sg_high=Decimal(row["sg_high"]),
            mohs_low=Decimal(row["mohs_low"]),
            mohs_high=Decimal(row["mohs_high"]),
            cleavage=row["cleavage"],
            toughness=row["toughness"],
            heat_sensitive=row["heat_sensitive"],
            hot_wax_dop_ok=row["hot_wax_dop_ok"],
            ultrasonic_ok=row["ultrasonic_ok"],
            steam_ok=row["steam_ok"],
            acid_sensitive=row["acid_sensitive"],
            light_sensitive=row["light_sensitive"],
            common_treatments=_list(row["common_treatments"]),
            bench_hazard=row["bench_hazard"],
            from_memory=row["from_memory"],
            source=row["source"],
            other_source=row["other_source"],
        )
        for row in rows("materials")
    )


def material(key: str) -> Material:
    """The material of that key. Raises OutOfRange for an unknown key.

    >>> material("corundum-ruby").sg_typical
    Decimal('4.00')
    """
    return _by_key(materials(), key, "material")


@dataclass(frozen=True)
class Treatment:
    """Something done to a stone, or an answer to the treatment question.

    ``words`` are the plain words for a paper. ``code`` only ever prints beside them, with the edition of its
    list (``code_note`` tells what older editions meant). ``us`` holds the letters of 16 CFR 23.24 that it
    meets (a not permanent, b special care, c value), with a question mark where that depends on the stone;
    ``cibjo`` its disclosure class, ``fr`` whether the French decree wants the mention. ``always``: silence
    about it is no option.
    """

    key: str
    words: str
    code: str
    code_note: str
    stable: str
    permanence: str
    care: str
    value: str
    us: tuple[str, ...]
    cibjo: str
    fr: str
    always: bool
    usual_for: tuple[str, ...]
    note: str
    from_memory: bool
    source: str

    def is_usual_for(self, stone: Material) -> bool:
        """Whether the treatment is one that this material commonly gets.

        >>> treatment("oil").is_usual_for(material("beryl-emerald"))
        True
        """
        if stone.is_man_made:
            return stone.species in self.usual_for
        said = f"{stone.name} / {stone.species}"
        return any(re.search(rf"\b{re.escape(name)}\b", said) for name in self.usual_for)


@cache
def treatments() -> tuple[Treatment, ...]:
    """Every treatment, in the order of the table."""
    return tuple(
        Treatment(
            key=row["key"],
            words=row["words"],
            code=row["code"],
            code_note=row["code_note"],
            stable=row["stable"],
            permanence=row["permanence"],
            care=row["care"],
            value=row["value"],
            us=tuple(part.strip() for part in row["us"].split(",") if part.strip()),
            cibjo=row["cibjo"],
            fr=row["fr"],
            always=row["always"] == "yes",
            usual_for=_list(row["usual_for"]),
            note=row["note"],
            from_memory=row["from_memory"] == "yes",
            source=row["source"],
        )
        for row in rows("treatments")
    )


def treatment(key: str) -> Treatment:
    """The treatment of that key. Raises OutOfRange for an unknown key."""
    return _by_key(treatments(), key, "treatment")


@dataclass(frozen=True)
class Care:
    """How one group of stones, or stones with one treatment, are kept and cleaned.

    ``ultrasonic`` and ``steam`` are "ok", "risk" or "no"; where sources differ the stricter one stands.
    ``clean`` is empty where ``GENTLE`` will do. ``from_memory`` names the cells no source was read for.
    """

    key: str
    words: str
    materials: tuple[str, ...]
    treatments: tuple[str, ...]
    ultrasonic: str
    steam: str
    clean: str
    heat: str
    chemicals: str
    light: str
    note: str
    from_memory: str
    source: str


@cache
def care() -> tuple[Care, ...]:
    """Every care row, in the order of the table."""
    return tuple(
        Care(
            **_texts(row, Care, skip={"materials", "treatments"}),
            materials=_list(row["materials"]),
            treatments=_list(row["treatments"]),
        )
        for row in rows("care")
    )


def care_for(stone: Material, treated: Collection[str] = ()) -> tuple[Care, ...]:
    """The care rows that concern a stone: those of its treatments first, since they override the species'.

    ``treated`` holds treatment keys; "unknown" brings in every treatment usual for the material, because a
    stone nobody tested is kept as the most fragile one.

    >>> [row.key for row in care_for(material("zircon-high-type"), ["heat"])]
    ['zircon-heated', 'zircon']
    """
    keys = _with_usual(stone, treated)
    found = [
        row
        for row in care()
        if (not row.materials or _names(row.materials, stone))
        and (not row.treatments or keys.intersection(row.treatments))
    ]
    return tuple(sorted(found, key=lambda row: (not row.treatments, not row.materials)))


@dataclass(frozen=True)
class CareAdvice:
    """The care rows of one stone taken together: the strictest mark, and every word once, treatments first."""

    ultrasonic: str
    steam: str
    clean: str
    heat: tuple[str, ...]
    chemicals: tuple[str, ...]
    light: tuple[str, ...]
    notes: tuple[str, ...]
    sources: tuple[str, ...]


ABOUT_NATURE: Final = frozenset({"assembled", "reconst", "synth", "imit"})
"""Keys of the treatment table that say what a thing is, not what was done to it."""

_STRICTNESS: Final = ("ok", "risk", "no")
_AS_CARE: Final = {"yes": "ok", "caution": "risk", "no": "no"}


def care_advice(stone: Material, treated: Collection[str] = ()) -> CareAdvice:
    """What to tell the owner of a stone, merged from ``care_for`` and the material's own row.

    The stricter mark wins. The material's own words stand only where no care row has any, and those about an
    irradiated colour only on an irradiated stone.

    >>> care_advice(material("corundum-ruby"), ["glass"]).clean
    'damp cloth only'
    """
    found = care_for(stone, treated)
    own = _own_care(stone, irradiated=bool(_with_usual(stone, treated) & {"irr", "irr_heat"}))
    return CareAdvice(
        ultrasonic=max((row.ultrasonic for row in (*found, own)), key=_STRICTNESS.index),
        steam=max((row.steam for row in (*found, own)), key=_STRICTNESS.index),
        clean=next((row.clean for row in found if row.clean), GENTLE),
        heat=_once(row.heat for row in found) or _once([own.heat]),
        chemicals=_once(row.chemicals for row in found) or _once([own.chemicals]),
        light=_once(row.light for row in found) or _once([own.light]),
        notes=_once(row.note for row in found),
        sources=_once(row.source for row in (*found, own)),
    )


def _own_care(stone: Material, *, irradiated: bool) -> Care:
    """What the material's own row says, in the form of a care row."""
    return Care(
        key=stone.key,
        words=stone.name,
        materials=(stone.key,),
        treatments=(),
        ultrasonic=_AS_CARE[stone.ultrasonic_ok],
        steam=_AS_CARE[stone.steam_ok],
        clean="",
        heat=_warning(stone.heat_sensitive, irradiated),
        chemicals=_warning(stone.acid_sensitive, irradiated),
        light=_warning(stone.light_sensitive, irradiated),
        note="",
        from_memory=stone.from_memory,
        source=stone.other_source or stone.from_memory,
    )


def _warning(cell: str, irradiated: bool) -> str:
    """The words behind "yes:", "moderate:" or "slight:"; nothing for a "no"."""
    mark, _, words = cell.partition(":")
    if mark.startswith("no") or ("irradiated" in words and not irradiated):
        return ""
    return words.strip() or {"yes": "sensitive", "moderate": "somewhat sensitive"}.get(mark, mark)


@dataclass(frozen=True)
class Caution:
    """One hazard at the bench: what is established, the usual caution, when it matters and for which stones.

    A row without materials, treatments and hazard words is about the bench itself, whatever lies on it.
    """

    key: str
    hazard: str
    established: str
    caution: str
    moments: tuple[str, ...]
    materials: tuple[str, ...]
    treatments: tuple[str, ...]
    hazard_words: tuple[str, ...]
    from_memory: str
    source: str

    @property
    def is_of_the_bench(self) -> bool:
        """Whether the caution concerns the bench and not a stone."""
        return not (self.materials or self.treatments or self.hazard_words)


@cache
def cautions() -> tuple[Caution, ...]:
    """Every caution, in the order of the table."""
    lists = {"moments", "materials", "treatments", "hazard_words"}
    return tuple(
        Caution(**_texts(row, Caution, skip=lists), **_lists(row, lists)) for row in rows("cautions")
    )


def cautions_for(
    stone: Material, treated: Collection[str] = (), *, moment: str | None = None
) -> tuple[Caution, ...]:
    """The cautions a stone calls for, by its material, what its dust may hold, and its treatments.

    ``moment`` narrows them to one of "sawing", "cutting", "polishing", "dopping", "cleaning", "cleaning up",
    "recutting". ``treated`` as in ``care_for``. To be shown with ``NOT_ADVICE``.

    >>> [row.key for row in cautions_for(material("quartz-tigers-eye"), moment="sawing")]
    ['silica', 'asbestos']
    """
    keys = _with_usual(stone, treated)
    return tuple(
        row
        for row in cautions()
        if (
            _names(row.materials, stone)
            or keys.intersection(row.treatments)
            or any(_stands_in(word, stone.bench_hazard) for word in row.hazard_words)
        )
        and (moment is None or moment in row.moments)
    )


def _with_usual(stone: Material, treated: Collection[str]) -> set[str]:
    keys = {treatment(key).key for key in treated}
    if "unknown" in keys:
        usual = {one.key for one in treatments() if one.always and one.is_usual_for(stone)}
        keys |= usual - ABOUT_NATURE
    return keys


def _names(names: Collection[str], stone: Material) -> bool:
    return bool({stone.key, stone.species, stone.name}.intersection(names))


def _stands_in(word: str, hazards: str) -> bool:
    """Whether a hazard is named; "amorphous silica" is not "crystalline silica"."""
    return re.search(rf"\b{re.escape(word)}\b", hazards) is not None


def _lists(row: dict[str, str], names: Collection[str]) -> dict[str, Any]:
    return {name: _list(row[name]) for name in names}


def _known(cell: str) -> Decimal | None:
    return Decimal(cell) if cell else None


def _list(cell: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in cell.split(";") if part.strip())


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(filter(None, words)))


def _texts(row: dict[str, str], kind: type[Care] | type[Caution], *, skip: Collection[str]) -> dict[str, Any]:
    return {name: row[name] for name in kind.__dataclass_fields__ if name not in skip}


Keyed = TypeVar("Keyed", Material, Treatment)


def _by_key(listed: Iterable[Keyed], key: str, what: str) -> Keyed:
    for one in listed:
        if one.key == key:
            return one
    raise OutOfRange(f'The tables hold no {what} "{key}".', key=key)
