"""A gem's certificate: what it would say, issuing it, revising it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import override

from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import begun, posted, status_of, try_deed
from workshop.materials.words import Profile
from workshop.papers.models import Paper, PaperKind
from workshop.papers.rendering import content_of

from .. import certificate_actions
from ..access import gem_of
from ..certificate_forms import CertificateForm, CertificateRevisionForm
from ..models import FinishedGem
from ..papers import open_questions
from ..papers_certificate import title_of, what_it_may_say
from .printing import base_url_of, chosen_language, draw_now


@owner_only
def issue_certificate(request: HttpRequest, code: str) -> HttpResponse:
    """Issue the certificate of a gem."""
    gem = gem_of(code)
    form = CertificateForm(posted(request), gem=gem)
    standing = Paper.objects.standing().about(gem.code).filter(kind=PaperKind.CERTIFICATE).first()

    def deed() -> Paper:
        return certificate_actions.issue_certificate(
            gem, by=hand_of(request), at=timezone.now(), sizes=form.cleaned_data["sizes"], **_said(request, form)
        )  # fmt: skip

    return _page(request, "gems/issue_certificate.html", form, deed, gem=gem, standing=standing)


@owner_only
def revise_certificate(request: HttpRequest, number: str) -> HttpResponse:
    """Issue a certificate anew in the place of one that stands."""
    old = get_object_or_404(Paper, number=number.upper(), kind=PaperKind.CERTIFICATE)
    gem = gem_of(old.about)
    language = content_of(old).get("language", "en")
    begun_with = begun(request, "reason") | {"language": language}
    form = CertificateRevisionForm(posted(request), gem=gem, initial=begun_with)

    def deed() -> Paper:
        return certificate_actions.revise_certificate(
            old, reason=form.cleaned_data["reason"], by=hand_of(request), at=timezone.now(), **_said(request, form)
        )  # fmt: skip

    return _page(request, "gems/revise_certificate.html", form, deed, gem=gem, old=old)


def _said(request: HttpRequest, form: CertificateForm) -> dict[str, Any]:
    return {
        "chosen": form.chosen(),
        "base_url": base_url_of(request),
        "profile": Profile(form.cleaned_data["profile"]),
        "language": form.cleaned_data["language"],
    }


def _page(
    request: HttpRequest, template: str, form: CertificateForm, deed: Callable[[], Paper], **shown: Any
) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        led_to = try_deed(request, form, lambda: deed().get_absolute_url())
        if led_to:
            draw_now(shown["gem"].code, PaperKind.CERTIFICATE)
            return redirect(led_to)
    gem: FinishedGem = shown["gem"]
    questions = open_questions(gem)
    profile = Profile(form.cleaned_data["profile"]) if form.is_bound and form.is_valid() else Profile.STRICT
    with override(chosen_language(form)):
        said = None if questions else what_it_may_say(gem, profile)
        title = title_of(gem, said.facts) if said else ""
    context = {"form": form, "questions": questions, "said": said, "title": title, **shown}
    return render(request, template, context, status=status_of(form))
