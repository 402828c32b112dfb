"""Addresses of the commissions room: quotes."""

from __future__ import annotations

from django.urls.resolvers import URLPattern

urlpatterns: list[URLPattern] = []
