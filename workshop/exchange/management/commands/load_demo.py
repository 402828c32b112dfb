"""Fill an empty shop with the demo: invented people, stones and a year of hours."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from workshop.common.models import Hand
from workshop.exchange.demo import Demo, signing_in


class Command(BaseCommand):
    """Refuses a shop that has anybody in it: the demo is never mixed with a real one."""

    help = "Fill an empty shop with the demo shop."

    def handle(self, *args: Any, **options: Any) -> None:
        if Hand.objects.exists():
            raise CommandError("This shop is not empty; the demo goes only into one that is.")
        Demo(timezone.now()).load()
        self.stdout.write("Sign in with one of these names and passwords:")
        self.stdout.write(signing_in())
