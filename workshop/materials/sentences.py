"""The sentences of a disclosure, each from one statement: on what basis, what was done to the stone, whether it
lasts, how it is kept, where it comes from.

16 CFR 23.24 (a treatment that does not last, needs care or changes the value is told), the evidence ladder of the
house, care from the handbook's tables. Plain words only; letters of trade lists never stand alone.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from workshop.handbook import tables

from .words import ARTIFICIAL, LABORATORY, SAID, WRITTEN

TESTED, GEMMOLOGIST = 3, 4
ORIGIN_RULE = "16 CFR 23.1; house rule: origin is reported in writing or an opinion, never a bare fact"
RECUT_BANS = frozenset({"diff_shallow"})
NOTHING_DONE = frozenset({"none_known", "unknown"})


@dataclass(frozen=True)
class Said:
    """One statement as the engine reads it: the answer, who said it, how, when, on which rung of the ladder."""

    question: str
    evidence: int
    said_by: str
    said_on: date
    how: str = ""
    words: str = ""
    nature: str = ""
    treated: str = ""
    treatments: tuple[str, ...] = ()
    degree: str = ""
    key: str = ""
    species: str = ""
    name: str = ""


@dataclass(frozen=True)
class Line:
    """One thing a paper says, the rule it is there for, and the statement behind it."""

    label: str
    text: str
    why: str
    basis: str = ""


def species_words(species: Said) -> str:
    name = bare_name(species, species)
    return species.species if name == species.species or not name else f"{species.species}, {name}"


def basis(said: Said) -> str:
    """Who says so and how, in the ladder's own words."""
    how, day = said.how.strip().rstrip("."), f"{said.said_on.day} {said.said_on:%b %Y}"
    if said.evidence >= LABORATORY:
        return f"laboratory report: {_joined(said.said_by, how, f'dated {day}')}"
    if said.evidence == GEMMOLOGIST:
        return f"written opinion of {_joined(said.said_by, how, day)}"
    if said.evidence == TESTED:
        return (
            f"identified by the cutter by: {how}" if how else "in the cutter’s opinion, readings not recorded"
        )
    if said.evidence == WRITTEN:
        return f"according to {_joined(said.said_by, how, day)}"
    if said.evidence == SAID:
        return f"reported by {said.said_by}, unverified"
    return "not tested"


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def treatment_lines(said: Said, done: tuple[str, ...]) -> tuple[Line, ...]:
    if said.treated == "treated" and done:
        lines = [
            _one_treatment(key, said.degree) for key in done if key in said.treatments or key == "leadglass"
        ]
        return (*lines[:-1], replace(lines[-1], basis=basis(said))) if lines else ()
    if said.treated == "not_tested" or "unknown" in said.treatments:
        sold = f"; sold to me as “{said.words.strip()}”" if said.words.strip() else ""
        return (
            Line(
                "Treatment",
                f"not tested{sold}",
                "house rule: what nobody tested is said to be untested",
                _told_by(said),
            ),
        )
    return (
        Line(
            "Treatment", _untreated(said), "house rule: a claim of no treatment goes as far as its evidence"
        ),
    )


def _told_by(said: Said) -> str:
    return basis(said) if said.evidence >= WRITTEN and said.words.strip() else ""


def _one_treatment(key: str, degree: str) -> Line:
    """Plain words, permanence, special care and effect on value (16 CFR 23.24(a)-(c))."""
    row = tables.treatment(key)
    told = degree and _wants_degree(row)
    parts = [f"{row.words} ({degree})" if told else row.words, _lasting(row)]
    if _wants_care(row):
        parts.append("needs special care")
    if row.value.startswith("yes"):
        parts.append("affects value")
    text = "; ".join(part for part in parts if part)
    return Line("Treatment", text, f"16 CFR 23.24; CIBJO: {row.cibjo}; France: {row.fr}")


def treatments_in_short(done: Sequence[str], degree: str) -> str:
    """Many treatments in one sentence: each named in plain words, with the weakest of all for the rest."""
    rows = [tables.treatment(key) for key in done]
    if len(rows) < 2:
        return ""
    doubts = {_doubt(row) for row in rows} - {""}
    parts = [row.words for row in rows]
    parts += [f"degree: {degree}"] if degree and any(_wants_degree(row) for row in rows) else []
    parts += ["not permanent" if "not permanent" in doubts else "may not be permanent"] if doubts else []
    parts += ["needs special care"] if any(_wants_care(row) for row in rows) else []
    parts += ["affects value"] if any(row.value.startswith("yes") for row in rows) else []
    return "; ".join(parts)


def _wants_degree(row: tables.Treatment) -> bool:
    return row.note.startswith("say the degree")


def _wants_care(row: tables.Treatment) -> bool:
    return "b" in {letter.rstrip("?") for letter in row.us} or row.key == "leadglass"


def _doubt(row: tables.Treatment) -> str:
    return {"no": "not permanent", "partly": "may not be permanent", "depends": "may not be permanent"}.get(
        row.stable, ""
    )


