"""Addresses of a gem's card and its bag label, taken in by `gems/urls.py`."""

from __future__ import annotations

from django.urls import path

from .views import cards

urlpatterns = [
    path("cards/<slug:number>/revise/", cards.revise_card, name="revise_card"),
    path("<slug:code>/card/", cards.issue_card, name="issue_card"),
    path("<slug:code>/label.pdf", cards.label, name="label"),
]
