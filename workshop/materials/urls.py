"""Addresses of the materials room."""

from __future__ import annotations

from django.urls import path

from . import views

app_name = "materials"
urlpatterns = [
    path("", views.materials, name="materials"),
    path("add/", views.add, name="add"),
    path("rules/", views.rules, name="rules"),
    path("<slug:key>/", views.material, name="material"),
    path("<slug:key>/edit/", views.edit, name="edit"),
]
