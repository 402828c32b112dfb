"""From statements to what a paper may say of a stone: name line, nature, treatment, origin, care, and on what basis.

Rules by their sources: 16 CFR Part 23 (FTC, numbering of 2018), CIBJO's classes of general and specific disclosure
<https://deutsches-edelsteinhaus.com/en/nomenclature-in-the-gem-industry/>, the French decree 2002-65, LMHC wording;
the evidence ladder and what each claim needs are the house's own, stricter than any one of them.
Nothing here asks a database or a clock. Local law and the user's adviser come first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext

from workshop.handbook import tables

from .naming import before, called, capital, listed
from .sentences import (
    GEMMOLOGIST,
    NOTHING_DONE,
    ORIGIN_RULE,
    TESTED,
    Line,
    Said,
    also_lines,
    bare_name,
    basis,
    care,
    is_man_made,
    not_tested,
    origin_line,
    species_words,
    treatment_lines,
    treatments_in_short,
)
from .words import FILLER_BONDED, SAID, WRITTEN, Facts, Finding, Profile
from .words_here import lint_here

QUESTIONS: Final = {"nature": "nature", "species": "species", "treatment": "treatment"}
"""The questions that must be answered before a paper is issued."""

ROLE_LINE: Final = gettext_lazy("The cutter’s own statement, not a laboratory report. Local law comes first.")

GROWN_ALIKE: Final = ("corundum", "spinel", "quartz")
GROWN_ALIKE_NAMES: Final = ("emerald", "alexandrite")
"""Species and names whose laboratory-grown twins share their readings, so that tests here do not tell them
apart (after 16 CFR 23.25(c))."""

IN_NAME: Final = {
    "heat_residue": "heat-treated",
    "flux_heal": "flux-healed",
    "hp": "pressure-heated",
    "diff_shallow": "diffusion-treated",
    "diff_deep": "diffusion-treated",
    "irr": "irradiated",
    "irr_heat": "irradiated",
    "dye": "dyed",
    "coat": "coated",
    "glass": "glass-filled",
    "impreg": "stabilised",
    "laser": "laser-drilled",
    "resin": "resin-filled",
}
"""What stands before the name for treatments of CIBJO's specific class; hardened resin by decree 2002-65 art. 2."""

ABOUT_NATURE: Final = {
    "synth": "grown",
    "imit": "imitation",
    "assembled": "assembled",
    "reconst": "reconstructed",
}
"""Keys of the treatment table that say what a thing is, and the nature they must agree with."""

LEAD_GLASS_ROW: Final = "corundum-ruby-lead-glass-filled"
PRODUCT: Final = gettext_lazy("Product of corundum and lead glass")

ONLY_SAID: Final = gettext_lazy(", as reported to the cutter")
SAID_MINED: Final = gettext_lazy(", reported as mined")
TAKEN_AS_MINED: Final = gettext_lazy(", mined in the cutter’s opinion")


@dataclass(frozen=True)
class Disclosure:
    """All a paper says of what a stone is, and what is wrong with saying it."""

    name_line: str
    nature: Line
    species: Line
    treatments: tuple[Line, ...]
    treatments_short: str
    origin: Line
    care: tuple[str, ...]
    not_tested: str
    remarks: tuple[str, ...]
    facts: Facts
    findings: tuple[Finding, ...] = field(default=())

    @property
    def blocks(self) -> list[Finding]:
        """What stops the paper."""
        return [finding for finding in self.findings if finding.blocks]


def open_questions(answers: Mapping[str, Said]) -> list[str]:
    """Which of nature, species and treatment nobody has answered. Words without any basis are no answer, but
    "not tested" is one."""
    return [
        words
        for question, words in QUESTIONS.items()
        if question not in answers or not _answers(answers[question])
    ]


def _answers(said: Said) -> bool:
    return said.evidence >= SAID or said.treated == "not_tested"


def disclose(
    answers: Mapping[str, Said],
    *,
    also: Sequence[Said] = (),
    chain: bool = False,
    profile: Profile = Profile.STRICT,
) -> Disclosure:
    """What may be said. ``answers`` holds the best-based statement for each question, with none of
    ``open_questions`` open; ``also`` further statements of treatments, which the best one does not undo;
    ``chain`` whether the rough was kept track of from a written statement and photographs on.
    """
    nature, species, treatment = (answers[question] for question in QUESTIONS)
    done = _done(treatment, also, species)
    facts = _facts(answers, done, chain)
    remarks = _remarks(facts)
    composed = Disclosure(
        name_line=_name_line(facts, nature, species, profile),
        nature=_nature_line(facts, nature, profile),
        species=Line(
            _("Species"),
            _species_words(facts, nature, species, profile),
            "house rule: a species is claimed on tests, here or better; 16 CFR 23.25(b)",
            basis(species),
            topic="species",
        ),
        treatments=(*treatment_lines(treatment, done), *also_lines(also, treatment)),
        treatments_short=treatments_in_short(done, treatment.degree),
        origin=origin_line(answers.get("origin")),
        care=care(species, treatment, done),
        not_tested=not_tested(nature, species, treatment),
        remarks=remarks,
        facts=facts,
    )
    return replace(composed, findings=tuple(_findings(composed, answers, also, profile)))


def _done(treatment: Said, also: Sequence[Said], species: Said) -> tuple[str, ...]:
    keys = [key for said in (treatment, *also) if said.treated == "treated" for key in said.treatments]
    if species.key == LEAD_GLASS_ROW:
        keys.append("leadglass")
    return tuple(dict.fromkeys(key for key in keys if key not in NOTHING_DONE))


def _facts(answers: Mapping[str, Said], done: tuple[str, ...], chain: bool) -> Facts:
    nature, species, treatment = (answers[question] for question in QUESTIONS)
    alike = species.species in GROWN_ALIKE or any(name in species.name for name in GROWN_ALIKE_NAMES)
    shown = nature.evidence >= GEMMOLOGIST or (nature.evidence >= WRITTEN and (chain or not alike))
    claims_none = treatment.treated == "untreated" or (treatment.treated == "not_tested" and treatment.words)
    return Facts(
        nature=nature.nature,
        treatments=frozenset(done),
        species=species.species,
        name=species.name,
        species_evidence=species.evidence,
        natural_shown=nature.nature == "mined" and shown,
        untreated_evidence=treatment.evidence if claims_none else -1,
        origin_evidence=answers["origin"].evidence if "origin" in answers else -1,
        origin=answers["origin"].words if "origin" in answers else "",
        colour_evidence=answers["colour"].evidence if "colour" in answers else -1,
    )


def _name_line(facts: Facts, nature: Said, species: Said, profile: Profile) -> str:
    """``[nature qualifier] [treatment if specific] [variety] ([species])``, all one size of type (16 CFR 23.1
    note 2, 23.25(b)); what is only reported says so in the same line."""
    if "leadglass" in facts.treatments:
        return str(PRODUCT)
    key = bare_name(species, nature)
    name, kind = called(key), called(species.species)
    if facts.nature == "assembled":
        line = _("assembled stone: %(parts)s") % {"parts": nature.words or name}
    elif facts.nature == "imitation" and is_man_made(species):
        line = _("imitation stone: %(name)s") % {"name": name}
    elif facts.nature == "imitation":
        line = _("imitation %(name)s: %(material)s") % {"name": name, "material": nature.words}
    else:
        line = _with_species(_qualified(facts, key, name, profile), kind)
    return capital(line.removesuffix(": ")) + _reported(facts, nature, species)


def _with_species(name: str, kind: str) -> str:
    return f"{name} ({kind})" if kind and kind.lower() not in name.lower() else name


def _species_words(facts: Facts, nature: Said, species: Said, profile: Profile) -> str:
    """The species line; what was made is not called by the gem's bare name there either."""
    if "leadglass" in facts.treatments:
        return _("corundum and lead glass")
    key = bare_name(species, nature)
    name = called(key)
    if facts.nature == "assembled":
        return _("assembled stone: %(parts)s") % {"parts": nature.words or name}
    if facts.nature == "imitation" and not is_man_made(species):
        return _("imitation %(name)s: %(material)s") % {"name": name, "material": nature.words}
    if facts.nature in {"grown", "reconstructed"}:
        told = _qualified(replace(facts, treatments=frozenset()), key, name, profile)
        return _with_species(told, called(species.species))
    return species_words(species)


def _qualified(facts: Facts, key: str, name: str, profile: Profile) -> str:
    """The name with what must stand directly before it, in the form it wants."""
    treated = dict.fromkeys(word for key_, word in IN_NAME.items() if key_ in facts.treatments)
    words = [listed([before(word, key) for word in treated])]
    if facts.nature == "grown":
        words.append(before("synthetic" if profile is Profile.FRANCE else "laboratory-grown", key))
    if facts.nature == "reconstructed":
        words = [before("reconstructed", key)]
    told = " ".join(filter(None, words))
    # Its own message, so that a language may turn the two round.
    return pgettext("name line", "%(words)s %(name)s") % {"words": told, "name": name} if told else name


def _reported(facts: Facts, nature: Said, species: Said) -> str:
    """A bare name claims the species and a mined stone (16 CFR 23.25(a)); where that is only reported, it says so."""
    if species.evidence < TESTED:
        return str(ONLY_SAID)
    if facts.nature != "mined" or facts.natural_shown:
        return ""
    alike = facts.species in GROWN_ALIKE or any(name in facts.name for name in GROWN_ALIKE_NAMES)
    if nature.evidence == TESTED:
        return str(TAKEN_AS_MINED)
    return str(SAID_MINED) if alike else ""


