"""One event is one line, and nothing a stranger types can look like another (OWASP ASVS 5.0.0, 16.4.1)."""

import json
import logging
import sys

import pytest

from workshop import logs

FORGED = "eve\r\n2026-11-25T09:00:00Z INFO auth: ada signed in\x1b[2J\u2028"


def record(message: str, *args: object, exc_info=None) -> logging.LogRecord:
    return logging.LogRecord("axes", logging.WARNING, __file__, 1, message, args, exc_info)


@pytest.mark.parametrize("formatter", [logs.PlainFormatter(), logs.ReadableFormatter(), logs.JsonFormatter()])
def test_a_forged_name_stays_on_its_line(formatter):
    line = formatter.format(record("refused %s", FORGED))
    assert len(line.splitlines()) == 1
    assert "\x1b" not in line
    assert "eve" in line


@pytest.mark.parametrize("formatter", [logs.PlainFormatter(), logs.JsonFormatter()])
def test_a_traceback_is_part_of_its_line(formatter):
    try:
        raise ValueError(FORGED)
    except ValueError:
        line = formatter.format(record("broke", exc_info=sys.exc_info()))
    assert len(line.splitlines()) == 1
    assert "ValueError" in line


def test_a_json_line_tells_level_logger_and_the_moment_in_utc():
    made = record("refused")
    made.created = 1_764_063_000.5  # 2025-11-25 09:30:00.5 UTC
    line = json.loads(logs.JsonFormatter().format(made))
    assert line == {
        "at": "2025-11-25T09:30:00.500+00:00",
        "level": "WARNING",
        "logger": "axes",
        "message": "refused",
    }


def test_a_plain_line_is_in_utc_whatever_the_machine_thinks(monkeypatch):
    monkeypatch.setenv("TZ", "Asia/Kolkata")
    made = record("refused")
    made.created = 1_764_063_000.0
    assert logs.PlainFormatter().format(made) == "2025-11-25T09:30:00Z WARNING axes: refused"
