"""The word linter in the language in force: its own rules, and always the English ones."""

from __future__ import annotations

from workshop.common import say

from . import words_german
from .words import Facts, Finding, Profile, lint

NAMES = ("16 CFR 23.25(a)", "16 CFR 23.26; house rule")


def lint_here(text: str, facts: Facts, profile: Profile = Profile.STRICT) -> list[Finding]:
    """What is wrong with a text of a paper in the language in force."""
    if say.language() != "de":
        return lint(text, facts, profile)
    found = [
        # "Opal" is the name in both languages, and what stands before it is German: the German rule judges it.
        one
        for one in lint(words_german.with_points(text), facts, profile)
        if not (one.rule.startswith(NAMES) and words_german.is_gem_name(one.words))
    ]
    return list(dict.fromkeys([*found, *words_german.lint_german(text, facts, profile)]))
