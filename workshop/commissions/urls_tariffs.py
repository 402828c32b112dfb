"""Addresses of the commissions room: tariffs, the weeks of the bench, and the calendar."""

from __future__ import annotations

from django.urls import path
from django.urls.resolvers import URLPattern

from .views import tariffs, week

urlpatterns: list[URLPattern] = [
    path("tariffs/", tariffs.tariffs, name="tariffs"),
    path("tariffs/new/", tariffs.add_tariff, name="add_tariff"),
    path("tariffs/<slug:code>/", tariffs.tariff, name="tariff"),
    path("tariffs/<slug:code>/edit/", tariffs.edit_tariff, name="edit_tariff"),
    path("tariffs/<slug:code>/end/", tariffs.end_tariff, name="end_tariff"),
    path("tariffs/<slug:code>/take-away/", tariffs.delete_tariff, name="delete_tariff"),
    path("week/", week.week, name="week"),
    path("week/hours/", week.hours, name="hours"),
    path("week/hours/<int:pk>/strike/", week.strike_hours, name="strike_hours"),
    path("calendar/", week.calendar, name="calendar"),
    path("calendar/<str:key>.ics", week.calendar_feed, name="calendar_feed"),
]
