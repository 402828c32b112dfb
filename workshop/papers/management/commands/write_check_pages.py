"""Write the check pages into a folder, for a shop without a server: any plain web host can show them."""

from __future__ import annotations

import os
import shutil
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from workshop.papers.still_pages import write_pages

#: What lies at the top of a folder of check pages. A folder with anything else in it is somebody's, and is left alone.
WRITTEN: Final = {"papers", "style"}


class Command(BaseCommand):
    """One page a paper, under the path its printed code names; run it again after each paper, or each night."""

    help = (
        "Write every paper's check page into FOLDER, to be copied to a plain web host at the shop's address."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder")

    def handle(self, *args: Any, folder: str, **options: Any) -> None:
        target = Path(folder)
        if target.exists() and not target.is_dir():
            raise CommandError(f"{folder} is a file; name a folder.")
        if target.resolve() in {settings.BASE_DIR.resolve(), settings.WORKSHOP_DATA.resolve()}:
            raise CommandError("Choose a folder of its own, not the shop's.")
        if target.is_dir() and not {path.name for path in target.iterdir()} <= WRITTEN:
            raise CommandError(
                f"{folder} holds other things than check pages, and is written anew each time: name an empty folder."
            )
        # Made beside the old pages and put in their place whole: a host that copies meanwhile finds no half of them.
        half = target.with_name(f".{target.name}.half")
        shutil.rmtree(half, ignore_errors=True)
        try:
            count = write_pages(half)
            if target.exists():
                old = target.with_name(f".{target.name}.old")
                shutil.rmtree(old, ignore_errors=True)
                os.replace(target, old)
                os.replace(half, target)
                shutil.rmtree(old)
            else:
                os.replace(half, target)
        except OSError as fault:
            raise CommandError(f"{folder}: cannot be written ({fault.strerror}).") from fault
        self.stdout.write(f"{count} check page{'' if count == 1 else 's'} in {target}")
