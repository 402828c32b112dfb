"""Print the one-time link that makes the first owner of an empty shop."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.urls import reverse

from workshop.common.actions import owner_token
from workshop.common.models import Hand, Role


class Command(BaseCommand):
    """Print the path of the link, or nothing where the shop has its owner already."""

    help = (
        "Print the one-time link that makes the first owner (good for a day; nothing once there is an owner)."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        if not Hand.objects.filter(role=Role.OWNER).exists():
            self.stdout.write(reverse("common:open_shop", args=[owner_token()]))
