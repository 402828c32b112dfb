"""From a gem's rows to the content of its information card: what is known of it, on what basis, in what words.

The card carries no client, no price and no declared value (P10 and C8 of the house's rule list; GDPR art. 5).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, override, pgettext

from workshop.common import photos, say
from workshop.common.models import Shop
from workshop.handbook import tables
from workshop.handbook.errors import HandbookError
from workshop.handbook.weights import believable_weights, looks_round, state_length, state_weight
from workshop.materials import disclosure
from workshop.materials.disclosure import ONLY_SAID, ROLE_LINE, SAID_MINED, TAKEN_AS_MINED, Disclosure
from workshop.materials.models import Evidence, Question, Statement, Treated, best_based
from workshop.materials.naming import called, capital
from workshop.materials.sentences import Line, Said
from workshop.materials.words import VALUE_RULE, Facts, Finding, Profile
from workshop.materials.words_here import lint_here
from workshop.papers.record import sha256_of
from workshop.papers.rendering import PICTURE
from workshop.rough.models import LotPhoto, LotStatement
from workshop.stones.models import Stone, StoneStatement

from .models import FinishedGem, Shape

TITLE: Final = gettext_lazy("Stone information card")
WORDING: Final = 1
"""Edition of the card's wording; a later one leaves issued cards as they are."""

PHOTO, OUTLINE = "photo", "outline"
#: So small that the drawing's own figures print at 6 pt or more on the smallest card.
DRAWING_PX: Final = 76
LONGEST_NAME: Final = 160


def open_questions(gem: FinishedGem) -> list[str]:
    """Which of nature, species and treatment is still open for a gem: while one is, no card is issued."""
    return disclosure.open_questions(_answers(gem)[0])


def what_may_be_said(gem: FinishedGem, profile: Profile = Profile.STRICT) -> Disclosure:
    """The disclosure of a gem in the language in force, with everything wrong with its texts among the findings; no
    question may be open. In another language the English wording is looked through as well."""
    made = _what_may_be_said(gem, profile)
    if say.language() == "en":
        return made
    with override("en"):
        english = _what_may_be_said(gem, profile)
    return replace(made, findings=tuple(dict.fromkeys([*made.findings, *english.findings])))


def _what_may_be_said(gem: FinishedGem, profile: Profile) -> Disclosure:
    answers, also = _answers(gem)
    chain = LotPhoto.objects.filter(lot_id=gem.stone.lot_id).exists()
    made = disclosure.disclose(answers, also=also, chain=chain, profile=profile)
    found = [
        *made.findings,
        *_text_findings(gem, made, profile),
        *_value_findings(answers.values(), made.facts),
    ]
    found += _figure_findings(gem, answers["species"])
    if len(made.name_line) > LONGEST_NAME:
        advice = f"The name line of a card holds {LONGEST_NAME} characters: say it shorter."
        found.append(Finding(True, "house rule", made.name_line, advice))
    return replace(made, findings=tuple(dict.fromkeys(found)))


def what_stands(gem: FinishedGem, profile: Profile = Profile.STRICT) -> tuple[Disclosure, list[str]]:
    """The disclosure of a gem whatever is still open, and what is: an open question is said to be untested.

    For goods that go back to their owner: no card is issued so, but nothing may be claimed by silence either.
    """
    open_ones = open_questions(gem)
    answers, also = _answers(gem)
    nothing = {
        question: _untested(gem, question) for question in disclosure.QUESTIONS if question in open_ones
    }
    made = disclosure.disclose({**answers, **nothing}, also=also, profile=profile)
    if "nature" in nothing:
        unknown = _("not tested; whether mined or grown is not known")
        made = replace(
            made,
            name_line=_("%(name)s, not tested whether mined or grown") % {"name": _bare(made)},
            nature=replace(made.nature, text=unknown, basis=""),
        )
    if "species" in nothing:
        made = replace(made, species=replace(made.species, text=_taken_for(gem), basis=""))
    return made, open_ones


