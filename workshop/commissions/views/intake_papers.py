"""The papers of a taking-in: receipt, reports on condition, signature."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of, money_only, owner_only
from workshop.common.deeds import posted, posted_files
from workshop.papers.languages import language_for
from workshop.papers.models import Paper
from workshop.rough import documents

from .. import risks
from ..actions import intake as actions
from ..actions.intake_papers import after_reports, missing_for_papers
from ..forms.intake_papers import AfterForm, IssueForm, SignForm
from ..models import Intake
from ..papers_intake import pieces_of
from .intake import deed_page, intake_of, shop_of, told_of_piece


def _base_url(request: HttpRequest) -> str:
    return request.build_absolute_uri("/")


def _issue_page(
    request: HttpRequest, shown: Intake, old: Paper | None, issue: Callable[..., Paper], **context: Any
) -> HttpResponse:
    by, now = hand_of(request), timezone.now()
    form = IssueForm(
        posted(request), again=old is not None and old.stands, initial={"language": language_for(old=old)}
    )

    def deed() -> None:
        language = form.cleaned_data["language"]
        issue(shown, reason=form.said_reason, base_url=_base_url(request), language=language, by=by, at=now)

    missing = missing_for_papers(pieces_of(shown))
    return deed_page(
        request, shown, form, deed, "commissions/intake_issue.html", missing=missing, old=old, **context
    )


@owner_only
def intake_receipt(request: HttpRequest, code: str, intake_code: str) -> HttpResponse:
    """Issue the receipt, or revise it."""
    shown = intake_of(code, intake_code)
    return _issue_page(
        request, shown, shown.receipt, actions.issue_receipt, title="Receipt", submit="Issue the receipt",
        hint="It says what was handed over, what is agreed and what may go wrong. Issued anew, it is signed anew.",
    )  # fmt: skip


@owner_only
def intake_report(request: HttpRequest, code: str, intake_code: str) -> HttpResponse:
    """Issue the report on condition before the work, or revise it."""
    shown = intake_of(code, intake_code)
    return _issue_page(
        request, shown, shown.report, actions.issue_condition_report, title="Report on condition, before the work",
        submit="Issue the report", hint="Every fault with its mark on the photograph. To be signed before work starts.",
    )  # fmt: skip


@owner_only
def intake_after(request: HttpRequest, code: str, intake_code: str) -> HttpResponse:
    """The report after the work: every fault again, and every piece weighed again."""
    shown, by, now = intake_of(code, intake_code), hand_of(request), timezone.now()
    old = next((paper for paper in after_reports(shown) if paper.stands), None)
    form = AfterForm(posted(request), pieces=pieces_of(shown), shop=shop_of(request), again=old is not None)

    def deed() -> None:
        reason = str(form.cleaned_data.get("reason") or "")
        actions.issue_after_report(
            shown, form.found(), reason=reason, base_url=_base_url(request), by=by, at=now
        )

    return deed_page(request, shown, form, deed, "commissions/intake_after.html", old=old)


@owner_only
def intake_sign(request: HttpRequest, code: str, intake_code: str) -> HttpResponse:
    """The signature under the receipt: a name typed here, or a scan of the signed sheet."""
    shown, by, now = intake_of(code, intake_code), hand_of(request), timezone.now()
    form = SignForm(posted(request), posted_files(request), initial={"name": shown.handed_by})

    def deed() -> None:
        scan = form.cleaned_data["scan"]
        if scan is not None:
            documents.keep(scan)
        actions.sign_intake(shown, name=form.cleaned_data["name"], scan=scan, by=by, at=now)

    pieces = pieces_of(shown)
    return deed_page(
        request, shown, form, deed, "commissions/intake_sign.html",
        pieces=[told_of_piece(piece, terms=True) for piece in pieces],
        check_law=risks.CHECK_LAW,
    )  # fmt: skip


@money_only
@require_safe
def intake_pdf(request: HttpRequest, code: str, intake_code: str) -> HttpResponse:
    """The receipt that stands, as a file."""
    shown = intake_of(code, intake_code)
    if shown.receipt is None:
        raise Http404
    return redirect("papers:pdf", shown.receipt.number, "a4")
