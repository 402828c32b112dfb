"""What may go wrong with a piece, put before the client before work starts: topics with the rule behind each.

What a species or treatment brings is read in the handbook's tables (``materials.tsv``, ``treatments.tsv``,
``care.tsv``, ``cautions.tsv``), each row with its source. The topics every job has (breakage, weight, report,
off-cuts, insurance, delay, stop-and-ask, uncollected goods, liability) follow the take-in practice of the trade:
Jewelry take-in procedures
<https://www.jckonline.com/magazine-article/jewelry-take-in-procedures/>, Working with customers' stones
<https://orchid.ganoksin.com/t/working-with-customers-stones/28832>, Repair work on gemstones
<https://www.gemsociety.org/article/repair-work-gemstones/>; what has none says "common practice, no source".
Nothing here is legal advice: limits of liability are the shop's own wording, to be checked against local law.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from workshop.common import say
from workshop.handbook import tables
from workshop.handbook.errors import OutOfRange
from workshop.materials.models import Material, Question, Statement, Treated, best_based
from workshop.materials.naming import called, capital, cell
from workshop.stones.actions.notes import said_about

from .models import ON_CLIENTS_GOODS, CommissionItem, Intake, IntakePiece, OffCuts, WorkKind

COMMON: Final = "common practice, no source"
TAKE_IN: Final = (
    "Jewelry take-in procedures <https://www.jckonline.com/magazine-article/jewelry-take-in-procedures/>"
)
CUSTOMERS_STONES: Final = (
    "Working with customers' stones <https://orchid.ganoksin.com/t/working-with-customers-stones/28832>"
)
REPAIRS: Final = "Repair work on gemstones <https://www.gemsociety.org/article/repair-work-gemstones/>"
RECUTTING: Final = (
    "The art and joy of recutting gemstones "
    "<https://justinkprim.medium.com/the-art-and-joy-of-recutting-gemstones-964c4c315c33>"
)
OFF_CUTS_ASKED: Final = (
    "Cut & polished, part 3 <https://jewellerybusiness.com/features/"
    "cut-polished-when-it-comes-to-gemstones-sometimes-less-is-more/3>"
)
CHECK_LAW: Final = "Your own wording; have it checked against your local law."
"""Stands beside every word about liability, storage and uncollected goods where the shop writes them."""

#: Work on a stone that is cut already: its report, its old polish and its setting are at stake.
ON_CUT_STONES = (WorkKind.RECUT, WorkKind.REPOLISH, WorkKind.REPAIR)
FAULTS: Final = re.compile(
    r"\b(?:fissures?|fractures?|fractured|cracks?|cracked|feathers?|cleavages?|cleaved|incipient|breaks?|veils?)\b",
    re.IGNORECASE,
)
FLUIDS: Final = re.compile(r"\b(?:liquid|fluid|two-phase|three-phase|bubbles?)\b", re.IGNORECASE)
CHIPS: Final = re.compile(r"\b(?:chips?|chipped|nicks?|abrasions?|abraded|bruis\w*)\b", re.IGNORECASE)
GLUE: Final = re.compile(r"\b(?:glue[ds]?|cement(?:ed)?|backing|doublet|triplet)\b", re.IGNORECASE)
DENIED: Final = re.compile(r"\b(?:no|none|not|without|free of|never|keine?)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Risk:
    """One topic: what it is about, a plain sentence for the client, why it is there, and where that was read."""

    topic: str
    words: str
    why: str
    source: str


@dataclass(frozen=True)
class Subject:
    """What is known of the goods when the risks are weighed. Texts that nobody wrote are empty, figures None."""

    work: str = WorkKind.CUT_CLIENT
    material: Material | None = None
    treated: str = ""
    treatments: tuple[str, ...] = ()
    seen: str = ""
    laboratory_report: str = ""
    least_ct: Decimal | None = None
    most_ct: Decimal | None = None
    floor_ct: Decimal | None = None
    loss_percent: Decimal | None = None
    off_cuts: str = OffCuts.BACK
    insured_by: str = ""
    insured_until: date | None = None
    uncollected: str = ""

    @property
    def is_clients(self) -> bool:
        """Whether the goods at risk are the client's own."""
        return self.work in ON_CLIENTS_GOODS


def risk_topics(item: CommissionItem) -> list[str]:
    """The sentences to put before the client of one piece."""
    return [risk.words for risk in risks_of(subject_of(item))]


