"""The papers of a taking-in: its receipt, its reports on condition, and the signature under them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from django.utils.translation import override

from workshop.common import journal, say
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand
from workshop.common.tx import write_tx
from workshop.papers import actions as papers
from workshop.papers.document import Document
from workshop.papers.languages import language_for
from workshop.papers.models import Paper, PaperKind
from workshop.rough.actions import add_lot_document
from workshop.rough.documents import ReadDocument

from .. import papers_condition, papers_intake
from ..models import Intake, IntakePiece
from ..papers_condition import After, PieceAfter
from .standing import standing_commission


def open_intake(intake: Intake) -> Intake:
    """The taking-in as it stands now, if its commission still does."""
    fresh = Intake.objects.select_related("commission__client", "receipt", "report", "taken_by").get(
        pk=intake.pk
    )
    standing_commission(fresh.commission)
    return fresh


def missing_for_papers(pieces: Sequence[IntakePiece]) -> list[str]:
    """What a paper of these pieces must show and cannot yet."""
    return [f"{piece.lot.code} has no photograph yet." for piece in pieces if not piece.photos.all()]


def issue_receipt(
    intake: Intake,
    *,
    reason: str = "",
    base_url: str = "",
    language: str = "",
    by: Hand | None,
    at: datetime,
) -> Paper:
    """Issue the receipt, or a revised one, with a reason, that takes the place of the one that stands."""
    with write_tx():
        intake = open_intake(intake)
        _check_complete(intake)
        paper = _issue(
            PaperKind.INTAKE_RECEIPT, intake, lambda: papers_intake.receipt(intake), intake.receipt,
            language=language, reason=reason, base_url=base_url, by=by, at=at,
        )  # fmt: skip
        changed = {"receipt": paper, "signed_by": "", "signed_at": None}
        if intake.signed_at is not None:
            # A signature stands under the words that were signed, not under later ones.
            journal.note(
                "signature lapsed", intake.code, by=by, at=at,
                before={"signed_by": intake.signed_by, "signed_at": intake.signed_at.isoformat()},
                reason="The receipt was issued anew.",
            )  # fmt: skip
        for name, value in changed.items():
            setattr(intake, name, value)
        intake.save(update_fields=list(changed))
    return paper


def issue_condition_report(
    intake: Intake,
    *,
    reason: str = "",
    base_url: str = "",
    language: str = "",
    by: Hand | None,
    at: datetime,
) -> Paper:
    """Issue the report on condition before the work, or a revised one with a reason."""
    with write_tx():
        intake = open_intake(intake)
        _check_complete(intake)
        intake.report = paper = _issue(
            PaperKind.CONDITION, intake, lambda: papers_condition.condition(intake), intake.report,
            language=language, reason=reason, base_url=base_url, by=by, at=at,
        )  # fmt: skip
        intake.save(update_fields=["report"])
    return paper


def after_reports(intake: Intake) -> list[Paper]:
    """The reports after the work, newest first: all on condition that are not in the line of the first one."""
    found = list(
        Paper.objects.about(intake.code).filter(kind=PaperKind.CONDITION).select_related("superseded_by")
    )
    before: set[int | None] = set()
    paper = intake.report
    while paper is not None:
        before.add(paper.pk)
        paper = next((one for one in found if one.pk == paper.supersedes_id), None)
    return [one for one in found if one.pk not in before]


def issue_after_report(
    intake: Intake,
    pieces: Sequence[PieceAfter],
    *,
    reason: str = "",
    base_url: str = "",
    language: str = "",
    by: Hand | None,
    at: datetime,
) -> Paper:
    """Issue the report after the work: each fault again, unchanged, changed, removed or new, and the weight now."""
    with write_tx():
        intake = open_intake(intake)
        if intake.report is None:
            raise DeedRefused("There is no report from before the work to hold it against.")
        _check_after(intake, pieces)
        old = next((paper for paper in after_reports(intake) if paper.stands), None)
        return _issue(
            PaperKind.CONDITION, intake, lambda: papers_condition.after(intake, pieces), old or intake.report,
            language=language, reason=reason, base_url=base_url, by=by, at=at, instead=old is not None,
        )  # fmt: skip


def _issue(
    kind: PaperKind,
    intake: Intake,
    compose: Callable[[], Document],
    before: Paper | None,
    *,
    language: str,
    reason: str,
    base_url: str,
    by: Hand | None,
    at: datetime,
    instead: bool = True,
) -> Paper:
    """A paper in the language asked for, or else of the one before; ``instead`` of that one while it stands."""
    with override(language_for(language, before)):
        content = compose().content()
    if instead and before is not None and before.stands:
        return papers.revise(before, content, reason=reason, by=by, at=at, base_url=base_url)
    return papers.issue(kind, intake.code, content, by=by, at=at, base_url=base_url)


def _check_complete(intake: Intake) -> None:
    if missing := missing_for_papers(papers_intake.pieces_of(intake)):
        raise DeedRefused(f"{' '.join(missing)} Photograph it first: the paper shows what came in.")


def _check_after(intake: Intake, pieces: Sequence[PieceAfter]) -> None:
    known = {piece.pk: piece for piece in papers_intake.pieces_of(intake)}
    if {one.piece.pk for one in pieces} != set(known):
        raise DeedRefused("Every piece that was taken in stands in the report again.")
    for number, one in enumerate(pieces, start=1):
        piece = known[one.piece.pk]
        if one.weight_ct <= 0:
            raise DeedRefused("Weigh it: nothing weighs nothing.", field=f"weight_{number}")
        if one.weight_ct > piece.weight_ct:
            raise DeedRefused(
                f"{piece.lot.code} came in at {say.carats(piece.weight_ct)}; a stone does not grow.",
                field=f"weight_{number}",
            )
        told = [found.fault for found in one.findings if found.outcome != After.NEW]
        if told != papers_condition.faults_of(piece):
            raise DeedRefused(f"Every fault of {piece.lot.code} is listed again, none left out.")


def sign_intake(
    intake: Intake, *, name: str, scan: ReadDocument | None = None, by: Hand | None, at: datetime
) -> Intake:
    """The owner, or who handed the goods over, signs the receipt: by a name typed here, with or without a scan."""
    if not name.strip():
        raise DeedRefused("Type the name of whoever signs.", field="name")
    with write_tx():
        intake = open_intake(intake)
        if intake.receipt is None or not intake.receipt.stands:
            raise DeedRefused("Issue the receipt first: it is what is signed.")
        if intake.signed_at is not None:
            raise DeedRefused(f"{intake.signed_by} signed it on {say.moment(intake.signed_at)}.")
        intake.signed_by, intake.signed_at = name.strip(), at
        intake.full_clean(exclude=["commission", "taken_by", "receipt", "report"])
        intake.save(update_fields=["signed_by", "signed_at"])
        if scan is not None:
            first = intake.pieces.select_related("lot").first()
            assert first is not None
            add_lot_document(
                first.lot, title=f"{intake.receipt.number} signed by {intake.signed_by}"[:120], sha256=scan.sha256,
                byte_count=len(scan.content), media_type=scan.media_type, by=by, at=at,
            )  # fmt: skip
        journal.note(
            "signed receipt", intake.code, by=by, at=at,
            after={"signed_by": intake.signed_by, "receipt": intake.receipt.number, "on_paper": scan is not None},
        )  # fmt: skip
    return intake
