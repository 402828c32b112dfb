"""Addresses of the client's own page: private links, no account."""

from __future__ import annotations

from django.urls import path

from .views import client

app_name = "client"
urlpatterns = [
    path("<str:token>/", client.page, name="page"),
    path("<str:token>/accept/<int:version>/", client.accept, name="accept"),
    path("<str:token>/decline/<int:version>/", client.decline, name="decline"),
    path("<str:token>/answer/<int:pk>/", client.answer, name="answer"),
    path("<str:token>/photo/<slug:sha>/<slug:size>.jpg", client.photo, name="photo"),
    path("<str:token>/paper/<slug:number>.pdf", client.paper, name="paper"),
]
