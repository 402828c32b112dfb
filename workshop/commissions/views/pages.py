"""The page of a deed on one commission."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from workshop.common.deeds import DeedForm, status_of, try_deed
from workshop.common.models import Shop

from ..models import Commission


def deed_page(
    request: HttpRequest,
    commission: Commission,
    form: DeedForm,
    deed: Callable[[], object],
    *,
    title: str,
    submit: str,
    done: str = "",
    at: str = "",
    template: str = "commissions/deed.html",
    **more: Any,
) -> HttpResponse:
    """Show the form of a deed on a commission, or do the deed and lead back to it; ``at`` names the place there."""
    back = commission.get_absolute_url() + at
    if request.method == "POST" and form.is_valid():

        def led() -> str:
            deed()
            return back

        if led_to := try_deed(request, form, led):
            if done:
                messages.success(request, done)
            return redirect(led_to)
    shown = {"commission": commission, "form": form, "title": title, "submit": submit, "back": back, **more}
    return render(request, template, shown, status=status_of(form))


def shop_of(request: HttpRequest) -> Shop:
    """The shop, as every request carries it."""
    shop: Shop = request.shop  # type: ignore[attr-defined]
    return shop


def today_of(request: HttpRequest, now: datetime) -> date:
    """The day as the shop counts days."""
    day: date = shop_of(request).day_of(now)
    return day
