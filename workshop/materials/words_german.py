"""The word linter for German: which German words say what English words say, and so fall under the same rule.

A rule has one home, the English one in ``words``. A German word that breaks it is judged by its English twin, with
what German says around it (reported, sold as, system ...) said in English beside it; rule, advice and doubt are the
twin's. Where the source of the rule gives no German text, which is nearly always (16 CFR 23 is English, decree
2002-65 French), the finding says that the words are our own translation.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

from django.utils import translation

from workshop.handbook.tables import materials

from .names import MORE_NAMES
from .naming import called
from .words import Facts, Finding, Profile, lint

OWN: Final = "; our own translation"

Twin = str | Callable[[str], str]
"""The English words for what was found, or how they follow from it."""


@dataclass(frozen=True)
class German:
    """German words, and the English ones they are judged by."""

    pattern: re.Pattern[str]
    twin: Twin
    from_memory: bool = False


#: What the same clause says, and what English says for it.
IN_CLAUSE: Final = (
    (r"\bals\b.*\bverkauft|\bverkauft\b.*\bals\b", "sold to me as"),
    (r"\blaut\b|\bangegeben|\bnach angabe", "reported"),
)
#: What the whole text says.
IN_TEXT: Final = (
    (r"nicht die(?:selben|\s+gleichen) eigenschaften", "not the same characteristics"),
    (r"besondere pflege", "special care"),
    (r"zusammengesetzt|dublette|triplette", "assembled"),
    (r"(?<!un)behandelt", "treated"),
    (r"(?<!un)erhitzt", "heat treated"),
    (r"bestrahlt", "irradiated"),
    (r"gefärbt", "dyed"),
    (r"beschichtet", "coated"),
    (r"diffusion", "diffusion"),
    (r"glasgefüllt|glas gefüllt|mit glas", "glass"),
    (r"harz", "resin"),
    (r"stabilisiert|imprägniert", "stabilised"),
    (r"laser", "laser"),
    (r"unter druck|hochdruck|druckerhitzt", "pressure"),
    (r"flussmittel", "flux"),
    (r"rückst[aä]nd", "residue"),
    (r"\b(?:system|skala|bewertungssystem)\b", "system"),
    (r"maschine|von hand (?:geführt|gesteuert)", "machine"),
)
#: What stands directly before the name.
BEFORE: Final = (
    (r"\bimitation|\bimitiert|\bnachgeahmt", "imitation"),
    (r"synthetisch", "synthetic"),
    (r"laborgezüchtet|im labor gezüchtet", "laboratory-grown"),
    (r"\brekonstruiert", "reconstructed"),
)

PLACES: Final = {
    "b[iu]rma": "burma", "burmesisch": "burmese", "mogok": "mogok", "ceylon": "ceylon", "sri[- ]lanka": "sri lanka",
    "kaschmir": "kashmir", "kolumbi": "colombia", "muzo": "muzo", "brasili": "brazil", "sambi": "zambia",
    "siam": "siam", "thailän|thai": "thailand", "madagas": "madagascar", "mahenge": "mahenge", "umba": "umba",
    "ural": "ural", "russi": "russia", "mosambi": "mozambique", "tansani": "tanzania", "afghan": "afghanistan",
    "namibi": "namibia", "nigeri": "nigeria", "äthiopi": "ethiopia", "oregon": "oregon", "persi": "persia",
    "austral": "australia", "vietnam": "vietnam", "chivor": "chivor", "pandschir|panjshir": "panjshir",
}  # fmt: skip
"""Beginnings of places by which the trade sells colour, in German compounds and adjectives too (Ceylon-Saphir)."""


def lint_german(text: str, facts: Facts, profile: Profile = Profile.STRICT) -> list[Finding]:
    """All that is wrong with a German text that goes before a buyer, by the rules for English.

    >>> [(found.blocks, found.words) for found in lint_german("Halbedelstein", Facts(natural_shown=True))]
    [(True, 'Halbedelstein')]
    """
    found = [finding for rule in _rules() for finding in _judge(rule, text, facts, profile)]
    return list(dict.fromkeys(found))


def with_points(text: str) -> str:
    """A German text with its points, carats and ranges in the words the handbook's check of weights reads.

    >>> with_points("25 Punkte (0,25 Karat)")
    '25 points (0,25 ct)'
    """
    for german, english in (
        (r"\bmir verkauft als\b", "sold to me as"),
        (r"(?<=\d)\s*-?(?:ct-)?punkte?n?\b", " points"),
        (r"(?<=\d)\s*-?pkt\b\.?", " points"),
        (r"\bhalb(?:e[rs]?)?(?=\s*-?karat)", "half"),
        (r"\bviertel(?=\s*-?karat)", "1/4 "),
        (r"-?\bkarat(?:er)?\b|(?<=viertel)karat(?:er)?\b|(?<=halb)karäter\b", "ct"),
        (r"\bgewicht (?:ist )?nicht (?:genau|exakt)\b", "weight not exact"),
        (r"(?<=\d)\s+bis\s+(?=\d)", " to "),
    ):
        text = re.sub(german, english, text, flags=re.IGNORECASE)
    return text


def _judge(rule: German, text: str, facts: Facts, profile: Profile) -> Iterator[Finding]:
    for match in rule.pattern.finditer(text):
        words = match[0].strip()
        clause = _clause(text, match.start(), match.end())
        beside = [said for pattern, said in IN_CLAUSE if re.search(pattern, clause, re.IGNORECASE)]
        beside += [said for pattern, said in IN_TEXT if re.search(pattern, text, re.IGNORECASE)]
        directly = re.split(r"[,.;:()]", text[: match.start()])[-1]
        nearest = [said for pattern, said in BEFORE if re.search(pattern, directly, re.IGNORECASE)]
        twin = rule.twin if isinstance(rule.twin, str) else rule.twin(words)
        # The words that excuse stand before the twin, the nearest last, as English sentences have them.
        english = " ".join([*reversed(beside), *nearest, twin])
        for finding in lint(english, facts, profile):
            yield replace(
                finding,
                words=words,
                rule=finding.rule + OWN,
                from_memory=finding.from_memory or rule.from_memory,
            )


def _clause(text: str, start: int, end: int) -> str:
    before = re.split(r"[.;](?=\s)", text[:start])[-1]
    return before + text[start:end] + re.split(r"[.;](?:\s|$)", text[end:])[0]


def _place(words: str) -> str:
    found = (english for german, english in PLACES.items() if re.match(german, words, re.IGNORECASE))
    return next(found, words)


def _german(words: str, twin: Twin, *, from_memory: bool = False) -> German:
    pattern = re.compile(rf"(?<![\w-])(?:{words})(?![\w-])", re.IGNORECASE)
    return German(pattern, twin, from_memory)


@cache
def gem_names() -> str:
    """The bare German names of gems, longest first, as a pattern."""
    with translation.override("de"):
        names = {
            called(one.name) for one in materials() if not one.is_man_made and "corundum" not in one.name
        }
        names |= {called(name) for name in MORE_NAMES}
    return "|".join(re.escape(name) for name in sorted(names, key=lambda name: (-len(name), name)))


def is_gem_name(words: str) -> bool:
    """Whether the words are the German name of a gem, which many an English one is too."""
    return re.fullmatch(rf"(?:{gem_names()})(?:e?s|e)?", words.strip(), re.IGNORECASE) is not None


def _english_name(words: str) -> str:
    """The gem a German name means; behind "behandelt" it is a treated one."""
    treated = "treated " if words.lower().startswith("behandelt") else ""
    said = re.sub(r"^behandelt\w*\s+", "", words.lower())
    with translation.override("de"):
        known = {called(one.name).lower(): one.name for one in materials() if not one.is_man_made}
        known |= {called(name).lower(): name for name in MORE_NAMES}
    found = next(
        (name for german, name in known.items() if re.fullmatch(rf"{re.escape(german)}(?:e?s|e)?", said)), ""
    )
    return treated + (found or "ruby")


#: Endings of a German adjective.
E: Final = r"(?:e[rsnm]?)?"


@cache
def _rules() -> tuple[German, ...]:
    """In the order of their English twins."""
    gems = rf"(?:{gem_names()})(?:e?s|e)?"
    return (
        _german(rf"natürlich{E}(?! (?:tages)?licht)|natur(?:stein|belassen{E}|rubin|saphir|smaragd|edelstein)e?s?",
                "natural"),
        _german(rf"echt{E}|wirklich{E}|kostbar{E}|authentisch{E}|original{E}|echtheit", "genuine"),
        _german(rf"halbedelsteine?[ns]?|halbedel{E}|halb-edelsteine?", "semi-precious"),
        _german(rf"zucht(?:stein|rubin|saphir|smaragd)\w*|kultiviert{E}|(?<!im labor )gezüchtet{E}", "cultured"),
        _german(rf"unecht{E}|falsch{E} (?:{gems})", "faux"),
        _german(rf"synthetisch{E}\s+(?:{gems})", "synthetic ruby"),
        # Behind a bracket stands the species of the name before it.
        _german(rf"(?<!\()(?:behandelt{E}\s+)?(?:{gems})", _english_name),
        _german(rf"(?:zusammengesetzt{E}|hybrid{E}|hergestellt{E})\s+(?:{gems})|(?:komposit|hybrid)-?(?:{gems})",
                "composite ruby"),
        _german(rf"grün{E}[ -]amethyste?s?", "green amethyst"),
        _german(rf"gelb{E}[ -]smaragde?s?", "yellow emerald"),
        _german(rf"lupenrein{E}|makellos{E}|fehlerfrei{E}|fehlerlos{E}|lupenreinheit", "flawless"),
        _german(rf"perfekt{E}|vollkommen{E}|einwandfrei{E}", "perfect"),
        _german(rf"handgeschliffen{E}|handgefertigt{E}|handgemacht{E}|handarbeit|handschliff|präzisionsschliff",
                "hand-cut"),
        _german(rf"unbehandelt{E}|unerhitzt{E}|ungebrannt{E}|ungeölt{E}|naturbelassen{E}|nicht (?:behandelt|erhitzt|"
                rf"gebrannt|geölt){E}|kein(?:e|em|er)? (?:öl|erhitzung)|(?:keine|ohne) behandlung(?! gefunden)",
                "untreated"),
        _german(rf"(?:echtheits)?zertifikate?s?|zertifiziert{E}|zertifizierung", "certificate"),
        _german(r"(?:spitzen|top|best|premium)qualität|beste qualität|güteklasse\s*\w*|qualität(?:sstufe)?\s+[a-d]\+?",
                "grade A"),
        German(re.compile(rf"(?<![\w-])(?:{'|'.join(PLACES)})\w*", re.IGNORECASE), _place),
        _german(rf"taubenblut\w*|königsblau{E}|kornblumenblau{E}", "royal blue"),
        _german(r"schätzwert\w*|verkehrswert\w*|marktwert\w*|wiederbeschaffungswert\w*|ladenpreis\w*|verkaufspreis\w*",
                "market value"),
        _german(rf"(?:wert|kapital)anlage\w*|wertbeständig{E}|wertsteigerung|selten{E}|rarität|seltenheit", "rare"),
        _german(rf"heil(?:stein|wirkung|kraft|kräfte)\w*|heilend{E}|chakr\w+|schützt (?:vor|gegen)", "healing",
                from_memory=True),
        _german(rf"konfliktfrei{E}|ethisch{E}|nachhaltig{E}|umweltfreundlich{E}|fair gehandelt{E}", "conflict-free"),
    )  # fmt: skip
