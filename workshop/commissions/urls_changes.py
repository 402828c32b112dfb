"""Addresses of the commissions room: changes."""

from __future__ import annotations

from django.urls.resolvers import URLPattern

urlpatterns: list[URLPattern] = []
