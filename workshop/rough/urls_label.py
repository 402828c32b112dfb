"""Address of a lot's bag label, taken in by `rough/urls.py`."""

from __future__ import annotations

from django.urls import path

from .views_label import label

urlpatterns = [path("<slug:code>/label.pdf", label, name="label")]
