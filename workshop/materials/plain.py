"""A text as a reader sees it: without what is hidden in it, so that no barred word slips through in a costume.

Zero-width characters, look-alike letters of other scripts, accents, full-width and encircled letters, hyphens,
underscores and letters set apart all read as the plain word. Every place in the plain text knows its place in the
one that was typed, so that a finding quotes the words as they stand there.

The look-alikes are those of Unicode Technical Standard 39, "confusables", for the Latin small letters that Greek,
Cyrillic and Armenian imitate <https://www.unicode.org/reports/tr39/>; the list itself is from memory and short.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

LOOK_ALIKES: Final = str.maketrans(
    "аеорсухіјѕһԁԛԝмнтвкгӏցոսօһցαορνικυτηχβγεωΐϲıłøđħŧɡɑℓ",
    "aeopcyxijshdqwmhtbkrlgnuohgaopvikuthxbyewicilodhtgal",
)
#: Letters that show nothing, though Unicode counts them as letters or symbols.
BLANK: Final = frozenset("\u115f\u1160\u3164\uffa0\u2800\u034f")
#: Marks that turn the direction of reading: what is shown is not what is written.
TURNING: Final = re.compile("[\u202a-\u202e\u2066-\u2069]")
_JOINS: Final = frozenset("_*~|\u00b7\u2022\u2027")
_SPACED_OUT: Final = re.compile(r"(?<!\w)(?:[^\W\d] ){3,}[^\W\d](?!\w)")


@dataclass(frozen=True)
class Plain:
    """A text in plain small letters, and where each of them stands in the text as it was typed."""

    text: str
    places: tuple[int, ...]
    typed: str

    def quoted(self, start: int, end: int) -> str:
        """The words as they were typed."""
        return self.typed[self.places[start] : self.places[end - 1] + 1].strip()


def plain(typed: str) -> Plain:
    """The text as a reader sees it.

    >>> plain("Un\\u200bTREATED  Natür\\u00adlich").text
    'untreated naturlich'
    >>> plain("n a t u r a l").text, plain("nаtural").text
    ('natural', 'natural')
    """
    letters: list[tuple[str, int]] = []
    for place, letter in enumerate(typed):
        for one in _letters(letter):
            if one == " " and letters and letters[-1][0] == " ":
                continue
            letters.append((one, place))
    text = "".join(one for one, _ in letters)
    dropped = {
        at for gap in _SPACED_OUT.finditer(text) for at in range(gap.start(), gap.end()) if text[at] == " "
    }
    kept = [pair for at, pair in enumerate(letters) if at not in dropped]
    return Plain("".join(one for one, _ in kept), tuple(place for _, place in kept), typed)


def _letters(letter: str) -> Iterator[str]:
    if letter in BLANK or unicodedata.category(letter) == "Cf":
        return
    if letter.isspace() or letter in _JOINS or unicodedata.category(letter) == "Pd" or letter == "\u2212":
        yield " "
        return
    if letter in "’‘ʼ`´":
        yield "'"
        return
    for one in unicodedata.normalize("NFKD", _out_of_its_ring(letter)).casefold():
        if unicodedata.category(one) not in {"Mn", "Me", "Cf"}:
            yield one.translate(LOOK_ALIKES)


def _out_of_its_ring(letter: str) -> str:
    """White letters on black discs and squares, which have no plain form in Unicode's own tables."""
    for first in (0x1F150, 0x1F170, 0x1F1E6):
        if first <= ord(letter) < first + 26:
            return chr(ord("a") + ord(letter) - first)
    return letter


def with_nothing_hidden(typed: str) -> str:
    """The text with its figures, fractions and dashes as they stand, but nothing invisible between them.

    >>> with_nothing_hidden("25\\u200bpt")
    '25pt'
    """
    seen = (one for one in typed if one not in BLANK and unicodedata.category(one) not in {"Cf", "Mn", "Me"})
    plain_ones = (_plain_figure(one) for one in seen)
    return "".join(one.lower().translate(LOOK_ALIKES) if one.isalpha() else one for one in plain_ones)


def _plain_figure(one: str) -> str:
    if one.isspace() and one != "\n":
        return " "
    plain_one = unicodedata.normalize("NFKC", one)
    # A fraction sign taken apart would be three figures in a row.
    return plain_one if len(plain_one) == 1 else one
