"""The word linter in the language in force: its own rules, and always the English ones."""

from __future__ import annotations

from django.utils.translation import get_language

from . import words_german
from .words import Facts, Finding, Profile, lint


def lint_here(text: str, facts: Facts, profile: Profile = Profile.STRICT) -> list[Finding]:
    """What is wrong with a text of a paper in the language in force."""
    found = (
        lint(words_german.with_points(text), facts, profile) if _is_german() else lint(text, facts, profile)
    )
    return list(
        dict.fromkeys([*found, *(words_german.lint_german(text, facts, profile) if _is_german() else [])])
    )


def _is_german() -> bool:
    return (get_language() or "").startswith("de")
