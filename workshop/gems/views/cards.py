"""A gem's information card: what it would say, issuing it, revising it; and the label of a gem's bag."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import override
from django.views.decorators.http import require_safe

from workshop.common.access import fetch, hand_of, owner_only
from workshop.common.deeds import begun, posted, status_of, try_deed
from workshop.common.errors import DeedRefused
from workshop.materials.words import Profile
from workshop.papers.actions import bytes_of
from workshop.papers.labels import label_response
from workshop.papers.models import Paper, PaperKind
from workshop.papers.rendering import content_of

from .. import card_actions
from ..card_forms import CardForm, RevisionForm
from ..models import FinishedGem
from ..papers import all_said, open_questions, what_may_be_said
from .sheets import label_of


@owner_only
def issue_card(request: HttpRequest, code: str) -> HttpResponse:
    """Issue the information card of a gem."""
    gem = fetch(_gems(), code)
    form = CardForm(posted(request), gem=gem)
    standing = Paper.objects.standing().about(gem.code).filter(kind=PaperKind.INFO_CARD).first()

    def deed() -> str:
        return card_actions.issue_card(
            gem,
            by=hand_of(request),
            at=timezone.now(),
            base_url=_base_url(request),
            profile=Profile(form.cleaned_data["profile"]),
            picture=form.cleaned_data["picture"],
            language=form.cleaned_data["language"],
            trade_code=form.trade_code,
            sizes=form.cleaned_data["sizes"],
        ).get_absolute_url()

    return _card_page(request, "gems/issue_card.html", form, deed, gem=gem, standing=standing)


@owner_only
def revise_card(request: HttpRequest, number: str) -> HttpResponse:
    """Issue a card anew in the place of one that stands."""
    old = get_object_or_404(Paper, number=number.upper(), kind=PaperKind.INFO_CARD)
    gem = fetch(_gems(), old.about)
    begun_with = begun(request, "reason") | {"language": content_of(old).get("language", "en")}
    form = RevisionForm(posted(request), gem=gem, initial=begun_with)

    def deed() -> str:
        return card_actions.revise_card(
            old,
            reason=form.cleaned_data["reason"],
            by=hand_of(request),
            at=timezone.now(),
            base_url=_base_url(request),
            profile=Profile(form.cleaned_data["profile"]),
            picture=form.cleaned_data["picture"],
            language=form.cleaned_data["language"],
            trade_code=form.trade_code,
        ).get_absolute_url()

    return _card_page(request, "gems/revise_card.html", form, deed, gem=gem, old=old)


@require_safe
def label(request: HttpRequest, code: str) -> HttpResponse:
    """The bag label of a gem."""
    gem = fetch(_gems(), code)
    return label_response(request, label_of(request, gem))


def _card_page(
    request: HttpRequest, template: str, form: CardForm, deed: Callable[[], str], **shown: Any
) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        led_to = try_deed(request, form, deed)
        if led_to:
            _draw_now(shown["gem"])
            return redirect(led_to)
    gem: FinishedGem = shown["gem"]
    questions = open_questions(gem)
    profile = Profile(form.cleaned_data["profile"]) if form.is_bound and form.is_valid() else Profile.STRICT
    with override(_language_of(form)):
        said = None if questions else what_may_be_said(gem, profile)
    context = {"form": form, "questions": questions, "said": said, "statements": all_said(gem), **shown}
    return render(request, template, context, status=status_of(form))


def _language_of(form: CardForm) -> str:
    if form.is_bound and form.is_valid():
        return str(form.cleaned_data["language"])
    return str(form.get_initial_for_field(form.fields["language"], "language"))


def _draw_now(gem: FinishedGem) -> None:
    """Draw the card while its owner still waits; what fails here is drawn, or told, when it is printed."""
    for paper in Paper.objects.standing().about(gem.code):
        with suppress(DeedRefused):
            for size in content_of(paper)["sizes"]:
                bytes_of(paper, size, at=timezone.now())


def _gems() -> Any:
    return FinishedGem.objects.select_related("stone__material", "stone__lot", "owner", "public_photo__photo")


def _base_url(request: HttpRequest) -> str:
    return f"{request.scheme}://{request.get_host()}"