def subject_of(item: CommissionItem) -> Subject:
    """What is known of a piece: what was taken in for it, the stones linked to it, and what is agreed."""
    pieces = list(item.intake_pieces.select_related("lot__material", "intake"))
    known = _known(item, pieces)
    intake = pieces[-1].intake if pieces else None
    return Subject(
        work=item.work,
        material=known[0] or item.material,
        treated=known[1],
        treatments=known[2],
        seen="; ".join(_seen(piece) for piece in pieces),
        laboratory_report=", ".join(filter(None, (piece.laboratory_report for piece in pieces))),
        least_ct=item.least_ct,
        most_ct=item.most_ct,
        floor_ct=item.floor_ct or next((piece.floor_ct for piece in pieces if piece.floor_ct), None),
        loss_percent=next(
            (p.loss_consent_percent for p in pieces if p.loss_consent_percent is not None), None
        ),
        off_cuts=item.off_cuts,
        insured_by=intake.insured_by if intake else "",
        insured_until=intake.insured_until if intake else None,
        uncollected=intake.uncollected if intake else "",
    )


def subject_of_piece(piece: IntakePiece) -> Subject:
    """What is known of one piece that was taken in, whether or not it is for a piece of the commission yet."""
    intake: Intake = piece.intake
    said = list(piece.lot.statements.all())
    material, treated, treatments = _read(said)
    item = piece.item
    return Subject(
        work=item.work if item is not None else WorkKind.CUT_CLIENT,
        material=material or piece.lot.material,
        treated=treated,
        treatments=treatments,
        seen=_seen(piece),
        laboratory_report=piece.laboratory_report,
        floor_ct=piece.floor_ct,
        loss_percent=piece.loss_consent_percent,
        off_cuts=piece.off_cuts,
        insured_by=intake.insured_by,
        insured_until=intake.insured_until,
        uncollected=intake.uncollected,
    )


def _seen(piece: IntakePiece) -> str:
    marks = [mark.words for photo in piece.photos.all() for mark in photo.marks.all()]
    return "; ".join(filter(None, [piece.inclusions, piece.chips, *marks]))


def _known(
    item: CommissionItem, pieces: Sequence[IntakePiece]
) -> tuple[Material | None, str, tuple[str, ...]]:
    """The best-based word on species and treatment: of the stones linked to the piece, else of the lots left for it."""
    links = item.links.filter(until__isnull=True).select_related("stone__lot")
    said: list[Statement] = [one for link in links for one in said_about(link.stone)]
    if not said:
        said = [one for piece in pieces for one in piece.lot.statements.select_related("material")]
    return _read(said)


def _read(said: Sequence[Statement]) -> tuple[Material | None, str, tuple[str, ...]]:
    best = best_based(list(said))
    species, treatment = best.get(Question.SPECIES), best.get(Question.TREATMENT)
    known = {row.key for row in tables.treatments()}
    return (
        species.material if species is not None else None,
        treatment.treated if treatment is not None else "",
        tuple(key for key in treatment.treatments if key in known) if treatment is not None else (),
    )


def risks_of(subject: Subject) -> list[Risk]:
    """Every risk of a piece, the stone's own first, the shop's terms last."""
    row = _row(subject.material)
    return [
        *_species(subject, row),
        *_treatments(subject, row),
        *_condition(subject),
        *_always(subject),
        *(_goods_of_the_client(subject) if subject.is_clients else _goods_of_the_shop()),
        *_terms(),
    ]


def _row(material: Material | None) -> tables.Material | None:
    try:
        return tables.material(material.key) if material is not None else None
    except OutOfRange:
        return None


# --- The stone itself ----------------------------------------------------------------------------------------------


