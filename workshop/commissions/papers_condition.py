"""The reports on condition: every fault before the work, and every one of them again after it.

A crack that "was not there" is settled by what was shown and signed before the work (Working with customers' stones
<https://orchid.ganoksin.com/t/working-with-customers-stones/28832>). No declared value and no tax stands on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import models

from workshop.common import say
from workshop.common.models import Shop
from workshop.materials.models import Question
from workshop.papers.document import Block, Column, Document, Party, Photos, Points, Signatures, Table

from .models import Intake, IntakePiece
from .papers_intake import (
    NONE_SEEN,
    NOT_STATED,
    ROLE,
    basis,
    evidence_here,
    evidence_told,
    owner_lines,
    pictures,
    piece_heading,
    pieces_of,
    said_of,
    size_words,
    species_told,
    treatment_seen,
    treatment_told,
    without_tax,
)


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


def faults_of(piece: IntakePiece) -> list[str]:
    """Every fault noted at taking in: what stands in words, then each mark of each photograph."""
    words = [part.strip() for text in (piece.inclusions, piece.chips) for part in text.splitlines()]
    marks = [
        f"{mark.words} (photograph {number}, mark {count})"
        for number, photo in enumerate(piece.photos.all(), start=1)
        for count, mark in enumerate(photo.marks.all(), start=1)
    ]
    return [*filter(None, words), *marks]


def condition(intake: Intake) -> Document:
    """What each piece looks like before the work starts, to be signed before it does."""
    blocks: list[Block] = []
    pieces = pieces_of(intake)
    for number, piece in enumerate(pieces, start=1):
        blocks += [
            Table(
                [Column(""), Column("Stated by the client"), Column("Observed here")],
                _observed(piece),
                heading=piece_heading(piece, number, len(pieces)),
            ),
            Points(faults_of(piece) or [f"Faults: {NONE_SEEN}"], heading="Faults", numbered=True),
            Photos(pictures(piece)),
        ]
    blocks.append(_signed(intake))
    return _report(intake, "Report on condition, before the work", blocks)


def _observed(piece: IntakePiece) -> list[list[str]]:
    told = said_of(piece)
    return [
        ["What it is", piece.stated_to_be, piece.seen_as],
        ["Species", species_told(piece), basis(told.get(Question.SPECIES), piece)],
        ["Treatment", treatment_told(piece), treatment_seen(told, piece)],
        ["On what evidence", evidence_told(piece), evidence_here(told, piece)],
        ["Weight, by scale", "", say.carats_and_grams(piece.weight_ct)],
        ["Length × width × depth", "", size_words(piece.length_mm, piece.width_mm, piece.depth_mm)],
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
        shop=without_tax(),
        reference=f"{intake.code}, {intake.commission.code}",
        parties=[Party("Owner of the goods", owner_lines(intake.commission.client))],
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
        told = said_of(piece)
        blocks += [
            Table(
                [Column(""), Column("Before"), Column("After")],
                [
                    ["What it is", piece.seen_as, ""],
                    [
                        "Species",
                        f"{species_told(piece)}, as stated by the client",
                        basis(told.get(Question.SPECIES), piece),
                    ],
                    ["Treatment", treatment_told(piece), one.treatment or "not tested again"],
                    ["On what evidence", evidence_told(piece), evidence_here(told, piece)],
                    [
                        "Weight, by scale",
                        say.carats_and_grams(piece.weight_ct),
                        say.carats_and_grams(one.weight_ct),
                    ],
                    [
                        "Length × width × depth",
                        size_words(piece.length_mm, piece.width_mm, piece.depth_mm),
                        size_words(one.length_mm, one.width_mm, one.depth_mm),
                    ],
                ],
                heading=piece_heading(piece, number, len(pieces)),
            ),
            Table(
                [Column("Fault"), Column("Now"), Column("Remark")],
                [[found.fault, After(found.outcome).label, found.note] for found in one.findings]
                or [["none noted before", "none new", ""]],
            ),
            Photos(pictures(piece), heading="As it came in"),
        ]
    blocks.append(
        Signatures(["For the owner: name, day", f"For {Shop.the().name}: name, day"], heading="Signatures")
    )
    return _report(intake, "Report on condition, after the work", blocks)