def _untested(gem: FinishedGem, question: str) -> Said:
    material = gem.stone.material
    return Said(
        question=question, evidence=0, said_by="", said_on=gem.finished_on, nature="mined", treated="not_tested",
        key=material.key if material else "", species=material.species if material else "",
        name=(material.everyday_name if material else "") or "stone",
    )  # fmt: skip


def _bare(made: Disclosure) -> str:
    """The name without what it says of having been mined."""
    name = made.name_line
    for words in (ONLY_SAID, SAID_MINED, TAKEN_AS_MINED):
        name = name.removesuffix(str(words))
    return name


def _taken_for(gem: FinishedGem) -> str:
    if gem.stone.material is None:
        return _("not tested")
    return _("not tested; taken for %(stone)s") % {"stone": called(str(gem.stone.material))}


def card_content(
    gem: FinishedGem, said: Disclosure, *, profile: Profile, picture: str, shop: Shop
) -> dict[str, Any]:
    """The content record of a card: texts ready to print, and the figures and statements behind them."""
    return {
        "wording": WORDING,
        "language": say.language(),
        "title": str(TITLE),
        "profile": profile.value,
        "shop": {"name": shop.name, "website": shop.website},
        "gem": gem.code,
        "name_line": said.name_line,
        "weight_ct": format(state_weight(gem.weight_ct, scale_step=shop.scale_step_ct), "f"),
        "size_mm": [format(state_length(side), "f") for side in (gem.length_mm, gem.width_mm, gem.depth_mm)],
        "facts": [fact for fact in facts_of(gem, shop) if fact["text"]],
        "lines": [_line(line) for line in (said.nature, said.species, *said.treatments, said.origin)],
        "treatments_short": said.treatments_short,
        "remarks": list(said.remarks),
        "care": list(said.care),
        "not_tested": said.not_tested,
        "role": str(ROLE_LINE),
        "picture": _picture(gem, picture),
        "statements": [_statement(one) for one in _answers(gem)[0].values()],
    }  # fmt: skip


def all_said(gem: FinishedGem) -> list[Said]:
    """Every statement a paper about a gem would rest on."""
    answers, also = _answers(gem)
    return [*answers.values(), *also]


def without_owners(gem: FinishedGem, text: str) -> str:
    """A text in which nobody who owned the gem is named."""
    return _without(text, _owner_names(gem))


def _answers(gem: FinishedGem) -> tuple[dict[str, Said], list[Said]]:
    """The best-based answer to each question over the stone, what it was sawn from, and its lot; and the other
    statements of treatments that the best one does not undo."""
    line = _line_of(gem.stone)
    asked = max((stone.treatment_asked_at for stone in line if stone.treatment_asked_at), default=None)
    said: list[Statement] = [
        *LotStatement.objects.filter(lot_id=gem.stone.lot_id).select_related("material"),
        *StoneStatement.objects.filter(stone__in=line).select_related("material"),
    ]
    said = [one for one in said if one.question != Question.TREATMENT or one.answers_since(asked)]
    said = [one for one in said if not _is_overtaken(one, said)]
    best = best_based(said)
    hidden = _owner_names(gem)
    answers = {question: _as_said(one, hidden) for question, one in best.items()}
    return answers, [_as_said(one, hidden) for one in _also(said, best.get(Question.TREATMENT))]


def _line_of(stone: Stone) -> list[Stone]:
    line = [stone]
    while line[-1].parent is not None:
        line.append(line[-1].parent)
    return line


def _is_overtaken(said: Statement, others: Iterable[Statement]) -> bool:
    """Who said that nothing was done spoke of that day (LM-06, SSEF: an emerald is oiled in minutes); what was done
    to the stone later, seen here or better, ends it."""
    if said.question != Question.TREATMENT or said.treated == Treated.TREATED:
        return False
    return any(
        one.question == Question.TREATMENT
        and one.treated == Treated.TREATED
        and one.evidence >= Evidence.TESTED
        and _is_later(one, said)
        for one in others
    )


