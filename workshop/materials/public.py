"""The rules for words, for a text that may stand on the paper of any stone: of that stone nothing is known."""

from __future__ import annotations

from .words import Facts, lint


def faults_of_any_stone(text: str) -> list[str]:
    """A sentence for each thing that stops a text under the strict rules."""
    return [f"“{one.words}”: {one.advice} ({one.rule})" for one in lint(text, Facts()) if one.blocks]
