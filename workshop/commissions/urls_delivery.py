"""Addresses of the commissions room: delivery, closing, and what was learned."""

from __future__ import annotations

from django.urls import path
from django.urls.resolvers import URLPattern

from .views import delivery, learned

urlpatterns: list[URLPattern] = [
    path("kinds/", learned.kinds, name="kinds"),
    path("kinds.csv", learned.kinds_csv, name="kinds_csv"),
    path("<slug:code>/learned/", learned.learned, name="learned"),
    path("<slug:code>/deliver/", delivery.deliver, name="deliver"),
    path("<slug:code>/delivery/<slug:delivery_code>/", delivery.delivery, name="delivery"),
    path("<slug:code>/delivery/<slug:delivery_code>/arrived/", delivery.arrived, name="arrived"),
    path("<slug:code>/settle/", delivery.close_account, name="close_account"),
]
