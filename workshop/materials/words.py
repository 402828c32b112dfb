"""Words that may not stand in a public text, and why: a linter over what people type and what we compose.

Each rule names where it comes from. The FTC Guides for the Jewelry, Precious Metals, and Pewter Industries
(16 CFR Part 23, numbering of 2018) are the Commission's view, not a statute; the French decree 2002-65 binds in
France; CIBJO's books are a voluntary trade standard. Rules without a published source are the house's own and
say so. Nothing here is legal advice: local law and the user's adviser come first.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Final

from workshop.handbook import tables
from workshop.handbook.weights import weight_statement_faults

from .names import gem_names, name_rules
from .plain import TURNING, plain, with_nothing_hidden
from .ruling import (
    ARTIFICIAL,
    FILLER_BONDED,
    GEMMOLOGIST,
    LABORATORY,
    SAID,
    TESTED,
    WRITTEN,
    Facts,
    Finding,
    Place,
    Profile,
    Rule,
    always,
    pattern,
    warn,
)

__all__ = [
    "ARTIFICIAL", "FILLER_BONDED", "GEMMOLOGIST", "LABORATORY", "SAID", "TESTED", "VALUE_RULE", "WRITTEN", "Facts",
    "Finding", "Profile", "all_rules", "code_findings", "gem_names", "lint",
]  # fmt: skip


def lint(text: str, facts: Facts, profile: Profile = Profile.STRICT) -> list[Finding]:
    """All that is wrong with a text that goes before a buyer; an empty list when nothing is.

    >>> [(found.blocks, found.words) for found in lint("faux sapphire", Facts(nature="mined"))]
    [(True, 'faux')]
    """
    seen = plain(text)
    found = [finding for rule in all_rules() for finding in rule.findings(seen, facts, profile)]
    weights = weight_statement_faults(with_nothing_hidden(text), weighed_ct=facts.weighed_ct)
    found += [Finding(True, fault.rule, fault.words, fault.advice) for fault in weights]
    return found + _turned(text)


def _turned(text: str) -> list[Finding]:
    if not TURNING.search(text):
        return []
    advice = "Take out the marks that turn the direction of reading: what is shown is not what is written."
    return [Finding(True, "house rule", "hidden direction marks", advice)]


def _artificial(place: Place, facts: Facts, profile: Profile) -> bool | None:
    return True if facts.artificial else None


def _natural(place: Place, facts: Facts, profile: Profile) -> bool | None:
    return None if facts.nature == "mined" and facts.natural_shown and not facts.artificial else True


def _semi(place: Place, facts: Facts, profile: Profile) -> bool | None:
    if facts.artificial or profile in {Profile.FRANCE, Profile.STRICT}:
        return True
    return False if profile is Profile.CIBJO else None


def _flawless(place: Place, facts: Facts, profile: Profile) -> bool | None:
    return None if facts.clarity_tested and facts.nature == "mined" and not facts.artificial else True


def _perfect(place: Place, facts: Facts, profile: Profile) -> bool | None:
    """Flawless and more: even where the lens found nothing it also speaks of colour and make."""
    return bool(_flawless(place, facts, profile))


def _clean_to(place: Place, facts: Facts, profile: Profile) -> bool | None:
    if "loupe" in place.words or "lens" in place.words:
        return None if facts.clarity_tested else False
    return None if place.has(r"\d ?(?:cm|mm|centimet|inch)|arm's length|reading distance") else False


def _handmade(place: Place, facts: Facts, profile: Profile) -> bool | None:
    return None if place.has(r"machine|by hand control|hand controlled") else False


def _untreated(place: Place, facts: Facts, profile: Profile) -> bool | None:
    if facts.untreated_evidence >= LABORATORY:
        return None
    words = re.escape(place.words)
    quoted = place.has(rf"sold to me as[^.;]*{words}") and facts.untreated_evidence >= SAID
    reported = re.search(r"(?:reported|according to)[^.;]*$", place.before) is not None
    return None if quoted or (reported and facts.untreated_evidence >= WRITTEN) else True


@cache
def _handbook_names() -> frozenset[str]:
    return frozenset(plain(row.name).text for row in tables.materials())


def _sells_by_place(place: Place) -> bool:
    """In a letter a place may be where the parcel goes; before a stone, a colour or a type it is an origin."""
    things = rf"{gem_names()}|gems?|stones?|rough|colou?rs?|blue|red|green|pink|yellow|type|quality|origin"
    before = r"(?:origin|mined in|found in|comes? from)(?: \w+)?:? $"
    return bool(
        re.match(rf"(?: \w+){{0,2}} (?:{things})(?!\w)", place.after) or re.search(before, place.before)
    )


def _place(place: Place, facts: Facts, profile: Profile) -> bool | None:
    name = plain(facts.name).text
    if name in _handbook_names() and place.words in name:
        return None
    if not facts.on_card and not _sells_by_place(place):
        return False
    if facts.origin and not _same_place(place.words, plain(facts.origin).text):
        return True
    if facts.origin_evidence >= LABORATORY:
        return None
    reported = place.has(r"reported|according to|as stated by|by the cutter's own record|in the opinion of")
    return None if reported and facts.origin_evidence >= WRITTEN else True


#: Names of one place or of parts of it; common geography.
_ONE_PLACE: Final = (
    ("burma", "burmese", "myanmar", "mogok"), ("ceylon", "sri lanka", "sri lankan"), ("siam", "thai"),
    ("colombia", "muzo", "chivor"), ("tanzania", "merelani", "umba", "mahenge"), ("afghan", "panjshir"),
    ("russia", "ural"), ("ethiopia", "wollo"), ("brazil", "santa maria", "cruzeiro"), ("kashmir", "india", "pakistan"),
)  # fmt: skip


def _same_place(words: str, origin: str) -> bool:
    kin = [name for names in _ONE_PLACE if any(words.startswith(name) for name in names) for name in names]
    return any(name in origin for name in (words, words[:5], *kin))


def _padparadscha(place: Place, facts: Facts, profile: Profile) -> bool | None:
    spoiled = {"diff_shallow", "diff_deep", "glass", "leadglass", "irr", "irr_heat", "dye", "coat"}
    fit = facts.species_evidence >= LABORATORY and not facts.artificial
    return None if fit and not facts.treatments & spoiled else True


def _copper(place: Place, facts: Facts, profile: Profile) -> bool | None:
    return None if facts.species_evidence >= LABORATORY else True


def _report_colour(place: Place, facts: Facts, profile: Profile) -> bool | None:
    return None if facts.colour_evidence >= LABORATORY else True


def _graded(place: Place, facts: Facts, profile: Profile) -> bool | None:
    return None if place.has(r"(?<!\w)(?:system|scale|munsell)(?!\w)") else True


def _valued(place: Place, facts: Facts, profile: Profile) -> bool | None:
    return True if facts.on_card else None


PLACES: Final = (
    r"burma|burmese|myanmar|mogok|ceylon|kashmir|colombian?|muzo|brazil(?:ian)?|zambian?|siam(?:ese)?|thai(?:land)?|"
    r"madagascar|mahenge|umba|ural(?:ian)?|russian?|mozambi(?:que|can)|tanzanian?|sri lankan?|afghan(?:i|istan)?|"
    r"namibian?|nigerian?|ethiopian?|swiss blue|london blue|mali|oregon|persian?|australian?|vietnam(?:ese)?|"
    r"santa maria|cruzeiro|merelani|panjshir|chivor|wollo"
)
"""Names of places by which the trade sells colour; common practice, no source for the list itself."""

CLAIMS_NOTHING: Final = (
    r"(?:un|non) ?(?:treated|heated|oiled|enhanced|irradiated|filled|dyed|coated|diffused)|"
    r"(?:not|never|no|without|free (?:of|from)) (?:any )?(?:been )?"
    r"(?:treated|heated|oiled|enhanced|irradiated|heat(?:ing)?|oil(?:ing)?|"
    r"treatments?(?! found)|enhancements?|fillers?)"
    r"(?! found)|(?:treatment|oil|heat|enhancement) free|natural colou?rs?|untouched|all natural|"
    r"non traitee?s?|non chauffee?s?"
)
VALUE_RULE: Final = "16 CFR 23.1; house rule: no value on a card"

MONEY: Final = r"[$€£¥] ?\d[\d.,]*|\d[\d.,]* ?(?:eur|usd|gbp|chf|jpy|euros?|dollars?|pounds?|[$€£¥])"


@cache
def all_rules() -> tuple[Rule, ...]:
    """The rules: names first, then the other FTC sections, then the trade's, then the house's own."""
    return (*name_rules(), *_rules_of_worth(), *_rules_of_evidence(), *_rules_of_the_house())


def _rules_of_worth() -> tuple[Rule, ...]:
    return (
        Rule(pattern(r"natural(?:ly)?(?! (?:day)?light)|naturel(?:les?|s)?"), "natural",
             "blocks unless mined and shown to be so by its evidence",
             "16 CFR 23.27; decree 2002-65 art. 4; house rule",
             "Say “mined” on its basis; “natural” only for a mined stone shown to be one, never for untreated.",
             _natural, ("cfr27", "fr4", "cibjo2017")),
        Rule(pattern("genuine|real|precious|veritables?|vraie?s?|precieu(?:x|ses?)|pierres? fines?"),
             "genuine, real, precious", "blocks for what was made", "16 CFR 23.27; decree 2002-65 art. 4",
             "Not for anything grown, put together or imitated.", _artificial, ("cfr27", "fr4")),
        Rule(pattern("semi ?precious|semi ?precieu(?:x|ses?)|semi ?fine?s?"), "semi-precious",
             "blocks under France and strict, and for what was made; warns under CIBJO (from memory)",
             "decree 2002-65 art. 5; 16 CFR 23.27", "Name the stone instead.", _semi, ("fr5", "cfr27")),
        Rule(pattern("(?:internally )?flawless"), "flawless, internally flawless",
             "blocks without a recorded look through a 10x lens, and for what was made", "16 CFR 23.28(a)",
             "Only after a look through a corrected 10x lens that found nothing, recorded; never for an imitation.",
             _flawless, ("cfr28",)),
        Rule(pattern("perfect(?:ly)?|perfection"), "perfect",
             "blocks as flawless does; warns even where the lens found nothing", "16 CFR 23.28(b)-(c)",
             "It also claims colour and make; describe what you saw instead.", _perfect, ("cfr28",)),
        Rule(pattern("(?:eye|loupe|lens) ?clean"), "eye clean, loupe clean",
             "warns without the distance, or without a recorded look at 10x", "house rule after 16 CFR 23.28",
             "Say how you looked: eye clean at 25 cm; nothing seen at 10x.", _clean_to, ("cfr28",)),
        Rule(pattern("hand ?made|hand ?cut|hand ?crafted|hand ?polished|hand ?finished|precision ?cut"),
             "handmade, hand-cut, precision-cut", "warns without how it was made", "16 CFR 23.2; house rule",
             "Say how: faceted by hand control on a faceting machine, by whom.", _handmade, ("cfr2",)),
    )  # fmt: skip


def _rules_of_evidence() -> tuple[Rule, ...]:
    return (
        Rule(pattern(CLAIMS_NOTHING), "untreated, unheated, no oil, natural colour",
             "blocks below a laboratory report; reported in writing it may be reported", "house rule after LMHC 2022",
             "Only on a laboratory report; below it write who reported it, or what you looked for.", _untreated,
             ("lmhc2022", "ssef")),
        Rule(pattern("certif(?:icates?|ied|y|ies|ication|iable)"),
             "certificate, certified",
             "warns: the paper is the seller's own", "house rule after GIA's request to say report",
             "This is your own statement: call it an information card.", warn, ("gia_report",)),
        Rule(pattern(r"a{2,5}\+?|[1-9]a|triple a|grade (?:[a-d]|[1-9])\+?|[a-d]\+? grade|"
                     r"(?:gem|top|collector'?s?|investment) grade|"
                     r"vvs ?[12]?|vs ?[12]|si ?[123]|\w{0,2}\d(?:\.\d)?/\d{1,2}(?= hue| colou?r| tone)"),
             "AAA, grade A, VVS and other grades", "blocks without a named system", "16 CFR 23.1 note 1",
             "Name the grading system and what the grade means in it, or leave the grade out.", _graded, ("cfr1",)),
        Rule(pattern(PLACES), "Burma, Ceylon, Kashmir and other places",
             "blocks below a written origin, or where another place is stated; written it stands as reported",
             "16 CFR 23.1; house rule", "State origin by itself, on at least a written statement: “reported origin …”.",
             _place, ("cfr1", "igl", "cdn")),
        Rule(pattern("padparadschas?"), "padparadscha",
             "blocks without a laboratory report, and with diffusion, filling, irradiation, dye or coating",
             "LMHC information sheet 4; house rule",
             "Only on a laboratory report, and never with diffusion, filling, irradiation, dye or coating.",
             _padparadscha, ("jck_pad", "lmhc2018")),
        Rule(pattern("paraibas?"), "paraíba", "blocks without a laboratory report of copper",
             "LMHC information sheet 6; house rule",
             "Only on a laboratory report of copper; write copper-bearing tourmaline.", _copper, ("jck_paraiba",),
             from_memory=True),
        Rule(pattern(r"pigeon'?s? blood|royal blue|cornflower(?: blue)?|imperial|vivid"),
             "pigeon's blood, royal blue, cornflower, imperial",
             "blocks unless a laboratory report says so", "house rule",
             "No common standard: only as quoted from a named laboratory report.", _report_colour, ("igl",)),
        Rule(pattern(r"(?:agta|enhancement|treatment) codes?(?: is| are)? ?[:=]? ?[a-z]{1,2}"),
             "a trade letter code in a text",
             "blocks: codes stand in their own line, beside plain words and with the edition",
             "AGTA Gemstone Information Manual",
             "Leave the code out here; the card has a line for it beside the plain words.", always, ("codes",)),
    )  # fmt: skip


def _rules_of_the_house() -> tuple[Rule, ...]:
    return (
        Rule(pattern(rf"{MONEY}|apprais(?:als?|ed)|(?:retail|market|insurance) values?|worth"),
             "a price or a value", "blocks on a card; passes in a listing or an invoice", VALUE_RULE,
             "A card carries no price or value; those stand in a listing, an invoice or an appraisal.", _valued,
             ("cfr1", "jcrs")),
        Rule(pattern("investments?|guaranteed values?|rare|rarest|rarity"), "investment, guaranteed value, rare",
             "warns", "house rule", "A claim about value or rarity does not belong on a card.", warn, ("cfr1",)),
        Rule(pattern(r"heal(?:s|ing)|chakras?|cures?|protects? (?:from|against)"),
             "healing and safety",
             "blocks", "house rule", "No claim of health or safety.", always, from_memory=True),
        Rule(pattern("conflict free|ethical(?:ly)?|sustainab(?:le|ly)|eco friendly|"
                     "fair ?mined|responsibly|carbon neutral"),
             "conflict-free, ethical, sustainable", "warns", "16 CFR 260; house rule",
             "State the facts instead: mine, dealer, record.", warn, ("jck2019",)),
    )  # fmt: skip


CODES: Final = frozenset(
    ["N", "E", "H", "HP", "B", "C", "D", "F", "I", "O", "L", "R", "U", "W", "G", "S", "ASBL", "SYN", "IMIT"]
)
"""Letters of the AGTA Gemstone Information Manual in the editions read; V, A and FH are none of its own."""


def code_findings(code: str, *, edition: str, words: str, facts: Facts | None = None) -> list[Finding]:
    """What is wrong with a trade letter code: an unknown letter, no edition, or no plain words beside it.

    Codes only ever print beside plain words and with the edition of their list, because the same letter changed
    its meaning (F, I, O, R). With ``facts`` the letters must say what the statements say, and N, the seller's
    guarantee that nothing was done, needs a laboratory report. Sources: copies of the manual
    <https://raleydesignstudios.com/pages/gemstone-enhancements>,
    <https://www.johndyergems.com/agta_codes.html>; that a code alone is no disclosure
    <https://www.gemsociety.org/article/gemstone-treatment-codes/>; N <http://gemoptions.com/gemstone_grades/pageone.htm>.

    >>> [found.advice for found in code_findings("V", edition="2014", words="coated")]
    ['No such letter in the list.']
    """
    manual, letters = "AGTA Gemstone Information Manual", code.split()
    found = [
        Finding(True, manual, letter, "No such letter in the list.")
        for letter in letters
        if letter not in CODES
    ]
    if code and not edition.strip():
        found.append(Finding(True, manual, code, "Name the edition of the list."))
    if code and not words.strip():
        found.append(Finding(True, "16 CFR 23.24", code, "A code alone discloses nothing: add plain words."))
    return found + (_letters_against(letters, facts) if facts is not None else [])


def _letters_against(letters: list[str], facts: Facts) -> list[Finding]:
    """Letters that say something else of the stone than its statements do."""
    manual, fit = "AGTA Gemstone Information Manual", _fitting(facts)
    found = [
        Finding(
            True, manual, letter, f"{letter} says something else than the statements about this stone do."
        )
        for letter in letters
        if letter in CODES - {"N"} - fit
    ]
    if "N" in letters and (facts.treatments or facts.artificial or facts.untreated_evidence < LABORATORY):
        advice = "N guarantees that nothing was done: only on a laboratory report that says so."
        found.append(Finding(True, "house rule: the code N", "N", advice))
    return found


def _fitting(facts: Facts) -> set[str]:
    """The letters of what was done, those of older editions among them; E is "routinely enhanced" in most."""
    fit = {letter for key in facts.treatments for letter in re.findall(r"[A-Z]+", tables.treatment(key).code)}
    fit |= {"E"} if facts.treatments else set()
    fit |= {"G"} if facts.treatments & {"irr", "irr_heat"} else set()
    fit |= {"S"} if "impreg" in facts.treatments else set()
    natures = {"grown": {"SYN"}, "imitation": {"IMIT"}, "assembled": {"ASBL"}}
    return fit | natures.get(facts.nature, set())
