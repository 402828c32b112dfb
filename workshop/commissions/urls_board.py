"""Addresses of the commissions room: board, list, the commission itself, its pieces and photographs."""

from __future__ import annotations

from django.urls import path
from django.urls.resolvers import URLPattern

from .views import board, commission, pieces

urlpatterns: list[URLPattern] = [
    path("", board.commissions, name="commissions"),
    path("board/", board.board, name="board"),
    path("new/", board.enquire, name="enquire"),
    path("of/<slug:code>/", pieces.of_stone, name="of_stone"),
    path("<slug:code>/", commission.commission, name="commission"),
    path("<slug:code>/edit/", commission.edit, name="edit"),
    path("<slug:code>/close/", commission.close, name="close"),
    path("<slug:code>/photo/", commission.photo, name="photo"),
    path("<slug:code>/share/<int:pk>/", commission.share, name="share"),
    path("<slug:code>/add/", pieces.add_item, name="add_item"),
    path("<slug:code>/<int:number>/", pieces.item, name="item"),
    path("<slug:code>/<int:number>/stone/", pieces.link, name="link"),
    path("<slug:code>/<int:number>/draw/", pieces.draw, name="draw"),
    path("<slug:code>/unlink/<int:pk>/", pieces.unlink, name="unlink"),
]
