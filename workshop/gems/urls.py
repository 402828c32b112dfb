"""Addresses of the gems room."""

from __future__ import annotations

from django.urls import include, path

from .views import deeds, finish, gem, listing, lists

app_name = "gems"

urlpatterns = [
    path("", lists.gems, name="gems"),
    path("finish/<slug:code>/", finish.finish, name="finish"),
    path("", include("workshop.gems.urls_suites")),
    path("", include("workshop.gems.urls_cards")),
    path("<slug:code>/", gem.gem, name="gem"),
    path("<slug:code>/listing/", listing.listing, name="listing"),
    path("<slug:code>/price/", deeds.price, name="price"),
    path("<slug:code>/move/", deeds.move, name="move"),
    path("<slug:code>/describe/", deeds.describe, name="describe"),
    path("<slug:code>/photo/", deeds.photo, name="photo"),
    path("<slug:code>/rework/", deeds.rework, name="rework"),
    path("<slug:code>/let-go/", deeds.let_go, name="let_go"),
    path("<slug:code>/buy/", deeds.buy, name="buy"),
    path("<slug:code>/again/", deeds.again, name="again"),
]
