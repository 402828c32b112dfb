"""Addresses of the rough room."""

from __future__ import annotations

from django.urls import include, path

from . import views

app_name = "rough"
urlpatterns = [
    path("", include("workshop.rough.urls_label")),
    path("", views.lots, name="lots"),
    path("receive/", views.receive, name="receive"),
    path("<slug:code>/", views.lot, name="lot"),
    path("<slug:code>/edit/", views.edit, name="edit"),
    path("<slug:code>/statement/", views.statement, name="statement"),
    path("<slug:code>/photo/", views.photo, name="photo"),
    path("<slug:code>/document/", views.document, name="document"),
    path("<slug:code>/document/<int:pk>/", views.document_file, name="document_file"),
    path("<slug:code>/move/", views.move, name="move"),
]
