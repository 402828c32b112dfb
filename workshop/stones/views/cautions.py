"""The usual caution at the right moment: before the saw, the flame, the solvent, the recut."""

from __future__ import annotations

from dataclasses import dataclass

from workshop.handbook import tables
from workshop.handbook.errors import OutOfRange
from workshop.materials.models import Question, Treated, best_based
from workshop.materials.reference import Source, sources

from ..actions import said_about
from ..models import Activity, Stone

#: Before which work a caution of the tables is shown.
MOMENT_OF = {
    Activity.SAW: ("sawing",),
    Activity.PREFORM: ("cutting",),
    Activity.CUT_PAVILION: ("cutting",),
    Activity.CUT_CROWN: ("cutting",),
    Activity.POLISH_PAVILION: ("polishing",),
    Activity.POLISH_CROWN: ("polishing",),
    Activity.TRANSFER: ("dopping", "cleaning"),
    Activity.CLEAN: ("cleaning",),
}

#: The key of the tables for a treatment nobody knows of.
UNKNOWN = ["unknown"]


@dataclass(frozen=True)
class Shown:
    """One caution as it stands on a page."""

    hazard: str
    caution: str
    established: str
    sources: list[Source]
    source_words: str


@dataclass(frozen=True)
class Cautions:
    """What the material calls for, and what the bench always calls for at that moment."""

    of_stone: list[Shown]
    of_bench: list[Shown]
    heat: str
    unknown: bool
    not_advice: str = tables.NOT_ADVICE


def cautions_about(stone: Stone, moments: tuple[str, ...]) -> Cautions | None:
    """The cautions for a stone before some moments of work; None where there are none to show."""
    if not moments:
        return None
    rows = [row for row in tables.cautions() if row.is_of_the_bench and set(moments) & set(row.moments)]
    treated = treatments_of(stone)
    of_stone, heat = _of_material(stone, moments, treated)
    if not (rows or of_stone or heat):
        return None
    return Cautions(
        of_stone=of_stone, of_bench=[_shown(row) for row in rows], heat=heat, unknown=treated == UNKNOWN
    )


def _of_material(stone: Stone, moments: tuple[str, ...], treated: list[str]) -> tuple[list[Shown], str]:
    material = stone.material
    if material is None:
        return [], ""
    try:
        row = tables.material(material.key)
    except OutOfRange:
        own = Shown(
            "what the shop noted", material.bench_caution, "", [], material.source or "the shop's own note"
        )
        return ([own] if material.bench_caution else []), (material.heat_care if "dopping" in moments else "")
    found = {c.key: c for moment in moments for c in tables.cautions_for(row, treated, moment=moment)}
    warm = "dopping" in moments and not row.heat_sensitive.startswith("no")
    heat = (
        f"Minds heat: {row.heat_sensitive.removeprefix('yes: ')}; hot wax on the dop: {row.hot_wax_dop_ok}."
        if warm
        else ""
    )
    return [_shown(caution) for caution in found.values()], heat


def treatments_of(stone: Stone) -> list[str]:
    """What is said to have been done to it; an untested stone is handled as the most delicate one."""
    said = best_based(said_about(stone)).get(Question.TREATMENT)
    if said is None or said.treated == Treated.NOT_TESTED:
        return UNKNOWN
    known = {one.key for one in tables.treatments()}
    return [key for key in said.treatments if key in known] if said.treated == Treated.TREATED else []


def _shown(row: tables.Caution) -> Shown:
    named = sources(row.source)
    return Shown(row.hazard, row.caution, row.established, named, "" if named else row.source)
