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

from django.utils.translation import gettext as _

from workshop.common import say
from workshop.handbook import tables

from .naming import called, capital, cell, degree_words, joined, listed
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
    """One thing a paper says, the rule it is there for, and the statement behind it; ``topic`` names it in every
    language: nature, species, treatment, origin."""

    label: str
    text: str
    why: str
    basis: str = ""
    topic: str = ""


def species_words(species: Said) -> str:
    name = bare_name(species, species)
    if name == species.species or not name:
        return called(species.species)
    return joined(called(species.species), called(name))


def basis(said: Said) -> str:
    """Who says so and how, in the ladder's own words."""
    how, day = said.how.strip().rstrip("."), say.moment(said.said_on)
    if said.evidence >= LABORATORY:
        dated = _("dated %(day)s") % {"day": day}
        return _("laboratory report: %(which)s") % {"which": joined(said.said_by, how, dated)}
    if said.evidence == GEMMOLOGIST:
        return _("written opinion of %(whom)s") % {"whom": joined(said.said_by, how, day)}
    if said.evidence == TESTED:
        if how:
            return _("identified by the cutter by: %(readings)s") % {"readings": how}
        return _("in the cutter’s opinion, readings not recorded")
    if said.evidence == WRITTEN:
        return _("according to %(whom)s") % {"whom": joined(said.said_by, how, day)}
    if said.evidence == SAID:
        return _("reported by %(whom)s, unverified") % {"whom": said.said_by}
    return _("not tested")


def treatment_lines(said: Said, done: tuple[str, ...]) -> tuple[Line, ...]:
    if said.treated == "treated" and done:
        lines = [
            _one_treatment(key, said.degree) for key in done if key in said.treatments or key == "leadglass"
        ]
        return (*lines[:-1], replace(lines[-1], basis=basis(said))) if lines else ()
    if said.treated == "not_tested" or "unknown" in said.treatments:
        words = said.words.strip()
        told = _("not tested; sold to me as “%(words)s”") % {"words": words} if words else _("not tested")
        why = "house rule: what nobody tested is said to be untested"
        known = [_one_treatment("leadglass", "")] if "leadglass" in done else []
        return (_about_treatment(told, why, _told_by(said)), *known)
    return (
        _about_treatment(_untreated(said), "house rule: a claim of no treatment goes as far as its evidence"),
    )


def _about_treatment(text: str, why: str, told_by: str = "") -> Line:
    return Line(_("Treatment"), text, why, told_by, topic="treatment")


def _told_by(said: Said) -> str:
    return basis(said) if said.evidence >= WRITTEN and said.words.strip() else ""


def _one_treatment(key: str, degree: str) -> Line:
    """Plain words, permanence, special care and effect on value (16 CFR 23.24(a)-(c))."""
    row = tables.treatment(key)
    told = degree and _wants_degree(row)
    parts = [f"{cell(row.words)} ({degree_words(degree)})" if told else cell(row.words), _lasting(row)]
    if _wants_care(row):
        parts.append(_("needs special care"))
    if row.value.startswith("yes"):
        parts.append(_("affects value"))
    text = "; ".join(part for part in parts if part)
    return _about_treatment(text, f"16 CFR 23.24; CIBJO: {row.cibjo}; France: {row.fr}")


def treatments_in_short(done: Sequence[str], degree: str) -> str:
    """Many treatments in one sentence: each named in plain words, with the weakest of all for the rest."""
    rows = [tables.treatment(key) for key in done]
    if len(rows) < 2:
        return ""
    parts = [cell(row.words) for row in rows]
    if degree and any(_wants_degree(row) for row in rows):
        parts.append(_("degree: %(degree)s") % {"degree": degree_words(degree)})
    # Of several the weakest speaks for all; what fades is told before what only may.
    weakest = next((row for row in rows if row.stable == "no"), None) or next(filter(_doubt, rows), None)
    parts += [_doubt(weakest)] if weakest is not None else []
    parts += [_("needs special care")] if any(_wants_care(row) for row in rows) else []
    parts += [_("affects value")] if any(row.value.startswith("yes") for row in rows) else []
    return "; ".join(parts)


def _wants_degree(row: tables.Treatment) -> bool:
    return row.note.startswith("say the degree")


def _wants_care(row: tables.Treatment) -> bool:
    return "b" in {letter.rstrip("?") for letter in row.us} or row.key == "leadglass"


