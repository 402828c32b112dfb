"""A table as a file for a spreadsheet, with nothing in it that a spreadsheet would run.

OWASP, "CSV Injection" <https://owasp.org/www-community/attacks/CSV_Injection>: a cell that begins with = + - @, a tab
or a line break is read as a formula; an apostrophe before it makes it text. Plain numbers stay numbers.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.http import HttpResponse

RUNS = ("=", "+", "-", "@", "\t", "\r", "\n")
NUMBER = re.compile(r"-?\d+(\.\d+)?")


def safe_cell(value: object) -> str:
    """A cell as text: empty for nothing, a figure with a decimal point, anything a spreadsheet would run as text."""
    if value is None:
        return ""
    text = f"{value:f}" if isinstance(value, Decimal) else str(value)
    if text.startswith(RUNS) and not NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def csv_file(name: str, header: Sequence[str], rows: Iterable[Sequence[object]]) -> HttpResponse:
    """An answer that is kept as a file; its first letters say that it is UTF-8, which some spreadsheets need."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([safe_cell(cell) for cell in header])
    writer.writerows([[safe_cell(cell) for cell in row] for row in rows])
    answer = HttpResponse(text.getvalue().encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer
