"""The listing text of a gem: what to write where it is offered unseen, to copy."""

from __future__ import annotations

from django import forms
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import override
from django.views.decorators.http import require_safe

from workshop.common.access import fetch
from workshop.common.deeds import status_of
from workshop.materials.words import Profile

from ..listing import listing_of
from ..models import FinishedGem
from ..papers import all_said


class RulesForm(forms.Form):
    """For which market, in which language."""

    profile = forms.ChoiceField(
        label="Rules",
        required=False,
        choices=[(one.value, one.words) for one in Profile],
        initial=Profile.STRICT.value,
    )
    language = forms.ChoiceField(required=False, choices=settings.LANGUAGES, initial="en")


@require_safe
def listing(request: HttpRequest, code: str) -> HttpResponse:
    """A description with the whole disclosure, or what stands in its way; every line says why it is there."""
    gems = FinishedGem.objects.select_related("stone__material", "stone__lot", "owner", "public_photo__photo")
    gem = fetch(gems, code)
    form = RulesForm(request.GET or None)
    chosen = form.cleaned_data if form.is_bound and form.is_valid() else {}
    profile = Profile(chosen.get("profile") or Profile.STRICT)
    shop = request.shop  # type: ignore[attr-defined]
    with override(chosen.get("language") or "en"):
        found = listing_of(gem, profile, shop)
    context = {"gem": gem, "form": form, "listing": found, "questions": found.questions, "said": found.said,
               "statements": all_said(gem), "profile": profile}  # fmt: skip
    return render(request, "gems/listing.html", context, status=status_of(form))
