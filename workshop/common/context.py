"""What every page may count on."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest


def shop(request: HttpRequest) -> dict[str, Any]:
    """The shop, and whether this person sees prices and may record or run things."""
    user = getattr(request, "user", None)
    return {
        "shop": getattr(request, "shop", None),
        "sees_money": getattr(user, "sees_money", False),
        "may_record": getattr(user, "may_record", False),
        "runs_the_shop": getattr(user, "runs_the_shop", False),
        "is_demo": settings.DEMO,
        "pdf_available": settings.PDF_AVAILABLE,
    }