def _is_later(one: Statement, other: Statement) -> bool:
    return one.said_on >= other.said_on and (one.written_at, one.pk) > (other.written_at, other.pk)


def _also(said: Iterable[Statement], best: Statement | None) -> list[Statement]:
    """Statements of further treatments; a laboratory's report settles alone what was done until its day."""
    if best is None:
        return []
    told: set[str] = set(best.treatments)
    found = []
    for one in said:
        more = set(one.treatments) - told
        is_further = one is not best and one.question == Question.TREATMENT and one.treated == Treated.TREATED
        if is_further and more and (best.evidence < Evidence.LABORATORY or _is_later(one, best)):
            found.append(one)
            told |= more
    return found


def _as_said(one: Statement, hidden: Sequence[str]) -> Said:
    material = one.material if one.question == Question.SPECIES else None
    return Said(
        question=one.question,
        evidence=one.evidence,
        said_by=_without(one.said_by, hidden),
        said_on=one.said_on,
        how=_without(one.how, hidden),
        words=_without(one.words, hidden),
        nature=one.nature,
        treated=one.treated,
        treatments=tuple(one.treatments),
        degree=one.degree,
        key=material.key if material else "",
        species=material.species if material else "",
        name=material.everyday_name if material else "",
    )


def _owner_names(gem: FinishedGem) -> list[str]:
    # Whose it was counts too: a stone the shop bought from a client was spoken of by that client before.
    owners = {owner for owner in (gem.owner, gem.stone.owner, gem.stone.lot.owner) if owner is not None}
    names = {name for owner in owners for name in (owner.name, owner.firm) if name}
    return sorted(names, key=len, reverse=True)


def _without(text: str, hidden: Sequence[str]) -> str:
    for name in hidden:
        # Not by places in a lower-cased copy: lower case may be longer, and the wrong letters would be hidden.
        text = re.sub(re.escape(name), "the owner", text, flags=re.IGNORECASE)
    return text


def facts_of(gem: FinishedGem, shop: Shop) -> list[dict[str, str]]:
    """The card's figures and what the cutter typed; typed words in another language than the card's are marked."""
    hidden = _owner_names(gem)
    weight = state_weight(gem.weight_ct, scale_step=shop.scale_step_ct)
    typed = {} if shop.paper_language == say.language() else {"lang": shop.paper_language}
    cut = cut_words(gem)
    rows: list[tuple[str, str, dict[str, str]]] = [
        (_("Weight"), _("%(weight)s, by scale") % {"weight": f"{say.number(weight)}{say.GAP}ct"}, {}),
        (_("Size"), size_words(gem), {}),
        (_("Shape, cut"), cut, typed if gem.cut and cut.endswith(gem.cut) else {}),
        (_("Colour"), _colour_words(gem), typed),
        (_("Clarity"), gem.clarity, typed),
        (_("Cut by"), gem.cut_by or shop.cutter or shop.name, {}),
        (_("Gem"), gem.code, {}),
    ]
    return [{"label": label, "text": _without(text, hidden), **marks} for label, text, marks in rows]


def shape_words(gem: FinishedGem) -> str:
    """The outline by its trade name."""
    return pgettext("shape", gem.get_shape_display())


def cut_words(gem: FinishedGem) -> str:
    """Outline and cut; a cut that is no word of the trade known here stays as it was typed."""
    return ", ".join(filter(None, [shape_words(gem), pgettext("cut", gem.cut) if gem.cut else ""]))


def _colour_words(gem: FinishedGem) -> str:
    if not gem.colour_light:
        return gem.colour
    told = {"colour": gem.colour, "light": pgettext("light", gem.colour_light)}
    return _("%(colour)s, seen in %(light)s") % told


