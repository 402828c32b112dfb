"""The versions of a quote: draft, terms, a look at it as the client will see it, sending, answers, the printed copy."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import hand_of, money_only, owner_only
from workshop.common.deeds import posted, status_of, try_deed
from workshop.common.errors import DeedRefused
from workshop.papers import actions as papers
from workshop.papers.pdf import PDF_MISSING, PdfUnavailable
from workshop.papers.rendering import content_of
from workshop.papers.views import pdf_response

from ..access import commission_of, quote_of
from ..actions import quotes as actions
from ..compare import changes_between
from ..forms.quotes import AnswerForm, DraftForm, NothingForm, SendForm, TermsForm, WithdrawForm
from ..load import first_week_with
from ..models import CommissionItem, Quote, QuoteLine, QuoteState
from ..papers_quote import content_of_quote
from ..quote_words import agreement, deposit_words, follows_words, tax_words, total_words
from .pages import deed_page, today_of
from .week import week_context


@owner_only
def draft(request: HttpRequest, code: str) -> HttpResponse:
    """Begin a version, or lead to the draft there is."""
    commission, by, now = commission_of(code), hand_of(request), timezone.now()
    standing = commission.quotes.filter(state=QuoteState.DRAFT).first()
    if standing is not None:
        return redirect(standing)
    last = commission.quotes.first()
    form = DraftForm(posted(request), currency=commission.currency, today=today_of(request, now), last=last)

    def deed() -> str:
        typed = form.cleaned_data
        return actions.draft_quote(
            commission, tariff=typed["tariff"], firm=typed["firm"], why=typed.get("why", ""), by=by, at=now
        ).get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    context = {"commission": commission, "form": form, "last": last}
    return render(request, "commissions/quote_draft.html", context, status=status_of(form))


@money_only
@require_safe
def quote(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """One version: what the client is promised, and what the cutter alone needs to know."""
    shown, today = quote_of(code, version), today_of(request, timezone.now())
    lines = _lines(shown)
    versions = list(shown.commission.quotes.select_related("paper"))
    before = _asked_version(request, versions) or next(
        (one for one in versions if one.version < version), None
    )
    context = {
        "quote": shown,
        "commission": shown.commission,
        "lines": lines,
        "missing": _missing(shown, lines),
        "state": shown.state_on(today),
        "versions": [(one, one.state_on(today)) for one in versions],
        "before": before,
        "changes": changes_between(before, shown) if before is not None else [],
        "together": _together(lines),
        "may_answer": shown.state == QuoteState.SENT and not shown.commission.is_closed,
        "words": _words(shown),
    }
    return render(request, "commissions/quote.html", context)


def _asked_version(request: HttpRequest, versions: list[Quote]) -> Quote | None:
    asked = request.GET.get("with", "")
    return next((one for one in versions if str(one.version) == asked), None)


def _lines(shown: Quote) -> list[QuoteLine]:
    rows = shown.lines.select_related("item__material", "plan", "item__commission").order_by("item__number")
    found = list(rows)
    for one in found:
        one.quote = shown
    return found


def _missing(shown: Quote, lines: list[QuoteLine]) -> list[CommissionItem]:
    """Open pieces the version says nothing of."""
    said = {one.item_id for one in lines}
    return [item for item in shown.commission.items.filter(outcome="open") if item.pk not in said]


def _together(lines: list[QuoteLine]) -> dict[str, Any]:
    """Hours and costs of all lines, low, likely and high: the sum of the ends is wider than the usual case."""
    return {
        name: sum(getattr(one, name) for one in lines)
        for name in ("seconds_low", "seconds", "seconds_high", "cost_low", "cost", "cost_high")
    }


def _words(shown: Quote) -> dict[str, str]:
    return {
        "total": total_words(shown),
        "tax": tax_words(shown),
        "follows": follows_words(shown),
        "deposit": deposit_words(shown),
    }


@owner_only
def terms(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """Dates, deposit, risks and terms of a draft, beside the load of the bench."""
    shown, by, now = quote_of(code, version), hand_of(request), timezone.now()
    if not shown.is_draft:
        return redirect(shown)
    today = today_of(request, now)
    form = TermsForm(posted(request), quote=shown, today=today)

    def deed() -> str:
        return actions.describe_quote(shown, by=by, at=now, **form.said()).get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    context = {
        "quote": shown, "commission": shown.commission, "form": form, **week_context(today),
        "proposed": shown.expected_week, "fits": _fits(shown, today),
    }  # fmt: skip
    return render(request, "commissions/quote_terms.html", context, status=status_of(form))


def _fits(shown: Quote, today: Any) -> Any:
    """The first week with room for its hours; nothing where the hours of a week were never said."""
    seconds = sum(one.seconds for one in shown.lines.all())
    return first_week_with(seconds, today) if seconds else None


@owner_only
def send(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """A look at the version as the client will read it, and sending it."""
    shown, by, now = quote_of(code, version), hand_of(request), timezone.now()
    if not shown.is_draft:
        return redirect(shown)
    lines = _lines(shown)
    form = SendForm(posted(request), missing=_missing(shown, lines), initial=_spoken(request, shown))

    def deed() -> str:
        sent = actions.send_quote(
            shown,
            by=by,
            at=now,
            leaving_out=form.leaving_out,
            language=form.cleaned_data["language"],
            base_url=f"{request.scheme}://{request.get_host()}",
        )
        return sent.get_absolute_url()

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        messages.success(
            request, f"Version {shown.version} is frozen and printed. Now give it to the client."
        )
        return redirect(led_to)
    left_out = form.leaving_out if form.is_bound and form.is_valid() else []
    language = form["language"].value() if not form.is_bound else form.cleaned_data.get("language", "")
    context = {
        "quote": shown, "commission": shown.commission, "form": form, "lines": lines, "languages": settings.LANGUAGES,
        "paper": content_of_quote(shown, lines, left_out, language) if lines else None,
    }  # fmt: skip
    return render(request, "commissions/quote_send.html", context, status=status_of(form))


def _spoken(request: HttpRequest, shown: Quote) -> dict[str, str]:
    """The language asked for, or that of the version before; else the shop's own."""
    asked = request.GET.get("language", "")
    if asked in dict(settings.LANGUAGES):
        return {"language": asked}
    before = shown.commission.quotes.filter(paper__isnull=False).select_related("paper").first()
    return {"language": content_of(before.paper)["language"]} if before is not None and before.paper else {}