def _species(subject: Subject, row: tables.Material | None) -> Iterator[Risk]:
    material = subject.material
    if material is None:
        yield Risk(
            "species",
            _("What the stone is has not been settled; what it stands at the bench is judged once it is."),
            "no species is stated",
            COMMON,
        )
        return
    name = called(material.everyday_name)
    cleavage = row.cleavage if row else material.cleavage
    source = _source(row, material)
    if words := _cleavage_words(name, cleavage):
        yield Risk("cleavage", words, f"materials table, cleavage of {name}: {cleavage}", source)
    heat = _heat(subject, row)
    if heat:
        told = "; ".join(cell(one) for one in heat)
        yield Risk(
            "heat",
            _("Sawing, dopping and polishing warm a stone. Known of %(stone)s: %(what)s.")
            % {"stone": name, "what": told},
            f"care table and materials table, heat: {told}",
            _care_source(subject, row) or source,
        )
    if row and row.toughness.startswith("poor"):
        words = (
            _(
                "%(stone)s may be brittle: edges and points may chip on the lap or when it is taken off the dop."
            )
            if " to " in row.toughness
            else _(
                "%(stone)s is brittle: edges and points may chip on the lap or when it is taken off the dop."
            )
        )
        yield Risk(
            "toughness",
            words % {"stone": capital(name)},
            f"materials table, toughness of {name}: {row.toughness}",
            source,
        )


def _source(row: tables.Material | None, material: Material) -> str:
    if row is None:
        return material.source or "the shop's own note"
    return f"materials.tsv, {row.key}: {row.from_memory or row.source}"


def _cleavage_words(name: str, cleavage: str) -> str:
    """A sentence by the strongest word of the cell; nothing for indistinct, none, and what is hidden in a mass."""
    plain = re.sub(r"\s*(?:\{[^}]*\}|\([^)]*\))", "", cleavage).replace(" ,", ",")
    if "hidden" in cleavage:
        return ""
    told = {"stone": capital(name), "cleavage": ""}
    if re.search(r"\b(?:perfect|good|distinct)\b", plain):
        told["cleavage"] = cell(plain)
    if re.search(r"\bperfect\b", plain):
        words = _(
            "%(stone)s splits easily along its cleavage (%(cleavage)s). A knock, the saw or sudden heat can part it, "
            "and it may break in work however carefully it is cut."
        )
        return words % told
    if re.search(r"\b(?:good|distinct)\b", plain):
        words = _(
            "%(stone)s may split along its cleavage (%(cleavage)s). A knock, the saw or sudden heat can part it, "
            "and it may break in work however carefully it is cut."
        )
        return words % told
    if "parting" in cleavage:
        return _("%(stone)s has no true cleavage but may part along planes in the crystal.") % told
    return ""


def _heat(subject: Subject, row: tables.Material | None) -> tuple[str, ...]:
    if row is None:
        own = subject.material.heat_care if subject.material is not None else ""
        return (own.rstrip("."),) if own else ()
    heat = tables.care_advice(row, _real(subject)).heat
    if not heat and row.heat_sensitive.startswith("no") and FLUIDS.search(_affirmed(subject.seen)):
        # The table's "no" comes with a remark that only matters once such an inclusion was seen.
        heat = tuple(part for part in re.split(r"[:;]\s*", row.heat_sensitive) if "inclusion" in part)
    return heat


def _care_source(subject: Subject, row: tables.Material | None) -> str:
    return " ; ".join(tables.care_advice(row, _real(subject)).sources) if row is not None else ""


def _real(subject: Subject) -> list[str]:
    """The treatment keys told, less those that only say what a thing is or that nothing was found."""
    return [key for key in subject.treatments if key not in {"none_known", "synth", "imit", "unknown"}]


# --- What was done to it -------------------------------------------------------------------------------------------


def _caution(key: str) -> tables.Caution:
    return next(row for row in tables.cautions() if row.key == key)


def _at_stake() -> dict[str, str]:
    """What work can do to each treatment that work can undo, by the handbook's bench cautions."""
    filled, thin = _caution("filled-stone").treatments, _caution("thin-colour").treatments
    opened = _("cutting, cleaning and heat may open, empty or harm it, and what it hid will show")
    cut = _("recutting or repolishing may take it off or cut through it, wholly or in patches")
    return {
        **dict.fromkeys(filled, opened),
        **dict.fromkeys(thin, cut),
        "dye": _("cutting, solvents and heat may take it off or lay undyed stone bare"),
        "assembled": _("heat, solvents and the lap may part it at the glue"),
        "reconst": _("heat and solvents may harm what binds it"),
        "irr": _("heat may fade the colour"),
    }


