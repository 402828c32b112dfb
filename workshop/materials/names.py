"""Names of gems in a public text: what may be called by a gem's name, and what has to stand before it.

16 CFR 23.25 and 23.26, the French decree 2002-65 art. 1 to 4, CIBJO's classes of products. The words are looked for
in a plain text (``plain.py``): small letters, no accents, a space for every hyphen.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Final

from workshop.handbook import tables

from .plain import plain
from .ruling import FILLER_BONDED, Facts, Place, Profile, Rule, always, pattern

LAB_WORDS: Final = r"(?:laboratory|lab) ?(?:grown|created)"
GROWN_WORDS: Final = rf"{LAB_WORDS}|synthetic|(?!(?:hand|nature|newly|custom|artist) )[\w&']+ created"
#: Of the words for a grown stone the decree knows one.
FRENCH_WORD: Final = "synthetic|synthetique"
IMITATION_WORDS: Final = r"imitation|simulated"
ASSEMBLED_WORDS: Final = r"assembled|put together of parts|composite|doublets?|triplets?|hybrid|manufactured"
BONDED_WORDS: Final = r"composite|hybrid|manufactured|reconstructed"
QUALIFIED: Final = (
    rf"{GROWN_WORDS}|{IMITATION_WORDS}|{ASSEMBLED_WORDS}|{BONDED_WORDS}|grown in a laboratory|product of"
)
NOT_THE_SAME: Final = r"not (?:have )?the same characteristics"
SPECIAL_CARE: Final = r"special care"

#: Gems named in the trade besides the rows of the materials table; common practice, no source for the list.
MORE_NAMES: Final = frozenset(
    ["ruby", "sapphire", "emerald", "turquoise", "opal", "garnet", "jade", "jadeite", "nephrite", "heliodor", "onyx",
     "quartz", "padparadscha", "pearl", "coral", "bloodstone", "lapis", "paraiba tourmaline", "star ruby",
     "star sapphire", "cat's eye"]
)  # fmt: skip

#: A gem's name in the name of a cut, a tool or a colour of its own is not the name of the stone.
NOT_A_NAME: Final = (
    r" (?:cut|cuts|shaped?|lap|laps|grit|paste|powder|polish|tools?|drill|saw|blade|scale|testers?)(?!\w)"
)

#: What has to be said of a treatment wherever the stone is named under the French decree (art. 1 and 2), and of glass
#: everywhere: any of these words.
TREATED_WORDS: Final = {
    "heat_residue": r"residue|heat treated",
    "flux_heal": r"flux",
    "hp": r"pressure",
    "diff_shallow": r"diffusion",
    "diff_deep": r"diffusion",
    "irr": r"irradiated",
    "irr_heat": r"irradiated",
    "dye": r"dyed",
    "coat": r"coated",
    "glass": r"glass",
    "impreg": r"stabili[sz]ed|impregnated",
    "laser": r"laser",
    "resin": r"resin",
}


@cache
def gem_names() -> str:
    """The bare names of gems and their plurals, longest first, as a pattern over plain text."""
    rows = {plain(one.name).text for one in tables.materials() if not one.is_man_made}
    names = {name for name in rows if "corundum" not in name} | MORE_NAMES
    plurals = {_with_plural(name) for name in names}
    return "|".join(sorted(plurals, key=lambda name: (-len(name), name)))


def _with_plural(name: str) -> str:
    known = re.escape(name).replace("\\ ", " ")
    return f"{known[:-1]}(?:y|ies)" if name.endswith("y") else f"{known}(?:e?s)?"


def _told_both(place: Place) -> bool:
    return place.has(NOT_THE_SAME) and place.has(SPECIAL_CARE)


def _just_before(place: Place, words: str) -> bool:
    return re.search(rf"(?<!\w)(?:{words}),? $", place.before) is not None


def _is_no_name(place: Place) -> bool:
    """A cut or a tool; the species in brackets behind a name; or the name's own longer form."""
    if re.match(NOT_A_NAME, place.after):
        return True
    return place.before.endswith("(") and re.search(rf"(?:{gem_names()}) \($", place.before) is not None


