"""Measure the house on a big shop of its own, and print each figure's ratio to its floor in the same run."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from workshop.common.models import Hand

INSIDE = "WORKSHOP_BENCHMARK"


class Command(BaseCommand):
    """Builds the big shop in a folder of its own, never in the shop one works in."""

    help = "Measure pages, the card and the handbook on a big shop, as ratios to floors in the same run."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--stones", type=int, default=50_000)
        parser.add_argument("--times", type=int, default=1_000_000)
        parser.add_argument("--rounds", type=int, default=30, help="how often each thing is measured")
        parser.add_argument(
            "--keep", default="", metavar="FOLDER", help="keep the big shop there and use it again"
        )
        parser.add_argument(
            "--only",
            choices=["pages", "card", "handbook", "memory"],
            help="measure one part; memory is measured only when it is asked for",
        )

        parser.add_argument("--papers", type=int, default=1000, help="how many cards memory is measured over")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["stones"] < 100 or options["times"] < 1000 or options["rounds"] < 3:
            raise CommandError("Give at least 100 stones, 1000 times and 3 rounds.")
        if options["papers"] < 20:
            raise CommandError("Give at least 20 papers.")
        if os.environ.get(INSIDE):
            self._inside(options)
        elif options["keep"]:
            folder = Path(options["keep"]).expanduser().resolve()
            folder.mkdir(parents=True, exist_ok=True)
            self._outside(folder)
        else:
            with tempfile.TemporaryDirectory(prefix="workshop-benchmark-") as passing:
                self._outside(Path(passing))

    def _outside(self, folder: Path) -> None:
        """The same command again, in a folder of its own."""
        environment = {
            **os.environ,
            "WORKSHOP_DATA": str(folder),
            INSIDE: "1",
            "WORKSHOP_DEMO": "",
            "WORKSHOP_DEBUG": "",
        }
        environment.pop("DATABASE_URL", None)
        answer = subprocess.run([sys.executable, *sys.argv], env=environment, check=False)  # noqa: S603
        if answer.returncode:
            raise CommandError("The benchmark ended with an error; its own words stand above.")

    def _inside(self, options: dict[str, Any]) -> None:
        from workshop.exchange.benchmark.measure import table

        rows = []
        if options["only"] == "memory":
            from workshop.exchange.benchmark.cards import measure_memory

            self.stdout.write(measure_memory(self._big_shop(options), options["papers"], self._say))
            return
        if options["only"] != "handbook":
            owner = self._big_shop(options)
            rows += self._shop_rows(owner, options)
        if options["only"] in (None, "handbook"):
            rows += self._handbook_rows(options)
        self.stdout.write("")
        self.stdout.write(table(rows))
        over = [row.name for row in rows if not row.within]
        self.stdout.write(
            f"\n{len(rows) - len(over)} of {len(rows)} keep their aim."
            + (f" Over: {', '.join(over)}." if over else "")
        )

    def _big_shop(self, options: dict[str, Any]) -> Hand:
        from workshop.exchange.benchmark.big_shop import Size, build

        call_command("migrate", verbosity=0)
        known = Hand.objects.filter(username="bench").first()
        if known is not None:
            self.stdout.write(f"Using the big shop in {settings.WORKSHOP_DATA}.")
            return known
        start = time.perf_counter()
        self.stdout.write(f"Building a shop of {options['stones']:,} stones and {options['times']:,} times …")
        owner = build(Size(options["stones"], options["times"]))
        self.stdout.write(f"Built in {time.perf_counter() - start:.0f} s.")
        return owner

    def _shop_rows(self, owner: Hand, options: dict[str, Any]) -> list[Any]:
        from workshop.exchange.benchmark.cards import measure_cards
        from workshop.exchange.benchmark.pages import measure_pages

        rows: list[Any] = []
        if options["only"] in (None, "pages"):
            rows += measure_pages(owner, options["rounds"], self._say)
        if options["only"] in (None, "card"):
            rows += measure_cards(owner, options["rounds"], self._say)
        return rows

    def _handbook_rows(self, options: dict[str, Any]) -> list[Any]:
        from workshop.exchange.benchmark.handbook import measure_handbook

        return list(measure_handbook(options["rounds"], self._say))

    def _say(self, what: str) -> None:
        if self.stdout.isatty():
            self.stdout.write(f"  measuring {what}")