def _treatments(subject: Subject, row: tables.Material | None) -> Iterator[Risk]:
    at_stake = _at_stake()
    told = [key for key in _real(subject) if key in at_stake]
    for key in told:
        one = tables.treatment(key)
        what = cell(one.words)
        if " " in one.permanence:
            what = f"{what} ({cell(one.permanence)})"
        yield Risk(
            "treatment",
            _("It is said to be treated, %(how)s: %(risk)s.") % {"how": what, "risk": at_stake[key]},
            f"treatments table, {key}; bench cautions",
            f"{_caution_source(key)} ; {one.source}",
        )
    if subject.treated != Treated.TREATED:
        yield from _untold(subject, row)


#: Treatments of the materials table that the lap, heat or cleaning can undo; heating alone is not among them.
AT_STAKE: Final = re.compile(
    r"oil|resin|fill|coat|dye|impregn|wax|diffusion|irradiation|composite|smoke", re.IGNORECASE
)


def _own_usual(material: Material | None) -> tuple[str, ...]:
    text = material.usual_treatments if material is not None else ""
    return tuple(part.strip() for part in text.split(";") if part.strip())


def _caution_source(key: str) -> str:
    return " ; ".join(row.source for row in tables.cautions() if key in row.treatments) or COMMON


def _untold(subject: Subject, row: tables.Material | None) -> Iterator[Risk]:
    """A treatment nobody told of may still be there; what is usual for the species is named."""
    name = called(subject.material.everyday_name) if subject.material is not None else _("such stones")
    common = row.common_treatments if row is not None else _own_usual(subject.material)
    lost = [words for words in common if AT_STAKE.search(words)]
    claim = {
        Treated.UNTREATED: _("It is said to be untreated, which was not tested here."),
        Treated.NOT_TESTED: _("Whether it is treated was not tested."),
    }.get(Treated(subject.treated) if subject.treated else Treated.NOT_TESTED, "")
    if lost:
        named = "; ".join(cell(words) for words in lost)
        usual = _(
            "%(claim)s Usual for %(stone)s: %(treatments)s. If it is there, work may open it, lose it or cut through "
            "it, and the stone may then look lighter, or its faults plainer."
        )
        yield Risk(
            "treatment",
            usual % {"claim": claim, "stone": name, "treatments": named},
            f"materials table, treatments common for {name}: {named}",
            _source(row, subject.material) if subject.material is not None else COMMON,
        )
    else:
        yield Risk(
            "treatment",
            _("%(claim)s A treatment nobody knew of may be opened, lost or cut through by the work.")
            % {"claim": claim},
            "no treatment is told",
            REPAIRS,
        )


# --- What was seen on it -------------------------------------------------------------------------------------------


def _affirmed(text: str) -> str:
    """What was noted as there: clauses that deny ("no chips") are left out."""
    clauses = re.split(r"[;,.\n]", text)
    return "; ".join(clause.strip() for clause in clauses if clause.strip() and not DENIED.search(clause))


def _condition(subject: Subject) -> Iterator[Risk]:
    seen = _affirmed(subject.seen)
    for topic, pattern, words in (
        (
            "fissures",
            FAULTS,
            _("Seen on it: %(what)s. This may open or run while it is cut, cleaned or warmed."),
        ),
        ("chips", CHIPS, _("Seen on it: %(what)s. This may grow, and taking them out costs weight.")),
        ("fluids", FLUIDS, _("Seen on it: %(what)s. This may burst when the stone is warmed.")),
        ("glue", GLUE, _("Seen on it: %(what)s. This may let go in heat or solvents.")),
    ):
        noted = [clause for clause in seen.split("; ") if pattern.search(clause)]
        if noted:
            yield Risk(topic, words % {"what": "; ".join(noted)}, f"noted at take-in: {topic}", REPAIRS)


# --- Every job -----------------------------------------------------------------------------------------------------


def _always(subject: Subject) -> Iterator[Risk]:
    yield Risk(
        "breakage",
        _(
            "Sawing, grinding and polishing shake a stone and take away what held it: a fissure or strain that nobody "
            "could see may open without warning."
        ),
        "every job",
        REPAIRS,
    )
    yield Risk("weight", _weight_words(subject), "every job; figures as agreed", RECUTTING)
    yield Risk(
        "colour",
        _(
            "A finished stone may look lighter, darker or different in colour from the rough, the old cut or a picture."
        ),
        "every job",
        COMMON,
    )
    yield Risk(
        "stop and ask",
        _(
            "If something comes up that these figures do not cover, work stops and you are asked before it goes on; "
            "you may also ask to stop at any time."
        ),
        "every job",
        COMMON,
    )
    yield Risk(
        "delay",
        _("The promised week is an estimate: a fault that comes up or an answer that is awaited moves it."),
        "every job",
        COMMON,
    )


