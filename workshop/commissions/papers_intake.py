"""From a taking-in to its papers: the receipt, the report on condition before the work, and the one after it.

What the client states and what is seen here stand in two columns and are never mixed: a vague or wrong word of the
client's is then not the cutter's (Jewelry take-in procedures
<https://www.jckonline.com/magazine-article/jewelry-take-in-procedures/>; Working with customers' stones
<https://orchid.ganoksin.com/t/working-with-customers-stones/28832>). The declared value is the client's own figure,
and stands on the receipt alone. What is not known prints as not known.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from django.db import models

from workshop.common import say
from workshop.common.models import Shop
from workshop.materials.models import Evidence, Question, Statement, Treated, best_based
from workshop.papers.document import (
    Block,
    Column,
    Document,
    Facts,
    Party,
    Photos,
    Picture,
    Points,
    Signatures,
    Table,
)
from workshop.papers.document import Mark as PaperMark
from workshop.people.models import Contact

from .models import Intake, IntakePiece
from .risks import risks_of, subject_of_piece

ROLE: Final = (
    "The cutter’s own statement of what was handed over and seen, not a laboratory’s. The goods stay the owner’s. "
    "What is said here about storage, liability and goods not collected is the workshop’s own wording; local law comes "
    "first."
)
RUNGS: Final = {
    Evidence.NOTHING: "nothing to go by",
    Evidence.SAID: "the client’s word, not tested here",
    Evidence.WRITTEN: "in writing from the client, not tested here",
    Evidence.TESTED: "tested here, with readings",
    Evidence.GEMMOLOGIST: "independent gemmologist’s written opinion",
    Evidence.LABORATORY: "laboratory report",
}
NOT_STATED, NONE_SEEN, NOT_MEASURED = "not stated", "none noted", "not measured"


class After(models.TextChoices):
    """What became of a fault that was listed before the work."""

    UNCHANGED = "unchanged", "unchanged"
    CHANGED = "changed", "changed"
    REMOVED = "removed", "removed"
    NEW = "new", "new"


@dataclass(frozen=True)
class Finding:
    """One fault listed again after the work, or a new one, with what became of it."""

    fault: str
    outcome: str
    note: str = ""


@dataclass(frozen=True)
class PieceAfter:
    """A piece as it goes back: its weight and size now, and every fault again."""

    piece: IntakePiece
    weight_ct: Decimal
    length_mm: Decimal | None = None
    width_mm: Decimal | None = None
    depth_mm: Decimal | None = None
    findings: Sequence[Finding] = field(default_factory=tuple)
    treatment: str = ""


def pieces_of(intake: Intake) -> list[IntakePiece]:
    """The pieces with all that a paper or page says of them, in the order they were taken in."""
    rows = intake.pieces.select_related("lot__material", "lot__owner", "item").prefetch_related(
        "photos__photo", "photos__marks", "lot__statements__material"
    )
    return list(rows)


def faults_of(piece: IntakePiece) -> list[str]:
    """Every fault noted at taking in: what stands in words, then each mark of each photograph."""
    words = [part.strip() for text in (piece.inclusions, piece.chips) for part in text.splitlines()]
    marks = [
        f"{mark.words} (photograph {number}, mark {count})"
        for number, photo in enumerate(piece.photos.all(), start=1)
        for count, mark in enumerate(photo.marks.all(), start=1)
    ]
    return [*filter(None, words), *marks]


# --- The receipt -----------------------------------------------------------------------------------------------------


def receipt(intake: Intake) -> Document:
    """What was handed over, whose it is, what is agreed, and what may go wrong."""
    shop, client = _without_tax(), intake.commission.client
    pieces = pieces_of(intake)
    blocks: list[Block] = []
    for number, piece in enumerate(pieces, start=1):
        blocks += [
            _two_columns(piece, number, len(pieces), shop),
            _agreed(piece),
            Photos(_pictures(piece), heading=""),
        ]
    blocks += [
        Facts(_holding(intake), heading="While it is here and when it goes back"),
        Points(_risks(pieces), heading="Read this before you sign: what may go wrong", numbered=True),
        Signatures(
            [f"Handed over: {intake.handed_by}, day", f"Received for {shop.name}: name, day"],
            heading="Signatures",
            words="Sign before the work starts; both keep a copy."
            + (f" Handed over by {intake.handed_by} {_on_whose_word(intake)}." if intake.authority else ""),
        ),
    ]
    return Document(
        title="Receipt for goods taken in",
        shop=shop,
        reference=f"{intake.code}, {intake.commission.code}",
        parties=[Party("Owner of the goods", _owner(client)), Party("Handed over by", [_handed(intake)])],
        facts=[
            ("Received", say.moment(intake.received_at)),
            ("Where", shop.name),
            ("How it came", intake.how or NOT_STATED),
            ("Pieces", str(sum(piece.pieces for piece in pieces))),
            ("Weight in all", say.carats_and_grams(sum(piece.weight_ct for piece in pieces))),
            ("To come back by", _return_by(intake)),
        ],
        blocks=blocks,
        role=ROLE,
    )


def _without_tax() -> Shop:
    """The shop without its tax number: no tax data stands on these papers."""
    shop = copy.copy(Shop.the())
    shop.tax_number = ""
    return shop


def _owner(client: Contact) -> list[str]:
    ways = " · ".join(filter(None, [client.phone, client.email]))
    return [str(client), client.address or "address not given", client.country, ways]


def _handed(intake: Intake) -> str:
    return f"{intake.handed_by} {_on_whose_word(intake)}" if intake.authority else intake.handed_by


def _on_whose_word(intake: Intake) -> str:
    return f"(authority: {intake.authority})"


def _return_by(intake: Intake) -> str:
    commission = intake.commission
    if commission.due_on is not None:
        return f"promised for the week of {say.moment(commission.due_on)}"
    if commission.wished_by is not None:
        return f"wished for by {say.moment(commission.wished_by)}, not promised"
    return "no day promised yet"


def _two_columns(piece: IntakePiece, number: int, of: int, shop: Shop) -> Table:
    """Stated by the client beside seen here: two columns that are never mixed."""
    told = _said(piece)
    rows = [
        ["What it is", piece.stated_to_be, piece.seen_as],
        ["Species", _species_told(told), _basis(told.get(Question.SPECIES))],
        ["Treatment", _treatment_told(piece), _treatment_seen(told)],
        ["On what evidence", _evidence_told(told), _evidence_here(told)],
        ["Pieces", "", str(piece.pieces)],
        [
            "Weight, by scale",
            "",
            f"{say.carats_and_grams(piece.weight_ct)}, scale step {shop.scale_step_ct.normalize():f} ct",
        ],
        ["Length × width × depth", "", _size(piece.length_mm, piece.width_mm, piece.depth_mm)],
        ["Colour", "", piece.colour or "not noted"],
        ["Tests done", "", piece.tests or "none"],
        ["Laboratory report left", piece.laboratory_report or "none left", ""],
        ["Declared value", _declared(piece), "the client’s own figure; not an appraisal"],
        ["Inclusions, shown", "", piece.inclusions or NONE_SEEN],
        ["Chips, fissures, old glue", "", _condition(piece)],
    ]
    return Table(
        [Column(""), Column("Stated by the client"), Column("Seen here")],
        rows,
        heading=_piece_heading(piece, number, of),
    )  # fmt: skip


def _piece_heading(piece: IntakePiece, number: int, of: int) -> str:
    item = f", for piece {piece.item.number} of the commission" if piece.item is not None else ""
    return f"{number} of {of}: {piece.lot.code}{item}"


def _said(piece: IntakePiece) -> dict[str, Statement]:
    return best_based(list(piece.lot.statements.all()))


def _species_told(told: dict[str, Statement]) -> str:
    said = told.get(Question.SPECIES)
    return said.answer if said is not None and said.evidence <= Evidence.WRITTEN else NOT_STATED


def _basis(said: Statement | None) -> str:
    """What is known here of a statement: its own evidence, never the client's word as ours."""
    if said is None:
        return "not tested here"
    if said.evidence >= Evidence.TESTED:
        how = f": {said.how.strip()}" if said.how.strip() else ""
        return f"{said.answer}; {RUNGS[Evidence(said.evidence)]}{how}"
    return "not tested here"


