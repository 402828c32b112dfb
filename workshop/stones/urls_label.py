"""Addresses of a stone's bag label and of sheets of many, taken in by `stones/urls.py`."""

from __future__ import annotations

from django.urls import path

from .views.label import label, sheet

urlpatterns = [
    path("sheet/", sheet, name="sheet"),
    path("<slug:code>/label.pdf", label, name="label"),
]