def _weight_words(subject: Subject) -> str:
    parts = [_("Cutting takes weight that does not come back")]
    if subject.least_ct is not None and subject.most_ct is not None:
        ends = {"least": say.carats(subject.least_ct), "most": say.carats(subject.most_ct)}
        parts.append(_("wished for: %(least)s to %(most)s") % ends)
    if subject.loss_percent is not None:
        parts.append(_("loss agreed to: up to %(loss)s") % {"loss": say.percent(subject.loss_percent)})
    if subject.floor_ct is not None:
        floor = {"weight": say.carats(subject.floor_ct)}
        parts.append(_("least acceptable: %(weight)s, below it you are asked first") % floor)
    else:
        parts.append(_("no least acceptable weight is agreed"))
    return f"{'; '.join(parts)}."


def _goods_of_the_client(subject: Subject) -> Iterator[Risk]:
    if subject.laboratory_report or subject.work in ON_CUT_STONES:
        words = (
            _(
                "A laboratory report (%(report)s) describes the stone as it was: after the work its weight, "
                "measurements and perhaps its treatment no longer match."
            )
            if subject.laboratory_report
            else _(
                "A laboratory report describes the stone as it was: after the work its weight, measurements and "
                "perhaps its treatment no longer match."
            )
        )
        yield Risk(
            "laboratory report",
            words % {"report": subject.laboratory_report},
            "a report was left" if subject.laboratory_report else "work on a cut stone",
            "disclosure practice: a treatment record is confirmed again after a recut; common practice, no source",
        )
    yield Risk(
        "off-cuts", str(OFF_CUT_WORDS[OffCuts(subject.off_cuts)]), "as agreed at take-in", OFF_CUTS_ASKED
    )
    yield Risk("insurance", _insurance_words(subject), "goods of others are held", CUSTOMERS_STONES)
    yield Risk(
        "ownership",
        _(
            "The goods stay yours while they are here; the workshop holds them for the work and gives them back."
        ),
        "goods of others are held",
        "bailment: possession moves, title does not; local law comes first",
    )
    yield Risk(
        "uncollected",
        _("Goods that are not collected: %(rule)s") % {"rule": subject.uncollected.strip()}
        if subject.uncollected.strip()
        else _(
            "Goods that are not collected: the workshop's own rule and the local law on uncollected goods apply."
        ),
        "the shop's own rule" if subject.uncollected.strip() else "no rule was written at take-in",
        "the law on uncollected goods differs by country",
    )


OFF_CUT_WORDS: Final = {
    OffCuts.BACK: gettext_lazy(
        "Off-cuts large enough to pick up go back to you; what is ground away is mud and is not kept."
    ),
    OffCuts.SHOP: gettext_lazy(
        "Off-cuts stay with the workshop, as agreed; what is ground away is mud and is not kept."
    ),
    OffCuts.PAYMENT: gettext_lazy(
        "Off-cuts are kept as part of the payment, at a value agreed in writing; what is ground away is mud and is "
        "not kept."
    ),
}


def _insurance_words(subject: Subject) -> str:
    if not subject.insured_by.strip():
        return _(
            "Who insures the goods while they are here and on the way has not been written down; no fee for the work "
            "covers the value of a stone."
        )
    told = {"insurer": subject.insured_by.strip(), "day": say.moment(subject.insured_until)}
    if subject.insured_until:
        words = _(
            "While they are here the goods are insured by %(insurer)s until %(day)s; no fee for the work covers the "
            "value of a stone."
        )
        return words % told
    words = _(
        "While they are here the goods are insured by %(insurer)s; no fee for the work covers the value of a stone."
    )
    return words % told


def _goods_of_the_shop() -> Iterator[Risk]:
    yield Risk(
        "another piece",
        _(
            "The rough is the workshop's until the stone is delivered: if it fails in work, another piece is tried or "
            "your deposit is settled, and the date moves."
        ),
        "cut from the shop's own rough",
        COMMON,
    )


def _terms() -> Iterator[Risk]:
    yield Risk(
        "liability",
        _(
            "Liability and disputes: by the workshop's own written terms, as far as the local law allows them."
        ),
        CHECK_LAW,
        "bailment and consumer law differ by country; local law comes first",
    )