def bare_name(place: Place, facts: Facts, profile: Profile) -> bool | None:
    """A gem's name over something grown, filled, put together or imitated, without what has to stand before it."""
    if _is_no_name(place):
        return None
    if facts.bonded:
        return _bonded(place, facts, profile)
    if facts.nature == "grown":
        fit = _just_before(place, _grown_words(profile)) or _french_after(place, "synthetique")
        return None if fit or _is_cultured_with_its_words(place, profile) else True
    if facts.nature == "imitation":
        return None if _just_before(place, IMITATION_WORDS) or _french_after(place, "d'imitation") else True
    if facts.nature == "assembled":
        told = re.search(rf"(?<!\w)(?:{ASSEMBLED_WORDS})(?!\w)", place.sentence_before)
        after = re.match(r" (?:doublet|triplet)", place.after) and profile in {Profile.US, Profile.CIBJO}
        return None if told or after else True
    return _treated(place, facts, profile)


def _grown_words(profile: Profile) -> str:
    return FRENCH_WORD if profile is Profile.FRANCE else f"{GROWN_WORDS}|{FRENCH_WORD}"


def _is_cultured_with_its_words(place: Place, profile: Profile) -> bool:
    """16 CFR 23.25(b) note 2; elsewhere the rule on "cultured" stops it anyway."""
    return profile is Profile.US and _just_before(place, "cultured") and place.has(LAB_WORDS)


def _french_after(place: Place, word: str) -> bool:
    return place.after.startswith(f" {word}")


def _bonded(place: Place, facts: Facts, profile: Profile) -> bool | None:
    wants_both = bool(facts.treatments & FILLER_BONDED) or profile in {Profile.US, Profile.STRICT}
    if wants_both and not _told_both(place):
        return True
    again = place.has(rf"(?:{BONDED_WORDS}) (?:{gem_names()})") and _is_compared(place)
    return None if _just_before(place, BONDED_WORDS) or again else True


def _is_compared(place: Place) -> bool:
    """ "… does not have the same characteristics as ruby": the name of what it is not."""
    return re.search(rf"{NOT_THE_SAME} as (?:an? )?$", place.before) is not None


def _treated(place: Place, facts: Facts, profile: Profile) -> bool | None:
    missing = [
        words for key, words in TREATED_WORDS.items() if key in facts.treatments and not place.has(words)
    ]
    if not missing:
        return None
    if "glass" in facts.treatments and not place.has(TREATED_WORDS["glass"]):
        return True
    french = profile in {Profile.FRANCE, Profile.STRICT}
    return True if french and not place.has(r"(?<!\w)(?<!un)(?:treated|traitee?s?)(?!\w)") else None


def _thing(place: Place, facts: Facts, profile: Profile) -> bool | None:
    """ "Gemstone" and the like, where nothing in the text says that it was made."""
    if not facts.artificial or place.has(QUALIFIED):
        return None
    return "birth" in place.words or "gemstone" in place.words


def _synthetic(place: Place, facts: Facts, profile: Profile) -> bool | None:
    unlike = facts.nature in {"imitation", "assembled"} or facts.species in {"glass", "cubic zirconia"}
    return True if unlike or facts.bonded else None


def _composite(place: Place, facts: Facts, profile: Profile) -> bool | None:
    return None if _told_both(place) else True


def _another(place: Place, facts: Facts, profile: Profile) -> bool | None:
    """Another gem's name for a stone whose species is known: it may be a wrong variety name."""
    if not facts.species or _is_no_name(place) or facts.nature in {"imitation", "assembled"}:
        return None
    known = {plain(row.species).text for row in tables.materials() if _is_called(row, place.words)}
    mine = plain(facts.species).text
    return False if known and mine not in known else None


def _is_called(row: tables.Material, words: str) -> bool:
    name = plain(row.name).text
    return name == words or re.fullmatch(_with_plural(name), words) is not None


