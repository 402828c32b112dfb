"""Words that may not stand in a public text, and why: a linter over what people type and what we compose.

Each rule names where it comes from. The FTC Guides for the Jewelry, Precious Metals, and Pewter Industries
(16 CFR Part 23, numbering of 2018) are the Commission's view, not a statute; the French decree 2002-65 binds in
France; CIBJO's books are a voluntary trade standard. Rules without a published source are the house's own and
say so. Nothing here is legal advice: local law and the user's adviser come first.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cache
from typing import Final

from workshop.handbook.tables import materials
from workshop.handbook.weights import weight_statement_faults


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

SAID, WRITTEN, LABORATORY = 1, 2, 5


@dataclass(frozen=True)
class Facts:
    """What is known of the stone a text speaks of. Evidence is the ladder 0 to 5; -1 where nothing is stated."""

    nature: str = "mined"
    treatments: frozenset[str] = frozenset()
    species: str = ""
    name: str = ""
    species_evidence: int = -1
    natural_shown: bool = False
    untreated_evidence: int = -1
    origin_evidence: int = -1
    colour_evidence: int = -1
    clarity_tested: bool = False
    weighed_ct: Decimal | None = None
    on_card: bool = True

    @property
    def artificial(self) -> bool:
        """Whether it is grown, put together or an imitation."""
        return self.nature in ARTIFICIAL or bool(self.treatments & FILLER_BONDED)


@dataclass(frozen=True)
class Finding:
    """One thing wrong with a text: what, by which rule, and what to do. ``blocks`` stops the paper."""

    blocks: bool
    rule: str
    words: str
    advice: str
    from_memory: bool = False


Test = Callable[[str, str, Facts, Profile], bool | None]
"""From the words found, the whole text, the facts and the profile: True blocks, False warns, None is fine."""


@dataclass(frozen=True)
class _Rule:
    pattern: re.Pattern[str]
    rule: str
    advice: str
    test: Test
    from_memory: bool = False


def lint(text: str, facts: Facts, profile: Profile = Profile.STRICT) -> list[Finding]:
    """All that is wrong with a text that goes before a buyer; an empty list when nothing is.

    >>> [(found.blocks, found.words) for found in lint("faux sapphire", Facts(nature="imitation"))]
    [(True, 'faux')]
    """
    found = [finding for rule in _rules() for finding in _apply(rule, text, facts, profile)]
    weights = weight_statement_faults(text, weighed_ct=facts.weighed_ct)
    found += [Finding(True, fault.rule, fault.words, fault.advice) for fault in weights]
    return found


def _apply(rule: _Rule, text: str, facts: Facts, profile: Profile) -> Iterator[Finding]:
    seen = set()
    for match in rule.pattern.finditer(text):
        words = match[0].strip()
        if words.lower() in seen:
            continue
        seen.add(words.lower())
        verdict = rule.test(words, text, facts, profile)
        if verdict is not None:
            yield Finding(verdict, rule.rule, words, rule.advice, rule.from_memory)


def _pattern(words: str) -> re.Pattern[str]:
    return re.compile(rf"(?<![\w-])(?:{words})(?![\w-])", re.IGNORECASE)


def _has(text: str, words: str) -> bool:
    return re.search(words, text, re.IGNORECASE) is not None


@cache
def gem_names() -> str:
    """The bare names of gems, longest first, as a pattern."""
    listed = {one.name for one in materials() if not one.is_man_made}
    short = {name for name in listed if "corundum" not in name} | {"ruby", "sapphire", "emerald", "turquoise"}
    return "|".join(re.escape(name) for name in sorted(short, key=lambda name: (-len(name), name)))


def _artificial(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return True if facts.artificial else None


def _natural(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return None if facts.nature == "mined" and facts.natural_shown and not facts.artificial else True


def _semi(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    if facts.artificial or profile in {Profile.FRANCE, Profile.STRICT}:
        return True
    return False if profile is Profile.CIBJO else None


LAB_WORDS: Final = r"laboratory[- ](?:grown|created)|lab[- ](?:grown|created)"


def _cultured(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    if "pearl" in facts.species or "pearl" in facts.name:
        return None
    if profile is Profile.US and _has(text, LAB_WORDS):
        return None
    return True


def _faux(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return None if _has(text, rf"imitation|simulated|{LAB_WORDS}") else True


def _synthetic(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return True if facts.nature == "imitation" or facts.species in {"glass", "cubic zirconia"} else None


def _gem_name(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    if not facts.treatments & FILLER_BONDED:
        return None
    told = _has(text, r"not (?:have )?the same characteristics") and _has(text, r"special care")
    return None if told and _has(text, r"composite|hybrid|manufactured|reconstructed") else True


def _composite(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    told = _has(text, r"not (?:have )?the same characteristics") and _has(text, r"special care")
    return None if told else True


def _flawless(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return None if facts.clarity_tested and facts.nature == "mined" and not facts.artificial else True


def _always(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return True


def _warn(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return False


def _handmade(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return None if _has(text, r"machine|by hand control|hand-controlled") else False


def _untreated(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    if facts.untreated_evidence >= LABORATORY:
        return None
    quoted = _has(text, rf"sold to me as[^.;]*{re.escape(words)}") and facts.untreated_evidence >= SAID
    reported = _has(text, rf"(?:reported|according to)[^.;]*{re.escape(words)}")
    return None if quoted or (reported and facts.untreated_evidence >= WRITTEN) else True


def _place(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    if words.lower() in facts.name.lower():
        return None
    if facts.origin_evidence >= LABORATORY:
        return None
    reported = _has(text, r"reported|according to|as stated by")
    return None if reported and facts.origin_evidence >= WRITTEN else True


def _padparadscha(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    spoiled = {"diff_shallow", "diff_deep", "glass", "leadglass", "irr", "irr_heat", "dye", "coat"}
    return None if facts.species_evidence >= LABORATORY and not facts.treatments & spoiled else True


def _copper(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return None if facts.species_evidence >= LABORATORY else True


def _report_colour(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return None if facts.colour_evidence >= LABORATORY else True


def _graded(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return None if _has(text, r"\b(?:system|scale)\b") else True


def _valued(words: str, text: str, facts: Facts, profile: Profile) -> bool | None:
    return True if facts.on_card else None


PLACES: Final = (
    r"burma|burmese|mogok|ceylon|kashmir|colombian?|muzo|brazil(?:ian)?|zambian?|siam|thai(?:land)?|"
    r"madagascar|mahenge|umba|ural|russian?|mozambi(?:que|can)|tanzanian?|sri lankan?|afghan(?:i|istan)?|"
    r"namibian?|nigerian?|ethiopian?|swiss blue|london blue|mali|oregon|persian?|australian?|vietnam(?:ese)?|"
    r"santa maria|cruzeiro|merelani|panjshir|chivor|wollo"
)
"""Names of places by which the trade sells colour; common practice, no source for the list itself."""

CLAIMS_NOTHING: Final = (
    "untreated|unheated|not treated|not heated|no heat|no oil|unoiled|no treatment(?! found)|unenhanced"
)
VALUE_RULE: Final = "16 CFR 23.1; house rule: no value on a card"

MONEY: Final = r"[$€£¥]\s?\d[\d.,]*|\d[\d.,]*\s?(?:eur|usd|gbp|chf|jpy|euros?|dollars?|pounds?)"


@cache
def _rules() -> tuple[_Rule, ...]:
    """The rules, in the order of the FTC sections, then the trade's, then the house's own."""
    gems = gem_names()
    return (
        _Rule(_pattern(r"natural(?! (?:day)?light)"), "16 CFR 23.27; decree 2002-65 art. 4; house rule",
              "Say “mined” on its basis; “natural” only for a mined stone shown to be one, never for untreated.",
              _natural),
        _Rule(_pattern("genuine|real|precious"), "16 CFR 23.27; decree 2002-65 art. 4",
              "Not for anything grown, put together or imitated.", _artificial),
        _Rule(_pattern("semi-?precious|semi precious|semi-précieu(?:x|se)|semi-fine?"),
              "decree 2002-65 art. 5; 16 CFR 23.27", "Name the stone instead.", _semi),
        _Rule(_pattern("cultured|cultivée?|de culture|élevée?"), "16 CFR 23.25(b) note 2; decree 2002-65 art. 4",
              "Write “laboratory-grown” directly before the name.", _cultured),
        _Rule(_pattern("faux"), "16 CFR 23.25(b) note 1", "Write “imitation” directly before the name.", _faux),
        _Rule(_pattern(rf"synthetic\s+(?:{gems})"), "16 CFR 23.25(c)",
              "It lacks the properties of the stone named: write “imitation”.", _synthetic),
        _Rule(_pattern(rf"(?:treated\s+)?(?:{gems})"), "16 CFR 23.25(d)(1)-(2)",
              "A product of gem material and filler is not called by the gem's name, nor “treated”.", _gem_name),
        _Rule(_pattern(rf"(?:composite|hybrid|manufactured)\s+(?:{gems})"), "16 CFR 23.25(d)(4)",
              "Only with both: it has not the same characteristics as the stone named, and it needs special care.",
              _composite, from_memory=True),
        _Rule(_pattern("green amethyst"), "16 CFR 23.26", "Write prasiolite.", _always),
        _Rule(_pattern("yellow emerald"), "16 CFR 23.26", "Write golden beryl or heliodor.", _always),
        _Rule(_pattern("(?:internally )?flawless"), "16 CFR 23.28(a)",
              "Only after a look through a corrected 10x lens that found nothing, recorded; never for an imitation.",
              _flawless),
        _Rule(_pattern("perfect"), "16 CFR 23.28(b)-(c)",
              "It also claims colour and make; describe what you saw instead.", _always),
        _Rule(_pattern("hand-?made|hand[- ]cut|hand-?crafted|precision[- ]cut"), "16 CFR 23.2; house rule",
              "Say how: faceted by hand control on a faceting machine, by whom.", _handmade),
        _Rule(_pattern(CLAIMS_NOTHING),
              "house rule after LMHC 2022",
              "Only on a laboratory report; below it write who reported it, or what you looked for.", _untreated),
        _Rule(_pattern("certificate|certified|certify"), "house rule after GIA's request to say report",
              "This is your own statement: call it an information card.", _warn),
        _Rule(_pattern(r"a{2,5}\+?|grade\s+[a-d]\+?|[a-d]\+?\s+grade|gem grade|top grade"), "16 CFR 23.1 note 1",
              "Name the grading system and what the grade means in it, or leave the grade out.", _graded),
        _Rule(_pattern(PLACES), "16 CFR 23.1; house rule",
              "State origin by itself, on at least a written statement: “reported origin …”.", _place),
        _Rule(_pattern("padparadscha"), "LMHC information sheet 4; house rule",
              "Only on a laboratory report, and never with diffusion, filling, irradiation, dye or coating.",
              _padparadscha),
        _Rule(_pattern("para[ií]ba"), "LMHC information sheet 6; house rule",
              "Only on a laboratory report of copper; write copper-bearing tourmaline.", _copper, from_memory=True),
        _Rule(_pattern(r"pigeon'?s?[ -]blood|royal blue|cornflower(?: blue)?|imperial"), "house rule",
              "No common standard: only as quoted from a named laboratory report.", _report_colour),
        _Rule(_pattern(rf"{MONEY}|apprais(?:al|ed)|retail value|market value|worth"), VALUE_RULE,
              "A card carries no price or value; those stand in a listing, an invoice or an appraisal.", _valued),
        _Rule(_pattern("investment|guaranteed value|rare|rarest"), "house rule",
              "A claim about value or rarity does not belong on a card.", _warn),
        _Rule(_pattern(r"healing|chakras?|cures?|protects? (?:from|against)"), "house rule",
              "No claim of health or safety.", _always, from_memory=True),
        _Rule(_pattern("conflict-free|ethically|ethical|sustainabl[ey]|eco-friendly|fair-?mined"),
              "16 CFR 260; house rule", "State the facts instead: mine, dealer, record.", _warn),
    )  # fmt: skip


CODES: Final = frozenset(
    ["N", "E", "H", "HP", "B", "C", "D", "F", "I", "O", "L", "R", "U", "W", "G", "S", "ASBL", "SYN", "IMIT"]
)
"""Letters of the AGTA Gemstone Information Manual in the editions read; V, A and FH are none of its own."""


def code_findings(code: str, *, edition: str, words: str) -> list[Finding]:
    """What is wrong with a trade letter code: an unknown letter, no edition, or no plain words beside it.

    Codes only ever print beside plain words and with the edition of their list, because the same letter changed
    its meaning (F, I, O, R). Sources: copies of the manual <https://raleydesignstudios.com/pages/gemstone-enhancements>,
    <https://www.johndyergems.com/agta_codes.html>; that a code alone is no disclosure
    <https://www.gemsociety.org/article/gemstone-treatment-codes/>.

    >>> [found.advice for found in code_findings("V", edition="2014", words="coated")]
    ['No such letter in the list.']
    """
    found = [
        Finding(True, "AGTA Gemstone Information Manual", letter, "No such letter in the list.")
        for letter in code.split()
        if letter not in CODES
    ]
    if code and not edition.strip():
        found.append(Finding(True, "AGTA Gemstone Information Manual", code, "Name the edition of the list."))
    if code and not words.strip():
        found.append(Finding(True, "16 CFR 23.24", code, "A code alone discloses nothing: add plain words."))
    return found
