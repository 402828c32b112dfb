"""The reports on condition: every fault before the work, and every one of them again after it.

A crack that "was not there" is settled by what was shown and signed before the work (Working with customers' stones
<https://orchid.ganoksin.com/t/working-with-customers-stones/28832>). No declared value and no tax stands on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import override

from workshop.common import say
from workshop.common.models import Shop
from workshop.materials.models import Question
from workshop.materials.naming import choice
from workshop.papers.document import Block, Column, Document, Party, Photos, Points, Signatures, Table

from .models import Intake, IntakePiece
from .papers_intake import (
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
        _("%(fault)s (photograph %(number)s, mark %(mark)s)")
        % {"fault": mark.words, "number": number, "mark": count}
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
                [Column(""), Column(_("Stated by the client")), Column(_("Observed here"))],
                _observed(piece),
                heading=piece_heading(piece, number, len(pieces)),
            ),
            Points(faults_of(piece) or [_("Faults: none noted")], heading=_("Faults"), numbered=True),
            Photos(pictures(piece)),
        ]
    blocks.append(_signed(intake))
    return _report(intake, _("Report on condition, before the work"), blocks)


def _observed(piece: IntakePiece) -> list[list[str]]:
    told = said_of(piece)
    return [
        [_("What it is"), piece.stated_to_be, piece.seen_as],
        [_("Species"), species_told(piece), basis(told.get(Question.SPECIES), piece)],
        [_("Treatment"), treatment_told(piece), treatment_seen(told, piece)],
        [_("On what evidence"), evidence_told(piece), evidence_here(told, piece)],
        [_("Weight, by scale"), "", say.carats_and_grams(piece.weight_ct)],
        [_("Length × width × depth"), "", size_words(piece.length_mm, piece.width_mm, piece.depth_mm)],
        [_("Colour"), "", piece.colour or _("not noted")],
        [_("Tests done"), "", piece.tests or _("none")],
        [_("Magnification"), "", piece.magnification or str(NOT_STATED)],
        [_("Taken in clean"), "", _("yes") if piece.intake.came_clean else _("no: more may show once it is")],
    ]


def _signed(intake: Intake) -> Signatures:
    words = _("Sign before the work starts.")
    if intake.signed_at is not None:
        told = {"whom": intake.signed_by, "day": say.moment(intake.signed_at)}
        words = _("The receipt was signed by %(whom)s on %(day)s.") % told
    return Signatures(
        [_("For the owner: name, day"), _("For %(shop)s: name, day") % {"shop": Shop.the().name}],
        heading=_("Signatures"),
        words=words,
    )


def _report(intake: Intake, title: str, blocks: Sequence[Block]) -> Document:
    return Document(
        title=title,
        shop=without_tax(),
        reference=f"{intake.code}, {intake.commission.code}",
        parties=[Party(_("Owner of the goods"), owner_lines(intake.commission.client))],
        facts=[
            (_("Received"), say.moment(intake.received_at)),
            (_("Looked at by"), str(intake.taken_by) if intake.taken_by is not None else Shop.the().name),
            (_("Receipt"), intake.receipt.number if intake.receipt is not None else _("not issued yet")),
        ],
        blocks=blocks,
        role=str(ROLE),
    )


def _fault_here(piece: IntakePiece, fault: str) -> str:
    """A fault as it was listed on the page, which is English, in the paper's language."""
    with override("en"):
        listed = faults_of(piece)
    return dict(zip(listed, faults_of(piece), strict=True)).get(fault, fault)


def after(intake: Intake, pieces: Sequence[PieceAfter]) -> Document:
    """Every fault listed again: unchanged, changed, removed or new; and what the piece weighs now."""
    blocks: list[Block] = []
    for number, one in enumerate(pieces, start=1):
        piece = one.piece
        told = said_of(piece)
        blocks += [
            Table(
                [Column(""), Column(_("Before")), Column(_("After"))],
                [
                    [_("What it is"), piece.seen_as, ""],
                    [
                        _("Species"),
                        _("%(species)s, as stated by the client") % {"species": species_told(piece)},
                        basis(told.get(Question.SPECIES), piece),
                    ],
                    [_("Treatment"), treatment_told(piece), one.treatment or _("not tested again")],
                    [_("On what evidence"), evidence_told(piece), evidence_here(told, piece)],
                    [
                        _("Weight, by scale"),
                        say.carats_and_grams(piece.weight_ct),
                        say.carats_and_grams(one.weight_ct),
                    ],
                    [
                        _("Length × width × depth"),
                        size_words(piece.length_mm, piece.width_mm, piece.depth_mm),
                        size_words(one.length_mm, one.width_mm, one.depth_mm),
                    ],
                ],
                heading=piece_heading(piece, number, len(pieces)),
            ),
            Table(
                [Column(_("Fault")), Column(_("Now")), Column(_("Remark"))],
                [
                    [_fault_here(piece, found.fault), choice(After(found.outcome).label), found.note]
                    for found in one.findings
                ]
                or [[_("none noted before"), _("none new"), ""]],
            ),
            Photos(pictures(piece), heading=_("As it came in")),
        ]
    blocks.append(
        Signatures(
            [_("For the owner: name, day"), _("For %(shop)s: name, day") % {"shop": Shop.the().name}],
            heading=_("Signatures"),
        )
    )
    return _report(intake, _("Report on condition, after the work"), blocks)
