"""Contacts, to look at."""

from __future__ import annotations

from django.contrib import admin

from workshop.common.looking import LookOnly

from .models import Contact


@admin.register(Contact)
class ContactAdmin(LookOnly):
    """Everybody the shop deals with."""

    list_display = ["code", "name", "firm", "country"]
    search_fields = ["code", "name", "firm", "email"]
    list_filter = ["is_supplier", "is_client", "is_buyer", "is_jeweller", "is_laboratory"]
