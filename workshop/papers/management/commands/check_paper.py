"""Check the PDF of a paper without the shop's server: is it whole, and who signed it?"""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workshop.papers import sealing
from workshop.papers.models import PaperKey


class Command(BaseCommand):
    """Says what a file is. Ends with 0 only when both signatures hold and the key is one that is trusted."""

    help = "Check a paper's PDF: both signatures, and the key against --key or the keys this shop knows."
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the PDF")
        parser.add_argument(
            "--key",
            default="",
            help="the shop's public key, 64 digits, or a file that holds it; asks no database",
        )

    def handle(self, *args: Any, file: str, key: str, **options: Any) -> None:
        data = self._read(file)
        reading = sealing.read(data)
        if reading.faults:
            raise CommandError(f"{file}: {' '.join(reading.faults)}")
        assert reading.record is not None
        trusted = self._trusted(key)
        if reading.public not in trusted:
            raise CommandError(
                f"{file}: whole, but signed with the key {reading.fingerprint}, which you did not name."
            )
        record = reading.record
        self.stdout.write(
            f"{file}: {record.get('title', '')} {record.get('number', '')}, issued {record.get('issued_on', '')}: "
            f"whole, and signed with the key {reading.fingerprint}."
        )
        self.stdout.write(f"Whether it still stands says {record.get('check_url', 'the shop')}")

    def _read(self, file: str) -> bytes:
        path = Path(file)
        try:
            if path.stat().st_size > sealing.MOST_BYTES:
                raise CommandError(f"{file}: too large to be one of our papers.")
            return path.read_bytes()
        except OSError as fault:
            raise CommandError(f"{file}: cannot be read ({fault.strerror}).") from fault

    def _trusted(self, key: str) -> set[str]:
        if not key:
            return set(PaperKey.objects.values_list("public", flat=True))
        said = Path(key).read_text() if Path(key).is_file() else key
        digits = "".join(said.split()).lower()
        if len(digits) != 64 or set(digits) - set("0123456789abcdef"):
            raise CommandError("A public key has 64 hexadecimal digits.")
        return {digits}
