"""Addresses of a gem's card, its certificate and its bag label, taken in by `gems/urls.py`."""

from __future__ import annotations

from django.urls import path

from .views import cards, certificates, sheets

urlpatterns = [
    path("sheet/", sheets.sheet, name="sheet"),
    path("cards/<slug:number>/revise/", cards.revise_card, name="revise_card"),
    path("certificates/<slug:number>/revise/", certificates.revise_certificate, name="revise_certificate"),
    path("<slug:code>/card/", cards.issue_card, name="issue_card"),
    path("<slug:code>/certificate/", certificates.issue_certificate, name="issue_certificate"),
    path("<slug:code>/label.pdf", cards.label, name="label"),
]