def _treatment_told(piece: IntakePiece) -> str:
    told = piece.get_told_treatment_display()
    named = next(
        (
            said.answer
            for said in piece.lot.statements.all()
            if said.question == Question.TREATMENT
            and said.evidence <= Evidence.WRITTEN
            and said.treated == Treated.TREATED
        ),
        "",
    )
    parts = [f"{told}: {named}" if named else told]
    if piece.treatment_words:
        parts.append(f"“{piece.treatment_words}”")
    return ", ".join(parts)


def _treatment_seen(told: dict[str, Statement]) -> str:
    return _basis(told.get(Question.TREATMENT))


def _evidence_told(told: dict[str, Statement]) -> str:
    """The rung of the ladder of what the client says."""
    said = [one.evidence for one in told.values() if one.evidence <= Evidence.WRITTEN]
    return RUNGS[Evidence(max(said))] if said else NOT_STATED


def _evidence_here(told: dict[str, Statement]) -> str:
    """The rung of what was tested here, by question."""
    tested = [one for one in told.values() if one.evidence >= Evidence.TESTED]
    words = [f"{Question(one.question).label}: {RUNGS[Evidence(one.evidence)]}" for one in tested]
    return "; ".join(words) or "looked at, nothing tested"


def _size(length: Decimal | None, width: Decimal | None, depth: Decimal | None) -> str:
    sides = [side for side in (length, width, depth) if side is not None]
    return " × ".join(say.number(side, 2) for side in sides) + f"{say.GAP}mm" if sides else NOT_MEASURED


