"""Log lines: one event, one line, in UTC, whatever a stranger typed into a name."""

import json
import logging
import time
from datetime import UTC, datetime

# Characters that would start a new line, or move the cursor of whoever reads the log in a terminal.
UNSAFE = {code: f"\\x{code:02x}" for code in (*range(32), *range(127, 160))} | {
    0x2028: "\\u2028",
    0x2029: "\\u2029",
}


def one_line(text: str) -> str:
    return text.translate(UNSAFE)


class PlainFormatter(logging.Formatter):
    """`2026-11-25T09:30:00Z WARNING axes: …`; a traceback follows on the same line, its breaks written as \\x0a."""

    converter = staticmethod(time.gmtime)

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(name)s: %(message)s", "%Y-%m-%dT%H:%M:%SZ")

    def format(self, record: logging.LogRecord) -> str:
        return one_line(super().format(record))


class ReadableFormatter(PlainFormatter):
    """As plain, but our own tracebacks keep their lines: for a person in front of a terminal."""

    def format(self, record: logging.LogRecord) -> str:
        head = one_line(self._head(record))
        return f"{head}\n{self.formatException(record.exc_info)}" if record.exc_info else head

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
            "message": record.getMessage(),
        }
        status = getattr(record, "status_code", None)
        if status is not None:
            line["status"] = str(status)
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        return json.dumps(line)
