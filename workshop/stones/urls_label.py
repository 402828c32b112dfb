"""Address of a stone's bag label, taken in by `stones/urls.py`."""

from __future__ import annotations

from django.urls import path

from .views.label import label

urlpatterns = [path("<slug:code>/label.pdf", label, name="label")]
