"""Log lines: one event, one line, in UTC, whatever a stranger typed into a name."""

import json
import logging
import re
import time
from datetime import UTC, datetime

# Characters that would start a new line, or move the cursor of whoever reads the log in a terminal.
UNSAFE = {code: f"\\x{code:02x}" for code in (*range(32), *range(127, 160))} | {
    0x2028: "\\u2028",
    0x2029: "\\u2029",
}

# What opens a page by itself never goes into a log in clear: whoever reads the log could walk in.
PRIVATE = re.compile(r"(/yours/|/commissions/calendar/)[^/\s?#\"'<>]+", re.IGNORECASE)


def one_line(text: str) -> str:
    return text.translate(UNSAFE)


def without_keys(text: str) -> str:
    """The text with the key of every private address left out."""
    return PRIVATE.sub(r"\1…", text)


class WithoutKeys(logging.Filter):
    """For a logger that writes its lines itself, such as the server's: the same care before they are formatted."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg, record.args = without_keys(record.getMessage()), ()
        return True


class PlainFormatter(logging.Formatter):
    """`2026-11-25T09:30:00Z WARNING axes: …`; a traceback follows on the same line, its breaks written as \\x0a."""

    converter = staticmethod(time.gmtime)

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(name)s: %(message)s", "%Y-%m-%dT%H:%M:%SZ")

    def format(self, record: logging.LogRecord) -> str:
        return one_line(without_keys(super().format(record)))


class ReadableFormatter(PlainFormatter):
    """As plain, but our own tracebacks keep their lines: for a person in front of a terminal."""

    def format(self, record: logging.LogRecord) -> str:
        head = one_line(without_keys(self._head(record)))
        if not record.exc_info:
            return head
        return f"{head}\n{without_keys(self.formatException(record.exc_info))}"

    def _head(self, record: logging.LogRecord) -> str:
        return (
            f"{self.formatTime(record, self.datefmt)} {record.levelname} {record.name}: {record.getMessage()}"
        )


class JsonFormatter(logging.Formatter):
    """One JSON object a line, for whoever collects them."""

    def format(self, record: logging.LogRecord) -> str:
        line = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
            "message": without_keys(record.getMessage()),
        }
        status = getattr(record, "status_code", None)
        if status is not None:
            line["status"] = str(status)
        if record.exc_info:
            line["traceback"] = without_keys(self.formatException(record.exc_info))
        return json.dumps(line)