def _lasting(row: tables.Treatment) -> str:
    """Whether it lasts: said in so many words where it does not or may not (16 CFR 23.24(a))."""
    words = row.permanence if " " in row.permanence or row.stable == "yes" else ""
    return ": ".join(part for part in (_doubt(row), words) if part)


def _untreated(said: Said) -> str:
    """ "Not treated" is a claim; each rung of the ladder has its own words."""
    if said.evidence >= LABORATORY:
        return f"no indication of treatment, {basis(said)}; state at that date"
    if said.evidence >= GEMMOLOGIST:
        return f"no treatment found, {basis(said)}"
    if said.evidence == TESTED:
        how = f" by: {said.how.strip().rstrip('.')}" if said.how.strip() else ""
        return f"no treatment found by the cutter{how}; no laboratory was asked"
    if said.evidence == WRITTEN:
        return f"reported untreated, {basis(said)}; not tested by the cutter"
    return f"not tested; sold to me as untreated by {said.said_by}, not in writing"


def also_lines(also: Sequence[Said], treatment: Said) -> tuple[Line, ...]:
    lines = []
    for said in also:
        keys = [key for key in said.treatments if key not in treatment.treatments]
        texts = [_one_treatment(key, said.degree) for key in keys if key not in NOTHING_DONE]
        lines += [*texts[:-1], replace(texts[-1], basis=basis(said))] if texts else []
    return tuple(lines)


def origin_line(said: Said | None) -> Line:
    """Origin is an opinion or a report, never a bare fact; the cutter's own find names its record."""
    if said is None or said.evidence < WRITTEN:
        return Line("Origin", "not stated", ORIGIN_RULE)
    if said.evidence >= GEMMOLOGIST:
        return Line(
            "Origin",
            f"in the opinion of {_joined(said.said_by, said.how, f'{said.said_on:%Y}')}: {said.words}",
            ORIGIN_RULE,
        )
    if said.evidence == TESTED:
        return Line("Origin", f"by the cutter’s own record: {_joined(said.words, said.how)}", ORIGIN_RULE)
    return Line("Origin", f"reported origin {said.words}", ORIGIN_RULE, basis(said))


def care(species: Said, treatment: Said, done: tuple[str, ...]) -> tuple[str, ...]:
    """Care by species and treatment, the stricter of two sources; an untested stone is kept as the most fragile
    one usual for it. Boiling is never printed."""
    keys = [key for key in done if key not in {"synth", "imit"}]
    if treatment.treated == "not_tested":
        keys.append("unknown")
    advice = tables.care_advice(_stone(species), keys)
    marks = {"ultrasonic": advice.ultrasonic, "steam": advice.steam}
    never = [f"no {name}" for name, mark in marks.items() if mark == "no"]
    risky = [name for name, mark in marks.items() if mark == "risk"]
    lines = [f"Clean: {advice.clean}", ", ".join(never)]
    lines.append(f"{listed(risky)}: risky" if risky else "")
    bans = [tables.treatment(key).care for key in keys if key in RECUT_BANS]
    # Of a stone nobody tested only the first, strictest word of each kind: the rest is guesswork.
    most = 1 if "unknown" in keys else None
    told = {"Heat": advice.heat, "Chemicals": advice.chemicals, "Light": advice.light}
    lines += [f"{label}: {'; '.join(_distinct(texts)[:most])}" for label, texts in told.items() if texts]
    return tuple(f"{capital(line)}." for line in (*lines, *bans) if line)


def _distinct(texts: Sequence[str]) -> list[str]:
    """Without those that say over again, in other words, what stands before them."""
    kept: list[tuple[str, set[str]]] = []
    for text in texts:
        words = {word[:5] for word in re.findall(r"[a-z]{4,}", text.lower())}
        if not any(len(words & before) >= 0.6 * len(words) for _, before in kept):
            kept.append((text, words))
    return [text for text, _ in kept]


def _stone(species: Said) -> tables.Material:
    """The handbook's row, or for a stone the shop added the row of its species; else the strictest of all."""
    rows = tables.materials()
    found = next((row for row in rows if row.key == species.key), None) or next(
        (row for row in rows if row.species == species.species.lower() and not row.is_man_made), None
    )
    return found or replace(
        rows[0], key=species.key, name=species.name, species=species.species, variety="", ultrasonic_ok="no",
        steam_ok="no", heat_sensitive="no", acid_sensitive="no", light_sensitive="no", from_memory="", other_source="",
    )  # fmt: skip


def not_tested(nature: Said, species: Said, treatment: Said) -> str:
    """What the cutter did not test, in one line."""
    names = [
        word
        for said, word in ((species, "species"), (nature, "mined or grown"), (treatment, "treatment"))
        if said.evidence < TESTED
    ]
    return f"Not tested by the cutter: {listed(names)}." if names else ""


def listed(words: Sequence[str]) -> str:
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]])) if words else ""


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def bare_name(species: Said, nature: Said) -> str:
    name = species.name or species.species
    name = name.removeprefix("synthetic ")
    return name.removeprefix("precious ") if nature.nature in ARTIFICIAL else name


def is_man_made(species: Said) -> bool:
    return any(row.key == species.key and row.is_man_made for row in tables.materials())
