"""Names of stones and words of the handbook's tables, in the language in force.

The handbook is pure and its tables stay English: their texts are message ids, translated here. A language whose
adjectives follow the gender of the noun says the gender of each name (context ``gender``: m, f or n) and each word
that stands before a name three times over; a name nobody translated, such as a stone the shop added, counts as
masculine there, as "stone" does in German.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import pgettext

NAME, CELL, GENDER, DEGREE, CHOICE = "stone", "table", "gender", "degree", "choice"
BEFORE: Final = {"m": "before a masculine name", "f": "before a feminine name", "n": "before a neuter name"}


def called(name: str) -> str:
    """A species or a variety by its name in this language; one the shop added stays as typed."""
    return pgettext(NAME, name) if name else ""


def cell(text: str) -> str:
    """The text of a cell of the handbook's tables."""
    return pgettext(CELL, text) if text else ""


def degree_words(degree: str) -> str:
    """Minor, moderate, significant; what else was typed stays as typed."""
    return pgettext(DEGREE, degree) if degree else ""


def choice(label: object) -> str:
    """The label of one of a list of choices."""
    return pgettext(CHOICE, str(label)) if label else ""


def before(word: str, name: str) -> str:
    """A word that stands directly before a name, in the form the name wants."""
    return pgettext(BEFORE.get(pgettext(GENDER, name), BEFORE["m"]), word) if name else word


def listed(words: Sequence[str]) -> str:
    """Words in a row: a, b and c."""
    if len(words) < 2:
        return "".join(words)
    return _("%(first)s and %(last)s") % {"first": ", ".join(words[:-1]), "last": words[-1]}


def joined(*parts: str) -> str:
    """Parts in a row with commas; empty ones are left out."""
    return ", ".join(part for part in parts if part)


def capital(text: str) -> str:
    """The text as the head of a sentence."""
    return text[:1].upper() + text[1:]
