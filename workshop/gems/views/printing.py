"""What the pages that issue papers share: the address they were asked at, the language chosen, drawing at once."""

from __future__ import annotations

from contextlib import suppress

from django import forms
from django.http import HttpRequest
from django.utils import timezone

from workshop.common.errors import DeedRefused
from workshop.papers.actions import bytes_of
from workshop.papers.models import Paper, PaperKind
from workshop.papers.rendering import content_of


def base_url_of(request: HttpRequest) -> str:
    """Where this shop was reached, for one that has not said where its check pages are."""
    return f"{request.scheme}://{request.get_host()}"


def chosen_language(form: forms.Form) -> str:
    """The language the form asks for, or offers while nothing was sent."""
    if form.is_bound and form.is_valid():
        return str(form.cleaned_data["language"])
    return str(form.get_initial_for_field(form.fields["language"], "language"))


def draw_now(about: str, kind: PaperKind) -> None:
    """Draw a paper while its owner still waits; what fails here is drawn, or told, when it is printed."""
    for paper in Paper.objects.standing().about(about).filter(kind=kind):
        with suppress(DeedRefused):
            for size in content_of(paper)["sizes"]:
                bytes_of(paper, size, at=timezone.now())
