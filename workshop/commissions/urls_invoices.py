"""Addresses of the commissions room: invoices and credit notes."""

from __future__ import annotations

from django.urls import path
from django.urls.resolvers import URLPattern

from .views import invoices

urlpatterns: list[URLPattern] = [
    path("deposits/<int:pk>/invoice/", invoices.invoice_deposit, name="invoice_deposit"),
    path("invoices/<int:pk>/credit/", invoices.credit_note, name="credit_note"),
    path("<slug:code>/invoice/", invoices.invoice, name="invoice"),
]
