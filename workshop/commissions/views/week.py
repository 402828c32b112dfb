"""The weeks ahead: hours of the bench, what is promised and quoted for them, and the calendar of promised weeks."""

from __future__ import annotations

from datetime import date
from typing import Any
from urllib.parse import urljoin

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from workshop.common.access import hand_of, owner_only
from workshop.common.deeds import DeedForm, posted, status_of, try_deed
from workshop.common.models import Shop

from .. import ical, load, weeks_drawn
from ..actions import hours as actions
from ..forms.week import HoursForm
from ..models import BenchHours, CalendarLink

WEEKS = 12
#: Hours of work somebody may ask for: for which week could they be promised?
ASKED = (5, 10, 20, 40)


@require_safe
def week(request: HttpRequest) -> HttpResponse:
    """The load of the bench, week by week."""
    return render(request, "commissions/week.html", week_context(_today(request)))


def week_context(today: date, weeks: int = WEEKS) -> dict[str, Any]:
    """What ``commissions/_load.html`` needs: the weeks, their drawing, and what no week was named for."""
    # Far past the page, so that a later promise is not pushed out by one that would fit the page.
    ahead = load.week_load(today, load.FARTHEST)
    found = ahead[:weeks]
    return {
        "weeks": found,
        "drawn": weeks_drawn.load_chart(found),
        "hours_said": any(one.available is not None for one in found),
        "unplaced": load.without_a_week(),
        "monday": load.monday_of(today),
        "room_for": [(hours, load.first_of(ahead, hours * load.SECONDS_IN_AN_HOUR)) for hours in ASKED],
    }


@owner_only
def hours(request: HttpRequest) -> HttpResponse:
    """Say how many hours the bench has a week."""
    now, today = timezone.now(), _today(request)
    form = HoursForm(posted(request), today=today)

    def deed() -> str:
        typed = form.cleaned_data
        told = {name: typed[name] for name in ("one_week", "note")}
        actions.say_hours(typed["from_on"], typed["hours"], by=hand_of(request), at=now, **told)
        return reverse("commissions:hours")

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    context = {"form": form, "said": BenchHours.objects.order_by("-from_on", "one_week")}
    return render(request, "commissions/hours.html", context, status=status_of(form))


@owner_only
@require_POST
def strike_hours(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back what was said of the hours from a week on."""
    row, now = get_object_or_404(BenchHours, pk=pk), timezone.now()
    form = DeedForm(request.POST)

    def deed() -> str:
        actions.strike_hours(row, by=hand_of(request), at=now)
        return reverse("commissions:hours")

    led_to = try_deed(request, form, deed) if form.is_valid() else None
    return redirect(led_to or reverse("commissions:hours"))


@owner_only
def calendar(request: HttpRequest) -> HttpResponse:
    """Make, show and withdraw the private address of the calendar of promised weeks."""
    now, hand = timezone.now(), hand_of(request)
    link = CalendarLink.objects.filter(hand=hand, withdrawn_at__isnull=True).first()
    form = DeedForm(posted(request))

    def deed() -> str:
        if "withdraw" in request.POST and link is not None:
            actions.withdraw_calendar_link(link, by=hand, at=now)
        elif "withdraw" not in request.POST:
            actions.make_calendar_link(hand, at=now)
        return reverse("commissions:calendar")

    if request.method == "POST" and form.is_valid() and (led_to := try_deed(request, form, deed)):
        return redirect(led_to)
    path = "" if link is None else ical.address_of(link)
    context = {"link": link, "path": path, "address": _full_address(request, link), "form": form}
    answer = render(request, "commissions/calendar.html", context, status=status_of(form))
    answer["Cache-Control"] = "no-store"
    return answer


@login_not_required
@require_safe
def calendar_feed(request: HttpRequest, key: str) -> HttpResponse:
    """The calendar itself, for whoever holds its private address."""
    if ical.link_of(key) is None:
        return _private(HttpResponse("There is no calendar here.\n", content_type="text/plain", status=404))
    shop = _shop(request)
    body = ical.written(ical.promised_weeks(shop), shop.name)
    answer = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="promised-weeks.ics"'
    return _private(answer)


def _private(answer: HttpResponse) -> HttpResponse:
    answer["Cache-Control"] = "private, no-store"
    answer["X-Robots-Tag"] = "noindex, nofollow"
    return answer


def _full_address(request: HttpRequest, link: CalendarLink | None) -> str:
    """As a calendar program asks for it: from outside, where the shop says how it is reached there."""
    if link is None:
        return ""
    outside = _shop(request).base_url or request.build_absolute_uri("/")
    return urljoin(outside.rstrip("/") + "/", ical.address_of(link).lstrip("/"))


def _today(request: HttpRequest) -> date:
    day: date = _shop(request).day_of(timezone.now())
    return day


def _shop(request: HttpRequest) -> Shop:
    shop: Shop = request.shop  # type: ignore[attr-defined]
    return shop