@owner_only
def withdraw(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """Take a sent version back."""
    shown, by, now = quote_of(code, version), hand_of(request), timezone.now()
    form = WithdrawForm(posted(request))
    return deed_page(
        request, shown.commission, form,
        lambda: actions.withdraw_quote(shown, reason=form.cleaned_data["reason"], by=by, at=now),
        title=f"Withdraw version {version}", submit="Withdraw it", at="#quotes",
        done=f"Version {version} is withdrawn; its copy stays as it was, marked void.",
    )  # fmt: skip


@owner_only
def answer(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """Enter what the client said by telephone or across the table."""
    shown, by, now = quote_of(code, version), hand_of(request), timezone.now()
    form = AnswerForm(posted(request), initial={"name": shown.commission.client.name})
    wording = agreement(shown)

    def deed() -> None:
        typed = form.cleaned_data
        told = {"name": typed["name"], "words": typed["words"], "by": by, "at": now}
        told["answered_from"] = f"told to the cutter, {typed['told']}"
        if typed["answer"] == "yes":
            actions.accept_quote(shown, wording=wording, **told)
        else:
            actions.decline_quote(shown, **told)

    return deed_page(
        request, shown.commission, form, deed, title=f"The answer to version {version}", submit="Keep the answer",
        template="commissions/quote_answer.html", quote=shown, wording=wording, at="#quotes",
    )  # fmt: skip


@owner_only
def drop(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """Throw a draft away."""
    shown, by, now = quote_of(code, version), hand_of(request), timezone.now()
    form = NothingForm(posted(request))
    return deed_page(
        request, shown.commission, form, lambda: actions.drop_draft(shown, by=by, at=now), at="#quotes",
        title=f"Drop version {version}?", submit="Drop the draft", done="The draft is gone; nobody had seen it.",
    )  # fmt: skip


@money_only
@require_safe
def pdf(request: HttpRequest, code: str, version: int) -> HttpResponse:
    """The printed copy, as it was issued."""
    shown = quote_of(code, version)
    if shown.paper is None:
        raise Http404("A draft has no printed copy.")
    size = request.GET.get("size", "") or content_of(shown.paper)["sizes"][0]
    if not settings.PDF_AVAILABLE:
        return render(request, "papers/no_pdf.html", {"why": PDF_MISSING}, status=503)
    try:
        kept = papers.bytes_of(shown.paper, size, at=timezone.now())
    except (PdfUnavailable, DeedRefused) as refusal:
        return render(request, "papers/no_pdf.html", {"why": str(refusal)}, status=503)
    return pdf_response(bytes(kept.pdf), f"{shown.paper.number}-{size}")
