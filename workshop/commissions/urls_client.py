"""Addresses of the client's own page: private links, no account."""

from __future__ import annotations

from django.urls.resolvers import URLPattern

app_name = "client"
urlpatterns: list[URLPattern] = []
