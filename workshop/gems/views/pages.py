"""The page of a deed on one gem."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from workshop.common.deeds import DeedForm, status_of, try_deed

from ..models import FinishedGem


def deed_page(
    request: HttpRequest,
    gem: FinishedGem,
    form: DeedForm,
    deed: Callable[[], object],
    *,
    title: str,
    submit: str,
    done: str = "",
    template: str = "gems/deed.html",
    **more: Any,
) -> HttpResponse:
    """Show the form of a deed on a gem, or do the deed and lead back to the gem."""
    if request.method == "POST" and form.is_valid():

        def led() -> str:
            deed()
            return gem.get_absolute_url()

        if led_to := try_deed(request, form, led):
            if done:
                messages.success(request, done)
            return redirect(led_to)
    shown = {"gem": gem, "form": form, "title": title, "submit": submit, **more}
    return render(request, template, shown, status=status_of(form))
