"""Addresses of the commissions room: talk."""

from __future__ import annotations

from django.urls.resolvers import URLPattern

urlpatterns: list[URLPattern] = []