def _doubt(row: tables.Treatment) -> str:
    if row.stable == "no":
        return _("not permanent")
    return _("may not be permanent") if row.stable in {"partly", "depends"} else ""


def _lasting(row: tables.Treatment) -> str:
    """Whether it lasts: said in so many words where it does not or may not (16 CFR 23.24(a))."""
    words = row.permanence if " " in row.permanence or row.stable == "yes" else ""
    return ": ".join(part for part in (_doubt(row), cell(words)) if part)


def _untreated(said: Said) -> str:
    """ "Not treated" is a claim; each rung of the ladder has its own words."""
    if said.evidence >= LABORATORY:
        return _("no indication of treatment, %(basis)s; state at that date") % {"basis": basis(said)}
    if said.evidence >= GEMMOLOGIST:
        return _("no treatment found, %(basis)s") % {"basis": basis(said)}
    if said.evidence == TESTED:
        how = said.how.strip().rstrip(".")
        if how:
            words = _("no treatment found by the cutter by: %(readings)s; no laboratory was asked")
            return words % {"readings": how}
        return _("no treatment found by the cutter; no laboratory was asked")
    if said.evidence == WRITTEN:
        return _("reported untreated, %(basis)s; not tested by the cutter") % {"basis": basis(said)}
    words = _("not tested; sold to me as untreated by %(whom)s, not in writing")
    return words % {"whom": said.said_by}


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
        return _from(_("not stated"))
    if said.evidence >= GEMMOLOGIST:
        whom = joined(said.said_by, said.how, f"{said.said_on:%Y}")
        words = _("in the opinion of %(whom)s: %(origin)s")
        return _from(words % {"whom": whom, "origin": said.words})
    if said.evidence == TESTED:
        words = _("by the cutter’s own record: %(origin)s")
        return _from(words % {"origin": joined(said.words, said.how)})
    return _from(_("reported origin %(origin)s") % {"origin": said.words}, basis(said))


def _from(text: str, told_by: str = "") -> Line:
    return Line(_("Origin"), text, ORIGIN_RULE, told_by, topic="origin")


def care(species: Said, treatment: Said, done: tuple[str, ...]) -> tuple[str, ...]:
    """Care by species and treatment, the stricter of two sources; an untested stone is kept as the most fragile
    one usual for it. Boiling is never printed."""
    keys = [key for key in done if key not in {"synth", "imit"}]
    if treatment.treated == "not_tested":
        keys.append("unknown")
    advice = tables.care_advice(_stone(species), keys)
    lines = [_("Clean: %(how)s") % {"how": cell(advice.clean)}, _machines(advice)]
    bans = [cell(tables.treatment(key).care) for key in keys if key in RECUT_BANS]
    # Of a stone nobody tested only the first, strictest word of each kind: the rest is guesswork.
    most = 1 if "unknown" in keys else None
    for sentence, texts in (
        (_("Heat: %(what)s"), advice.heat),
        (_("Chemicals: %(what)s"), advice.chemicals),
        (_("Light: %(what)s"), advice.light),
    ):
        told = "; ".join(cell(text) for text in _distinct(texts)[:most])
        lines += [sentence % {"what": told}] if told else []
    return tuple(f"{capital(line)}." for line in (*lines, *bans) if line)


def _machines(advice: tables.CareAdvice) -> str:
    """Ultrasonic and steam in one sentence; nothing where both are allowed."""
    return {
        ("no", "no"): _("no ultrasonic, no steam"),
        ("no", "risk"): _("no ultrasonic. Steam: risky"),
        ("no", "ok"): _("no ultrasonic"),
        ("risk", "no"): _("no steam. Ultrasonic: risky"),
        ("risk", "risk"): _("ultrasonic and steam: risky"),
        ("risk", "ok"): _("ultrasonic: risky"),
        ("ok", "no"): _("no steam"),
        ("ok", "risk"): _("steam: risky"),
    }.get((advice.ultrasonic, advice.steam), "")


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
        for said, word in (
            (species, _("species")),
            (nature, _("mined or grown")),
            (treatment, _("treatment")),
        )
        if said.evidence < TESTED
    ]
    return _("Not tested by the cutter: %(what)s.") % {"what": listed(names)} if names else ""


def bare_name(species: Said, nature: Said) -> str:
    name = species.name or species.species
    name = name.removeprefix("synthetic ")
    return name.removeprefix("precious ") if nature.nature in ARTIFICIAL else name


def is_man_made(species: Said) -> bool:
    return any(row.key == species.key and row.is_man_made for row in tables.materials())