def size_words(gem: FinishedGem) -> str:
    """Least to greatest diameter × depth for a round, length × width × depth for all others, to 0.01 mm."""
    length, width, depth = (state_length(side) for side in (gem.length_mm, gem.width_mm, gem.depth_mm))
    if gem.shape == Shape.ROUND:
        least, most = (say.number(one, 2) for one in sorted([length, width]))
        return f"{least} – {most} × {say.number(depth, 2)}{say.GAP}mm"
    return f"{' × '.join(say.number(one, 2) for one in (length, width, depth))}{say.GAP}mm"


def _picture(gem: FinishedGem, choice: str) -> dict[str, Any]:
    """A photograph says that it is not to scale and how large the stone is (16 CFR 23.1 note 3)."""
    length, width, depth = (
        format(state_length(side), "f") for side in (gem.length_mm, gem.width_mm, gem.depth_mm)
    )
    if choice == PHOTO and gem.public_photo is not None:
        photo = gem.public_photo.photo
        return {
            "kind": PHOTO,
            "sha256": photo.sha256,
            "bytes_sha256": sha256_of(photos.read(photo, PICTURE)),
            "words": _("Photograph, not to scale: the stone is %(length)s × %(width)s mm.")
            % {"length": say.number(length, 2), "width": say.number(width, 2)},
        }
    return {
        "kind": OUTLINE,
        "drawing": {"shape": gem.shape, "length_mm": length, "width_mm": width, "depth_mm": depth,
                    "size_px": DRAWING_PX},
        "words": _("%(shape)s, drawn from its measurements; facet lines are a scheme.")
        % {"shape": capital(shape_words(gem))},
    }  # fmt: skip


def _line(line: Line) -> dict[str, str]:
    return {
        "topic": line.topic,
        "label": line.label,
        "text": line.text,
        "why": line.why,
        "basis": line.basis,
    }


def _statement(said: Said) -> dict[str, Any]:
    facts = {name: value for name, value in vars(said).items() if value not in ("", ())}
    return facts | {"said_on": said.said_on.isoformat(), "treatments": list(said.treatments)}


def _text_findings(gem: FinishedGem, made: Disclosure, profile: Profile) -> list[Finding]:
    """The linter over everything the cutter typed that goes on the card."""
    clean = made.facts
    loupe = any(word in gem.clarity.lower() for word in ("10x", "10×", "10 x", "10 ×"))
    facts = replace(clean, clarity_tested=loupe, weighed_ct=gem.weight_ct)
    texts = [gem.colour, gem.colour_light, gem.clarity, gem.cut, gem.girdle, gem.culet]
    return [found for text in texts for found in lint_here(text, facts, profile)]


def _value_findings(answers: Iterable[Said], facts: Facts) -> list[Finding]:
    """Readings and documents are quoted as they are, but for a price or a value."""
    texts = [text for said in answers for text in (said.how, said.words, said.said_by)]
    return [found for text in texts for found in lint_here(text, facts) if found.rule == VALUE_RULE]


def _figure_findings(gem: FinishedGem, species: Said) -> list[Finding]:
    found = []
    least, greatest = sorted([gem.length_mm, gem.width_mm])
    if gem.shape == Shape.ROUND and not looks_round(least, greatest):
        found.append(
            Finding(False, "1.54 % of the mean, buyers' guides, from memory", size_words(gem),
                    "The diameters lie far apart: is the outline really round?", from_memory=True)
        )  # fmt: skip
    stone = next((row for row in tables.materials() if row.key == species.key), None)
    if stone is None:
        return found
    try:
        low, high = believable_weights(gem.shape, gem.length_mm, gem.width_mm, gem.depth_mm, stone.sg_typical)
    except HandbookError:
        return found
    if not low <= gem.weight_ct <= high:
        likely = f"some {low:.2f} to {high:.2f} ct"
        found.append(
            Finding(False, "published weight constants", f"{gem.weight_ct} ct",
                    f"Its size and species speak of {likely}: check weight, sizes and species.")
        )  # fmt: skip
    return found