def _declared(piece: IntakePiece) -> str:
    if piece.declared_value is None:
        return f"“{piece.declared_words}”" if piece.declared_words else "the client named no value"
    said = say.money(piece.declared_value, piece.declared_currency)
    return f"{said}, in the client’s words: “{piece.declared_words}”" if piece.declared_words else said


def _condition(piece: IntakePiece) -> str:
    parts = [piece.chips or NONE_SEEN]
    if piece.magnification:
        parts.append(f"looked at with {piece.magnification}")
    if not piece.intake.came_clean:
        parts.append("not taken in clean: more may show once it is")
    return "; ".join(parts)


def _agreed(piece: IntakePiece) -> Facts:
    consent = piece.loss_consent_percent
    return Facts(
        [
            (
                "Work",
                piece.item.get_work_display()
                if piece.item is not None
                else "not settled yet: look and quote",
            ),
            (
                "Loss of weight agreed to",
                f"up to {say.percent(consent)}" if consent is not None else "not agreed yet",
            ),
            (
                "Floor",
                f"{say.carats(piece.floor_ct)}; below it the client is asked first"
                if piece.floor_ct is not None
                else "none agreed yet",
            ),
            ("Off-cuts", piece.get_off_cuts_display()),
        ]
    )


def _holding(intake: Intake) -> list[tuple[str, str]]:
    until = f" until {say.moment(intake.insured_until)}" if intake.insured_until is not None else ""
    return [
        ("Insured while here by", f"{intake.insured_by}{until}" if intake.insured_by else "not settled"),
        ("Goes back to", intake.return_to or "to be settled"),
        ("Limits", intake.limits or "none given"),
        ("Goods not collected", intake.uncollected or "no rule agreed; the local law applies"),
        ("Taken in clean", "yes" if intake.came_clean else "no"),
    ]


def _risks(pieces: Sequence[IntakePiece]) -> list[str]:
    """Each sentence once, with the pieces it is about when it is not about all."""
    about: dict[str, list[int]] = {}
    for number, piece in enumerate(pieces, start=1):
        for risk in risks_of(subject_of_piece(piece)):
            about.setdefault(risk.words, []).append(number)
    return [
        words if len(numbers) == len(pieces) else f"Piece {', '.join(map(str, numbers))}: {words}"
        for words, numbers in about.items()
    ]


def _pictures(piece: IntakePiece) -> list[Picture]:
    return [
        Picture(
            photo.photo,
            f"{piece.lot.code}, photograph {number}{f', {photo.view}' if photo.view else ''}, "
            f"{photo.photo.sha256[:12]}",
            [PaperMark(mark.x_percent, mark.y_percent, mark.words) for mark in photo.marks.all()],
        )
        for number, photo in enumerate(piece.photos.all(), start=1)
    ]


