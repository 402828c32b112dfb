"""Files for a spreadsheet hold nothing that it would run: OWASP, "CSV Injection"."""

import csv
import io
from decimal import Decimal

import pytest

from workshop.common.spreadsheet import csv_file, safe_cell


@pytest.mark.parametrize(
    ("cell", "kept"),
    [
        ("=1+1", "'=1+1"),
        ("+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"),
        ("-2+3", "'-2+3"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t=1"),
        ("\r=1", "'\r=1"),
        ("-", "'-"),
        ("a=1", "a=1"),
        (None, ""),
        (0, "0"),
        (Decimal("-6.36"), "-6.36"),
        (Decimal("1E+3"), "1000"),
        (Decimal("0.10"), "0.10"),
    ],
)
def test_a_cell(cell, kept):
    assert safe_cell(cell) == kept


def test_a_file_is_read_back_as_it_was():
    answer = csv_file("kinds", ["what", "sum"], [['oval, "fine"', Decimal("12.50")], ["=x", None]])
    assert answer["Content-Disposition"] == 'attachment; filename="kinds.csv"'
    read = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert read == [["what", "sum"], ['oval, "fine"', "12.50"], ["'=x", ""]]
