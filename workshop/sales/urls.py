"""Addresses of the sales room."""

from __future__ import annotations

from django.urls import path

from . import views

app_name = "sales"

urlpatterns = [
    path("", views.sales, name="sales"),
    path("sell/<slug:code>/", views.sell, name="sell"),
    path("<slug:code>/", views.sale, name="sale"),
    path("<slug:code>/pay/", views.pay, name="pay"),
    path("<slug:code>/lower/", views.lower, name="lower"),
    path("<slug:code>/cancel/", views.cancel, name="cancel"),
]
