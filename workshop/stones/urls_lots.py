"""Addresses of the deeds on a lot that reach its stones; included by ``urls.py`` of this room."""

from __future__ import annotations

from django.urls import path

from .views import lots

urlpatterns = [
    path("from/<slug:code>/sort/", lots.sort, name="sort"),
    path("from/<slug:code>/bill/", lots.charge, name="charge"),
    path("from/<slug:code>/loss/", lots.lose, name="lose"),
    path("from/<slug:code>/draw/", lots.draw, name="draw"),
    path("from/<slug:code>/correct/", lots.correct_lot, name="correct_lot"),
]
