"""Every text of the handbook's tables and of the lists of choices that may stand on a paper, as message ids.

No tool finds these in the source, because they are read from tables; the catalogue must hold them all the same.
"""

from __future__ import annotations

import re

from workshop.commissions.models import OffCuts, ToldTreatment, WorkKind
from workshop.commissions.papers_condition import After
from workshop.commissions.risks import AT_STAKE
from workshop.gems.models import Shape
from workshop.handbook import tables
from workshop.materials import disclosure, naming
from workshop.materials.models import Material, Nature, Question, Treated
from workshop.materials.names import MORE_NAMES
from workshop.materials.sentences import NOTHING_DONE, RECUT_BANS

Key = tuple[str, str]

DEGREES = ("none", "minor", "moderate", "significant")
#: What the form of a gem names as an example, and the styles of the trade that a cutter types most.
CUTS = ("brilliant", "step cut", "mixed cut", "Portuguese cut", "cabochon")
LIGHTS = ("daylight", "daylight, facing north", "north daylight", "incandescent light")


def names() -> set[str]:
    """Names of species and varieties, as they may be called on a paper."""
    found = set()
    for row in tables.materials():
        plain = row.name.removeprefix("synthetic ")
        found |= {row.name, row.species, plain, plain.removeprefix("precious ")}
    return {name for name in found if name} | MORE_NAMES


def rows_in_full() -> set[str]:
    """Species and variety in one, as a statement names them."""
    return {
        str(Material(species=row.species, variety=row.variety, name=row.name)) for row in tables.materials()
    }


def cells() -> set[str]:
    """Texts of treatments, of care, of cleavage."""
    found = {tables.GENTLE}
    for row in tables.treatments():
        if row.key not in NOTHING_DONE:
            found |= {row.words, row.permanence if " " in row.permanence or row.stable == "yes" else ""}
    found |= {tables.treatment(key).care for key in RECUT_BANS}
    keys = [row.key for row in tables.treatments() if row.key not in {"synth", "imit", "none_known"}]
    for stone in tables.materials():
        for done in ([], *([key] for key in keys)):
            advice = tables.care_advice(stone, done)
            found |= {advice.clean, *advice.heat, *advice.chemicals, *advice.light}
        found |= {words for words in stone.common_treatments if AT_STAKE.search(words)}
        found |= {part for part in re.split(r"[:;]\s*", stone.heat_sensitive) if "inclusion" in part}
        plain = re.sub(r"\s*(?:\{[^}]*\}|\([^)]*\))", "", stone.cleavage).replace(" ,", ",")
        if "hidden" not in stone.cleavage and re.search(r"\b(?:perfect|good|distinct)\b", plain):
            found.add(plain)
    return found - {""}


def choices() -> set[str]:
    """Labels of choices."""
    lists = (OffCuts, WorkKind, ToldTreatment, Nature, Question, Treated, After)
    return {str(label) for one in lists for label in one.labels} | set(disclosure.QUESTIONS.values())


def befores() -> set[Key]:
    """Words before a name, once for each gender."""
    words = {*disclosure.IN_NAME.values(), "laboratory-grown", "synthetic", "reconstructed"}
    return {(context, word) for context in naming.BEFORE.values() for word in words}


def table_messages() -> set[Key]:
    """All of them, each with its context."""
    return {
        *((naming.NAME, name) for name in names() | rows_in_full()),
        *((naming.GENDER, name) for name in names()),
        *((naming.CELL, text) for text in cells()),
        *((naming.CHOICE, label) for label in choices()),
        *((naming.DEGREE, degree) for degree in DEGREES),
        *(("shape", str(label)) for label in Shape.labels),
        *(("cut", cut) for cut in CUTS),
        *(("light", light) for light in LIGHTS),
        *befores(),
    }
