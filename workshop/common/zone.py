"""Times are kept in UTC and shown in the shop's zone."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from .models import Shop


class ShopZoneMiddleware:
    """Put the shop on the request and show times in its zone for as long as the request lasts."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        shop = Shop.the()
        request.shop = shop  # type: ignore[attr-defined]
        with timezone.override(shop.tzinfo):
            return self.get_response(request)
