"""Bring the handbook's materials and treatments into the database."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from workshop.materials.actions import seed_materials


class Command(BaseCommand):
    """Run after the handbook's tables were changed; ``migrate`` does it once for a fresh shop."""

    help = "Brings the handbook's materials and treatments into the database; may be run again at any time."

    def handle(self, *args: Any, **options: Any) -> None:
        materials, treatments = seed_materials()
        self.stdout.write(f"New: {materials} materials, {treatments} treatments.")
