"""The contact list, a contact, adding and changing one."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.common.access import fetch, hand_of, owner_only
from workshop.common.deeds import posted, status_of, try_deed
from workshop.common.models import JournalEntry
from workshop.common.paging import page_of

from . import actions
from .filters import ContactFilter
from .forms import ContactForm
from .models import Contact

SORTS = {"code": "id", "name": "name", "firm": "firm", "country": "country"}
LOTS_SHOWN = 20


@require_safe
def contacts(request: HttpRequest) -> HttpResponse:
    """Everybody the shop deals with."""
    found = ContactFilter(request.GET, queryset=Contact.objects.all())
    page = page_of(request, found.qs, sorts=SORTS, default="name")
    return render(
        request,
        "people/contacts.html",
        {"filter": found, "page": page, "sort": "name"},
        status=status_of(found.form),
    )


@require_safe
def contact(request: HttpRequest, code: str) -> HttpResponse:
    """One contact and the lots that came from them."""
    shown = fetch(Contact.objects.all(), code)
    # The names of these reverse relations are given by rooms above; no import leads up.
    lots = shown.lots_sold.select_related("material").order_by("-received_on", "-pk")  # type: ignore[attr-defined]
    return render(
        request,
        "people/contact.html",
        {
            "contact": shown,
            "lots": lots[:LOTS_SHOWN],
            "has_bought": shown.bought.exists(),  # type: ignore[attr-defined]
            "changes": JournalEntry.objects.filter(about=shown.code).select_related("by")[:10],
        },
    )


@owner_only
def add(request: HttpRequest) -> HttpResponse:
    """Put somebody on the list."""
    form = ContactForm(posted(request), initial=_asked_part(request))
    if request.method == "POST" and form.is_valid():
        by, now = hand_of(request), timezone.now()
        led_to = try_deed(
            request,
            form,
            lambda: actions.add_contact(by=by, at=now, sure=form.is_sure, **form.facts()).get_absolute_url(),
        )
        if led_to:
            return redirect(led_to)
    return render(request, "people/add.html", {"form": form}, status=status_of(form))


def _asked_part(request: HttpRequest) -> dict[str, bool]:
    return {f"is_{request.GET.get('part', '')[:12]}": True}


@owner_only
def edit(request: HttpRequest, code: str) -> HttpResponse:
    """Change what is known of somebody."""
    known = fetch(Contact.objects.all(), code)
    form = ContactForm(posted(request), initial={name: getattr(known, name) for name in actions.DESCRIBED})
    if request.method == "POST" and form.is_valid():
        by, now = hand_of(request), timezone.now()
        led_to = try_deed(
            request,
            form,
            lambda: actions.change_contact(known, form.facts(), by=by, at=now).get_absolute_url(),
        )
        if led_to:
            return redirect(led_to)
    return render(request, "people/edit.html", {"form": form, "contact": known}, status=status_of(form))
