"""Addresses of the sales room."""

from __future__ import annotations

from django.urls import include, path

from . import views, views_invoices

app_name = "sales"

urlpatterns = [
    path("", views.sales, name="sales"),
    path("sell/<slug:code>/", views.sell, name="sell"),
    path("", include("workshop.sales.urls_recall")),
    path("", include("workshop.sales.urls_memo")),
    path("<slug:code>/", views.sale, name="sale"),
    path("<slug:code>/pay/", views.pay, name="pay"),
    path("<slug:code>/lower/", views.lower, name="lower"),
    path("<slug:code>/cancel/", views.cancel, name="cancel"),
    path("<slug:code>/invoice/", views_invoices.invoice, name="invoice"),
    path("<slug:code>/credit/", views_invoices.credit, name="credit"),
]
