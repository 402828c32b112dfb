"""The text tables of the handbook, read once: every row names its source."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of ``tables/<name>.tsv`` as they stand: tab-separated, one header row, no quoting."""
    with (HERE / f"{name}.tsv").open(encoding="utf-8", newline="") as lines:
        return tuple(csv.DictReader(lines, delimiter="\t", quoting=csv.QUOTE_NONE))