# --- The reports on condition ----------------------------------------------------------------------------------------


def condition(intake: Intake) -> Document:
    """What each piece looks like before the work starts, to be signed before it does."""
    blocks: list[Block] = []
    pieces = pieces_of(intake)
    for number, piece in enumerate(pieces, start=1):
        blocks += [
            Table(
                [Column(""), Column("Stated by the client"), Column("Observed here")],
                _observed(piece),
                heading=_piece_heading(piece, number, len(pieces)),
            ),
            Points(faults_of(piece) or [f"Faults: {NONE_SEEN}"], heading="Faults", numbered=True),
            Photos(_pictures(piece)),
        ]
    blocks.append(_signed(intake))
    return _report(intake, "Report on condition, before the work", blocks)


def _observed(piece: IntakePiece) -> list[list[str]]:
    told = _said(piece)
    return [
        ["What it is", piece.stated_to_be, piece.seen_as],
        ["Species", _species_told(told), _basis(told.get(Question.SPECIES))],
        ["Treatment", _treatment_told(piece), _treatment_seen(told)],
        ["On what evidence", _evidence_told(told), _evidence_here(told)],
        ["Weight, by scale", "", say.carats_and_grams(piece.weight_ct)],
        ["Length × width × depth", "", _size(piece.length_mm, piece.width_mm, piece.depth_mm)],
        ["Colour", "", piece.colour or "not noted"],
        ["Tests done", "", piece.tests or "none"],
        ["Magnification", "", piece.magnification or NOT_STATED],
        ["Taken in clean", "", "yes" if piece.intake.came_clean else "no: more may show once it is"],
    ]


def _signed(intake: Intake) -> Signatures:
    words = "Sign before the work starts."
    if intake.signed_at is not None:
        words = f"The receipt was signed by {intake.signed_by} on {say.moment(intake.signed_at)}."
    return Signatures(
        ["For the owner: name, day", f"For {Shop.the().name}: name, day"], heading="Signatures", words=words
    )


def _report(intake: Intake, title: str, blocks: Sequence[Block]) -> Document:
    return Document(
        title=title,
        shop=_without_tax(),
        reference=f"{intake.code}, {intake.commission.code}",
        parties=[Party("Owner of the goods", _owner(intake.commission.client))],
        facts=[
            ("Received", say.moment(intake.received_at)),
            ("Looked at by", str(intake.taken_by) if intake.taken_by is not None else Shop.the().name),
            ("Receipt", intake.receipt.number if intake.receipt is not None else "not issued yet"),
        ],
        blocks=blocks,
        role=ROLE,
    )


def after(intake: Intake, pieces: Sequence[PieceAfter]) -> Document:
    """Every fault listed again: unchanged, changed, removed or new; and what the piece weighs now."""
    blocks: list[Block] = []
    for number, one in enumerate(pieces, start=1):
        piece = one.piece
        told = _said(piece)
        blocks += [
            Table(
                [Column(""), Column("Before"), Column("After")],
                [
                    ["What it is", piece.seen_as, ""],
                    [
                        "Species",
                        f"{_species_told(told)}, as stated by the client",
                        _basis(told.get(Question.SPECIES)),
                    ],
                    ["Treatment", _treatment_told(piece), one.treatment or "not tested again"],
                    [
                        "Weight, by scale",
                        say.carats_and_grams(piece.weight_ct),
                        say.carats_and_grams(one.weight_ct),
                    ],
                    [
                        "Length × width × depth",
                        _size(piece.length_mm, piece.width_mm, piece.depth_mm),
                        _size(one.length_mm, one.width_mm, one.depth_mm),
                    ],
                ],
                heading=_piece_heading(piece, number, len(pieces)),
            ),
            Table(
                [Column("Fault"), Column("Now"), Column("Remark")],
                [[found.fault, After(found.outcome).label, found.note] for found in one.findings]
                or [["none noted before", "none new", ""]],
            ),
            Photos(_pictures(piece), heading="As it came in"),
        ]
    blocks.append(
        Signatures(["For the owner: name, day", f"For {Shop.the().name}: name, day"], heading="Signatures")
    )
    return _report(intake, "Report on condition, after the work", blocks)
