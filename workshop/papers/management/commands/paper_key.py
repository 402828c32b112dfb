"""Show the public half of the key papers are signed with, or write it to a file for others."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workshop.common.errors import DeedRefused
from workshop.papers import keys


class Command(BaseCommand):
    """Prints fingerprint and public key; never the private half."""

    help = "Show the public key papers are signed with; --write puts it into a file to give away."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--write", default="", metavar="FILE", help="write the public key into FILE")

    def handle(self, *args: Any, write: str, **options: Any) -> None:
        try:
            key = keys.current()
        except DeedRefused as refusal:
            raise CommandError(refusal.message) from refusal
        self.stdout.write(f"fingerprint {key.fingerprint}")
        self.stdout.write(f"public key  {key.public}")
        if write:
            try:
                Path(write).write_text(key.public + "\n")
            except OSError as fault:
                raise CommandError(f"{write}: cannot be written ({fault.strerror}).") from fault
