"""Addresses of the deeds on a lot that reach its stones; included by ``urls.py`` of this room."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
