"""Addresses of memos and holds. They stand before the codes of sales."""

from __future__ import annotations

from django.urls import path

from . import views_memo as views

urlpatterns = [
    path("memos/", views.memo_list, name="memos"),
    path("memos/lend/", views.lend, name="lend"),
    path("memos/take/", views.take, name="take"),
    path("memos/lines/<int:pk>/back/", views.back, name="memo_back"),
    path("memos/<slug:code>/", views.memo, name="memo"),
    path("memos/<slug:code>/send/", views.send, name="memo_send"),
    path("memos/<slug:code>/drop/", views.drop, name="memo_drop"),
    path("memos/<slug:code>/extend/", views.extend, name="memo_extend"),
    path("memos/<slug:code>/settle/", views.settle, name="memo_settle"),
    path("hold/<slug:code>/", views.hold, name="hold"),
    path("holds/<int:pk>/lift/", views.lift, name="lift"),
]
