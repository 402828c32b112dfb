"""What a rule about a public text is made of: the profile it is read under, what is known of the stone, a finding."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from .plain import Plain


class Profile(StrEnum):
    """The rules a paper is issued under; strict is the union of the three."""

    STRICT = "strict"
    US = "us"
    CIBJO = "cibjo"
    FRANCE = "france"

    @property
    def words(self) -> str:
        """Its name for a reader."""
        return {
            "strict": "strict: US, CIBJO and French rules together",
            "us": "United States (FTC guides, 16 CFR Part 23)",
            "cibjo": "CIBJO Gemstone Book",
            "france": "France (decree 2002-65)",
        }[self.value]


ARTIFICIAL: Final = frozenset({"grown", "assembled", "reconstructed", "imitation"})
"""Natures that are not "formed completely by nature" (CIBJO Gemstone Book, 3.1 and 3.2)."""

FILLER_BONDED: Final = frozenset({"leadglass", "reconst"})
"""Treatment keys of products that hold gem material and a filler or binder (16 CFR 23.25(d))."""

SAID, WRITTEN, TESTED, GEMMOLOGIST, LABORATORY = 1, 2, 3, 4, 5


@dataclass(frozen=True)
class Facts:
    """What is known of the stone a text speaks of. Evidence is the ladder 0 to 5; -1 where nothing is stated.

    ``origin`` holds the words of the statement of origin: a text may name that place and no other.
    """

    nature: str = "mined"
    treatments: frozenset[str] = frozenset()
    species: str = ""
    name: str = ""
    species_evidence: int = -1
    natural_shown: bool = False
    untreated_evidence: int = -1
    origin_evidence: int = -1
    origin: str = ""
    colour_evidence: int = -1
    clarity_tested: bool = False
    weighed_ct: Decimal | None = None
    on_card: bool = True

    @property
    def artificial(self) -> bool:
        """Whether it is grown, put together or an imitation."""
        return self.nature in ARTIFICIAL or self.bonded

    @property
    def bonded(self) -> bool:
        """Whether it is put together of gem material and a filler or binder, or of pieces."""
        return self.nature == "reconstructed" or bool(self.treatments & FILLER_BONDED)


@dataclass(frozen=True)
class Finding:
    """One thing wrong with a text: what, by which rule, and what to do. ``blocks`` stops the paper."""

    blocks: bool
    rule: str
    words: str
    advice: str
    from_memory: bool = False


@dataclass(frozen=True)
class Place:
    """Where a rule's words stand in a plain text."""

    text: str
    start: int
    end: int

    @property
    def words(self) -> str:
        return self.text[self.start : self.end]

    @property
    def before(self) -> str:
        return self.text[: self.start]

    @property
    def after(self) -> str:
        return self.text[self.end :]

    @property
    def sentence_before(self) -> str:
        """What stands before the words in their own sentence."""
        return re.split(r"[.;!?](?!\d)", self.before)[-1]

    def has(self, words: str) -> bool:
        """Whether the whole text holds a pattern."""
        return re.search(words, self.text) is not None


Test = Callable[[Place, Facts, Profile], bool | None]
"""From the words found, the facts and the profile: True blocks, False warns, None is fine."""


@dataclass(frozen=True)
class Rule:
    """Words that may not stand, when, and by whose rule.

    ``about`` names the words for a reader, ``outcome`` says when they block and when they warn, ``profiles`` under
    which rules, ``sources`` the keys of ``sources.SOURCES``; ``from_memory``: the rule's text was not read again.
    """

    pattern: re.Pattern[str]
    about: str
    outcome: str
    rule: str
    advice: str
    test: Test
    sources: tuple[str, ...] = ()
    profiles: str = "all"
    from_memory: bool = False

    def findings(self, text: Plain, facts: Facts, profile: Profile) -> Iterator[Finding]:
        """Each of the rule's words that breaks it in a text, once."""
        seen = set()
        for match in self.pattern.finditer(text.text):
            verdict = self.test(Place(text.text, *match.span()), facts, profile)
            words = text.quoted(*match.span())
            if verdict is not None and words.lower() not in seen:
                seen.add(words.lower())
                yield Finding(verdict, self.rule, words, self.advice, self.from_memory)


def pattern(words: str) -> re.Pattern[str]:
    """Whole words of a plain text: small letters, no accents, one space for every hyphen."""
    return re.compile(rf"(?<!\w)(?:{words})(?!\w)")


def always(place: Place, facts: Facts, profile: Profile) -> bool | None:
    """Blocks whatever is known."""
    return True


def warn(place: Place, facts: Facts, profile: Profile) -> bool | None:
    """Warns whatever is known."""
    return False
