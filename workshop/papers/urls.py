"""Addresses of the papers room; `check` and what lies under it are those that strangers may open."""

from __future__ import annotations

from django.urls import path

from . import views, views_sheets

app_name = "papers"
urlpatterns = [
    path("", views.papers, name="papers"),
    path("sheet/", views_sheets.sheet, name="sheet"),
    path("key/", views.key, name="key"),
    path("check/", views.check_any, name="check_any"),
    path("check/<slug:check_code>/", views.check, name="check"),
    path("check/<slug:check_code>/picture.jpg", views.check_picture, name="check_picture"),
    path("<slug:number>/", views.paper, name="paper"),
    path("<slug:number>/void/", views.void, name="void"),
    path("<slug:number>/<slug:size>.pdf", views.pdf, name="pdf"),
]
