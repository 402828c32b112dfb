"""Why a deed is refused: named errors with a sentence for the person at the bench."""

from __future__ import annotations


class DeedRefused(Exception):
    """A deed that may not happen; nothing of it was kept. ``field`` names the form field it belongs beside."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field


class PleaseConfirm(DeedRefused):
    """The figures look like a slip; the deed goes through once the person says it is meant."""
