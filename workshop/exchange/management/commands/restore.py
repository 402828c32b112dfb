"""Put a backup in the place of the shop; what was there is kept beside it."""

from __future__ import annotations

import getpass
import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from workshop.exchange import backup, locked_file

from .backup import PASSPHRASE


class Command(BaseCommand):
    """Stop the server first; start it afterwards: it brings an older backup up to date by itself."""

    help = "Restore the shop from a backup FILE; the shop that was there is kept beside the data folder."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file")
        parser.add_argument(
            "--into", default="", metavar="FOLDER", help="instead of the shop's own data folder"
        )

    def handle(self, *args: Any, file: str, into: str, **options: Any) -> None:
        path, data = Path(file), Path(into) if into else settings.WORKSHOP_DATA
        try:
            passphrase = os.environ.get(PASSPHRASE, "")
            if path.is_file() and locked_file.is_locked(path) and not passphrase:
                passphrase = getpass.getpass("Passphrase of the backup: ")
            restored, safety = backup.restore(path, data, at=timezone.now(), passphrase=passphrase)
        except (backup.BackupFault, OSError) as fault:
            raise CommandError(f"Nothing was restored: {fault}") from fault
        self.stdout.write(
            f"The shop of {restored.made_at:%d %b %Y, %H:%M} UTC lies in {data}: "
            f"{sum(restored.rows.values())} rows, {restored.files} files."
        )
        if safety is not None:
            self.stdout.write(f"The shop that was there is kept in {safety}; delete it once you are sure.")
