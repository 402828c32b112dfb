"""Addresses of the commissions room: board."""

from __future__ import annotations

from django.urls.resolvers import URLPattern

urlpatterns: list[URLPattern] = []
