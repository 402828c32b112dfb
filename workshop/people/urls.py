"""Addresses of the people room."""

from __future__ import annotations

from django.urls import path

from . import views

app_name = "people"
urlpatterns = [
    path("", views.contacts, name="contacts"),
    path("add/", views.add, name="add"),
    path("<slug:code>/", views.contact, name="contact"),
    path("<slug:code>/edit/", views.edit, name="edit"),
]
