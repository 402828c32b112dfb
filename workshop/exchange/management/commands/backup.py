"""Make a backup of the shop while it is in use, try it, and keep 7 daily, 4 weekly and 12 monthly ones."""

from __future__ import annotations

import getpass
import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from workshop.exchange import backup

PASSPHRASE = "WORKSHOP_BACKUP_PASSPHRASE"  # noqa: S105  the name of a variable


def passphrase_asked(encrypt: bool) -> str:
    """The passphrase of the environment, else typed twice where ``encrypt`` asks for one, else none."""
    said = os.environ.get(PASSPHRASE, "")
    if said or not encrypt:
        return said
    said = getpass.getpass("Passphrase of the backup: ")
    if not said or said != getpass.getpass("Once more: "):
        raise CommandError("The two do not match, or are empty; nothing was made.")
    return said


class Command(BaseCommand):
    """For a person and for cron: one line says what was made, any fault ends with a sentence and 1."""

    help = (
        f"Back the shop up into FOLDER, in use or not. Locked with a passphrase by --encrypt or {PASSPHRASE}."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", help="where backups lie; best on another disk")
        parser.add_argument("--encrypt", action="store_true", help="lock it with a passphrase, asked for")
        parser.add_argument("--keep-all", action="store_true", help="drop no older backup")

    def handle(self, *args: Any, folder: str, encrypt: bool, keep_all: bool, **options: Any) -> None:
        if connection.vendor != "sqlite":
            raise CommandError(
                "This shop lives on PostgreSQL: back it up with pg_dump, and the data folder (pictures, keys) with it."
            )
        place = Path(folder)
        try:
            made = backup.make(
                settings.WORKSHOP_DATA, place, at=timezone.now(), passphrase=passphrase_asked(encrypt)
            )
            dropped = [] if keep_all else backup.to_drop([one.name for one in place.iterdir()])
            for name in dropped:
                (place / name).unlink()
        except (backup.BackupFault, OSError) as fault:
            raise CommandError(f"No backup was made: {fault}") from fault
        size = made.path.stat().st_size / 1_000_000
        self.stdout.write(
            f"{made.path}: {sum(made.rows.values())} rows and {made.files} files, {size:.1f} MB, tried by opening it."
        )
        if dropped:
            self.stdout.write(f"Dropped {len(dropped)} older: {', '.join(dropped)}")
