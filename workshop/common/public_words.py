"""What may not stand in a text that goes before buyers. The rules live in a room above, which brings them along.

The shop's own line stands on papers of any stone, so it is held against a stone of which nothing is known.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

#: From a text to a sentence for each thing that stops it.
Check = Callable[[str], list[str]]

_CHECKS: Final[list[Check]] = []


def add_check(check: Check) -> None:
    """Hold public texts against one more set of rules."""
    if check not in _CHECKS:
        _CHECKS.append(check)


def faults(text: str) -> list[str]:
    """All that stops a text, in sentences."""
    return [fault for check in _CHECKS for fault in check(text)]