def _nature_line(facts: Facts, said: Said, profile: Profile) -> Line:
    texts = {
        "grown": _("grown in a laboratory, not mined (synthetic)"),
        "assembled": _("put together of parts: %(parts)s") % {"parts": said.words},
        "reconstructed": _("put together of pieces")
        if profile is Profile.US
        else _("reconstructed from pieces, not one stone as found"),
        "imitation": _("an imitation: it looks like another stone and is not it"),
        "mined": _("natural, mined")
        if facts.natural_shown
        else _("mined, as far as is known; no laboratory asked"),
    }
    bound = said.nature == "mined" and facts.artificial
    text = _("made of mined material and a filler or binder") if bound else texts[said.nature]
    rule = "16 CFR 23.25(a)-(b), 23.27; decree 2002-65 art. 4"
    return Line(_("Nature"), text, rule, basis(said), topic="nature")


def _remarks(facts: Facts) -> tuple[str, ...]:
    """Sentences a rule wants beside the name."""
    found = [_filler_remark(facts)]
    if "paraiba" in facts.name.lower().replace("í", "i"):
        found.append(
            _("The variety is named after a place in Brazil; the name says nothing of this stone’s origin.")
        )
    return tuple(remark for remark in found if remark)


def _filler_remark(facts: Facts) -> str:
    """What 16 CFR 23.25(d)(4) wants beside the name of a product with filler or binder."""
    if not (facts.treatments & FILLER_BONDED or facts.nature == "reconstructed"):
        return ""
    return _("It does not have the same characteristics as the stone it resembles and needs special care.")


def _findings(
    made: Disclosure, answers: Mapping[str, Said], also: Sequence[Said], profile: Profile
) -> list[Finding]:
    nature, species, treatment = (answers[question] for question in QUESTIONS)
    found = [
        *_contradictions(nature, species, made.facts),
        *_contradicts_itself(treatment, made.facts),
        *_gaps(nature, treatment, also, answers, profile),
    ]
    texts = [f"{made.name_line}. {made.species.text}. {_filler_remark(made.facts)}", made.nature.text]
    texts += [line.text for line in made.treatments]
    found += [one for text in texts for one in lint_here(text, made.facts, profile)]
    return list(dict.fromkeys(found))


def _contradictions(nature: Said, species: Said, facts: Facts) -> list[Finding]:
    found = []
    for key, meant in ABOUT_NATURE.items():
        if key in facts.treatments and nature.nature != meant:
            found.append(
                Finding(
                    True,
                    "16 CFR 23.25",
                    key,
                    f"The treatment says {meant}, the nature {nature.nature}: settle it.",
                )
            )
    if nature.nature == "mined" and is_man_made(species):
        found.append(
            Finding(True, "16 CFR 23.25(a)", species.name, "This material is man-made: it was not mined.")
        )
    if nature.nature == "grown" and species.species == "glass":
        found.append(
            Finding(True, "16 CFR 23.25(c)", species.name, "Glass has no grown twin: call it an imitation.")
        )
    if nature.nature == "assembled" and not nature.words.strip():
        found.append(
            Finding(
                True, "decree 2002-65 art. 4", "assembled", "Name the parts in the words of the statement."
            )
        )
    if nature.nature == "imitation" and not is_man_made(species) and not nature.words.strip():
        found.append(
            Finding(True, "decree 2002-65 art. 4", "imitation", "Name what it is made of, such as glass.")
        )
    return found


def _contradicts_itself(treatment: Said, facts: Facts) -> list[Finding]:
    """The row of lead-glass products says what was done, whatever the treatment statement says."""
    if treatment.treated != "untreated" or "leadglass" not in facts.treatments:
        return []
    advice = (
        "The species says that it is filled with lead glass, the treatment that nothing was done: settle it."
    )
    return [Finding(True, "16 CFR 23.25(d)", "untreated", advice)]


def _gaps(
    nature: Said, treatment: Said, also: Sequence[Said], answers: Mapping[str, Said], profile: Profile
) -> list[Finding]:
    found = []
    for said in answers.values():
        if said.evidence == TESTED and said.question in QUESTIONS and not said.how.strip():
            found.append(
                Finding(False, "evidence ladder E3", said.question, "Write down the readings it rests on.")
            )
    for said in (treatment, *also):
        for key in said.treatments:
            if tables.treatment(key).note.startswith("say the degree") and not said.degree:
                found.append(
                    Finding(False, "LMHC wording", key, "Say the degree: minor, moderate or significant.")
                )
            if (
                key in {"irr", "irr_heat"}
                and profile in {Profile.US, Profile.STRICT}
                and "release" not in said.how.lower()
            ):
                found.append(
                    Finding(
                        False,
                        "US NRC release of irradiated stones",
                        key,
                        "Keep the release document; name it.",
                    )
                )
    origin = answers.get("origin")
    if origin is not None and origin.evidence < WRITTEN:
        found.append(
            Finding(
                False, ORIGIN_RULE, origin.words, "Only said, not written: the card leaves the origin out."
            )
        )
    return found
