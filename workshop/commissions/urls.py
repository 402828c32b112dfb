"""Addresses of the commissions room. The parts with fixed first words come before the codes."""

from __future__ import annotations

from . import (
    urls_board,
    urls_changes,
    urls_delivery,
    urls_intake,
    urls_invoices,
    urls_quotes,
    urls_talk,
    urls_tariffs,
)

app_name = "commissions"
urlpatterns = [
    *urls_tariffs.urlpatterns,
    *urls_talk.urlpatterns,
    *urls_delivery.urlpatterns,
    *urls_quotes.urlpatterns,
    *urls_intake.urlpatterns,
    *urls_invoices.urlpatterns,
    *urls_changes.urlpatterns,
    *urls_board.urlpatterns,
]
