"""Look the shop over and say what is wrong and what to do; changes nothing."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workshop.exchange import doctor


class Command(BaseCommand):
    """Ends with 1 when figures or papers cannot be relied on."""

    help = "Check the laws, files, hashes, numbers, database, disk and versions, and say what to do."

    def handle(self, *args: Any, **options: Any) -> None:
        serious = 0
        for name, found in doctor.look_over():
            self.stdout.write(f"{'✗' if found else '✓'} {name}")
            for one in found:
                serious += one.serious
                self.stdout.write(f"    {one.what}\n      → {one.advice}")
        if serious:
            raise CommandError(f"{serious} things need you; see above.")
        self.stdout.write("The shop is sound.")
