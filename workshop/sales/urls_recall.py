"""Addresses of recalls, under those of the sales room."""

from __future__ import annotations

from django.urls import path

from . import views_recall as views
from . import views_recall_deeds as deeds

urlpatterns = [
    path("recalls/", views.recalls, name="recalls"),
    path("recalls/open/<slug:about>/<int:pk>/", views.open_recall, name="open_recall"),
    path("recalls/<slug:code>/", views.recall, name="recall"),
    path("recalls/<slug:code>/table/", views.table, name="recall_table"),
    path("recalls/<slug:code>/close/", views.close, name="close_recall"),
    path("recalls/<slug:code>/<int:pk>/", views.entry, name="recall_entry"),
    path("recalls/<slug:code>/<int:pk>/tell/", deeds.tell, name="recall_tell"),
    path("recalls/<slug:code>/<int:pk>/choice/", deeds.choice, name="recall_choice"),
    path("recalls/<slug:code>/<int:pk>/settle/", deeds.settle, name="recall_settle"),
    path("recalls/<slug:code>/<int:pk>/withdraw/", deeds.withdraw, name="recall_withdraw"),
    path("recalls/<slug:code>/<int:pk>/lower/", deeds.lower, name="recall_lower"),
    path("recalls/<slug:code>/<int:pk>/take-back/", deeds.take_back, name="recall_take_back"),
    path("recalls/<slug:code>/<int:pk>/reprice/", deeds.reprice, name="recall_reprice"),
]
