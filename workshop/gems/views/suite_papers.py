"""A pair's or suite's certificate: what it would say, issuing it, revising it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import override

from workshop.common.access import fetch, hand_of, owner_only
from workshop.common.deeds import posted, status_of, try_deed
from workshop.materials.words import Profile
from workshop.papers.models import Paper, PaperKind
from workshop.papers.rendering import content_of

from .. import certificate_actions
from ..models import Suite
from ..papers_suite import questions_of, what_suite_may_say
from ..suite_actions import members_of
from ..suite_forms import SuitePaperForm, SuitePaperRevisionForm
from .printing import base_url_of, chosen_language, draw_now


@owner_only
def issue_suite_paper(request: HttpRequest, code: str) -> HttpResponse:
    """Issue the certificate of a pair or suite."""
    suite = fetch(Suite.objects.all(), code)
    form = SuitePaperForm(posted(request))
    standing = Paper.objects.standing().about(suite.code).filter(kind=PaperKind.SUITE).first()

    def deed() -> Paper:
        return certificate_actions.issue_suite_certificate(
            suite, by=hand_of(request), at=timezone.now(), sizes=form.cleaned_data["sizes"], **_said(request, form)
        )  # fmt: skip

    return _page(request, form, deed, suite=suite, standing=standing)


@owner_only
def revise_suite_paper(request: HttpRequest, number: str) -> HttpResponse:
    """Issue it anew in the place of one that stands."""
    old = get_object_or_404(Paper, number=number.upper(), kind=PaperKind.SUITE)
    suite = fetch(Suite.objects.all(), old.about)
    language = content_of(old).get("language", "en")
    form = SuitePaperRevisionForm(posted(request), initial={"language": language})

    def deed() -> Paper:
        return certificate_actions.revise_suite_certificate(
            old, reason=form.cleaned_data["reason"], by=hand_of(request), at=timezone.now(), **_said(request, form)
        )  # fmt: skip

    return _page(request, form, deed, suite=suite, old=old)


def _said(request: HttpRequest, form: SuitePaperForm) -> dict[str, Any]:
    return {
        "base_url": base_url_of(request),
        "profile": Profile(form.cleaned_data["profile"]),
        "language": form.cleaned_data["language"],
    }


def _page(
    request: HttpRequest, form: SuitePaperForm, deed: Callable[[], Paper], **shown: Any
) -> HttpResponse:
    suite: Suite = shown["suite"]
    if request.method == "POST" and form.is_valid():
        led_to = try_deed(request, form, lambda: deed().get_absolute_url())
        if led_to:
            draw_now(suite.code, PaperKind.SUITE)
            return redirect(led_to)
    gems = members_of(suite)
    questions = questions_of(gems)
    profile = Profile(form.cleaned_data["profile"]) if form.is_bound and form.is_valid() else Profile.STRICT
    with override(chosen_language(form)):
        told = None if questions else what_suite_may_say(suite, gems, profile)
    context = {"form": form, "questions": questions, "told": told, "gems": gems, **shown}
    return render(request, "gems/suite_paper.html", context, status=status_of(form))