#: From memory: misnomers that gemmology texts list; 16 CFR 23.26 names only the first two rules of this table.
MISNOMERS: Final = (
    r"smok(?:e?y|ed) topaz(?:es)?|(?:madeira|gold|quartz|citrine|oriental) topaz(?:es)?|"
    r"oriental (?:emerald|amethyst)s?|(?:balas|cape|american|adelaide|spinel) rub(?:y|ies)|"
    r"(?:herkimer|matara|alaska|bristol) diamonds?|"
    r"(?:african|transvaal|korean|indian) (?:emerald|jade)s?|(?:evening|uralian) emeralds?|"
    r"(?:water|brazilian) sapphires?|"
    r"white turquoise|german lapis"
)


@cache
def name_rules() -> tuple[Rule, ...]:
    """The rules about names, in the order of the FTC sections."""
    gems = gem_names()
    return (
        Rule(pattern(rf"(?:treated )?(?:{gems})"), "a gem's bare name",
             "blocks for grown, imitation, assembled, reconstructed and filled stones; for dyed, coated, irradiated, "
             "diffused or stabilised ones under France and strict",
             "16 CFR 23.25(a), (b), (d)(1)-(2); decree 2002-65 art. 1-4",
             "Its name stands only behind what it is: laboratory-grown, imitation, glass-filled; a product of gem "
             "material and filler bears no gem's name, nor “treated”.", bare_name, ("cfr25", "fr2", "fr4")),
        Rule(pattern("gems?|gemstones?|birthstones?|stones?"), "gem, gemstone, birthstone, stone",
             "blocks (gemstone, birthstone) or warns (gem, stone) for what was made, where nothing in the text says so",
             "16 CFR 23.25(b)", "Say “laboratory-grown” or “imitation” before it.", _thing, ("cfr25",)),
        Rule(pattern("faux"), "faux", "blocks without imitation, simulated or laboratory-grown",
             "16 CFR 23.25(b) note 1", "Write “imitation” directly before the name.", _faux, ("selflaw25",)),
        Rule(pattern("cultured|cultivee?s?|de culture|elevee?s?"),
             "cultured, cultivé, de culture, élevé",
             "blocks but for pearls; under US passes beside laboratory-created",
             "16 CFR 23.25(b) note 2; decree 2002-65 art. 4",
             "Write “laboratory-grown” directly before the name.", _cultured, ("selflaw25", "fr4")),
        Rule(pattern(rf"(?:synthetic|{LAB_WORDS}) (?:{gems})"), "synthetic or laboratory-grown and a gem's name",
             "blocks where the material has other properties: glass, assembled and bonded products",
             "16 CFR 23.25(c), (d)(3)", "It lacks the properties of the stone named: write “imitation”.", _synthetic,
             ("cfr25",), from_memory=True),
        Rule(pattern(rf"(?:composite|hybrid|manufactured) (?:{gems})"),
             "composite, hybrid or manufactured and a gem's name",
             "blocks unless both disclosures stand beside it", "16 CFR 23.25(d)(4)",
             "Only with both: it has not the same characteristics as the stone named, and it needs special care.",
             _composite, ("cfr25", "jck2018"), from_memory=True),
        Rule(pattern("green amethysts?"), "green amethyst", "blocks", "16 CFR 23.26", "Write prasiolite.", always,
             ("cfr26",)),
        Rule(pattern("yellow emeralds?"), "yellow emerald", "blocks", "16 CFR 23.26", "Write golden beryl or heliodor.",
             always, ("cfr26",)),
        Rule(pattern(MISNOMERS), "smoky topaz, balas ruby, Herkimer diamond and other misnomers", "blocks",
             "16 CFR 23.26",
             "Name the variety it is.", always, ("cfr26",), from_memory=True),
        Rule(pattern(gems), "another gem's name", "warns where the stone's species is known to be another",
             "16 CFR 23.26; house rule", "This is the name of another stone: is it meant for a colour? Say it plainly.",
             _another, ("cfr26",)),
    )  # fmt: skip


def _cultured(place: Place, facts: Facts, profile: Profile) -> bool | None:
    if "pearl" in facts.species or "pearl" in facts.name:
        return None
    return None if profile is Profile.US and place.has(LAB_WORDS) else True


def _faux(place: Place, facts: Facts, profile: Profile) -> bool | None:
    return None if place.has(rf"{IMITATION_WORDS}|{LAB_WORDS}") else True
