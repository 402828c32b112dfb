"""What a gem is said to be in the papers of a sale: the same words, and the same refusals, as its card.

An invoice repeats the disclosure (CIBJO: at the latest at the close of the sale and in its papers; the French decree
2002-65: on label, listing and invoice); a memo is a commercial paper too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from workshop.common.models import Shop
from workshop.handbook.weights import state_weight
from workshop.materials.disclosure import Disclosure
from workshop.materials.words import Facts as Known
from workshop.materials.words import Profile, lint
from workshop.papers.document import Facts
from workshop.papers.models import Paper, PaperKind

from .card_actions import QuestionOpen, WordsRefused
from .models import FinishedGem
from .papers import open_questions, size_words, what_may_be_said, what_stands


def said_in_trade(gem: FinishedGem, profile: Profile = Profile.STRICT) -> Disclosure:
    """The disclosure of a gem of the shop's own. Raises QuestionOpen, or WordsRefused where its words break a rule."""
    questions = open_questions(gem)
    if questions:
        raise QuestionOpen(questions)
    said = what_may_be_said(gem, profile)
    if said.blocks:
        raise WordsRefused(said.blocks)
    return said


def said_as_it_stands(gem: FinishedGem) -> Disclosure:
    """What is said of a gem that belongs to somebody else: what nobody tested is said to be untested."""
    return what_stands(gem)[0]


def refuse_words(texts: Iterable[str], profile: Profile = Profile.STRICT) -> None:
    """Refuse a typed note that breaks a rule of the trade. Raises WordsRefused."""
    known = Known(on_card=False)
    found = [one for text in texts if text.strip() for one in lint(text, known, profile) if one.blocks]
    if found:
        raise WordsRefused(found)


def line_words(gem: FinishedGem, said: Disclosure) -> str:
    """A gem in one line of a paper."""
    return f"{gem.code}: {said.name_line}, {gem.get_shape_display()}"


def stone_facts(gem: FinishedGem, said: Disclosure, card: str = "") -> Facts:
    """What a gem is, line by line, each with what it rests on."""
    rows = [("Weight and size", f"{carats_words(gem)}, by scale; {size_words(gem)}")]
    lines = (said.nature, said.species, *said.treatments, said.origin)
    rows += [(one.label, f"{one.text} ({one.basis})" if one.basis else one.text) for one in lines if one.text]
    rows += [("Remark", remark) for remark in said.remarks]
    rows += [("Not tested", said.not_tested), ("Care", " ".join(said.care)), ("Information card", card)]
    return Facts(rows, heading=f"{gem.code}: {said.name_line}")


def cards_of(gems: Sequence[FinishedGem]) -> dict[str, str]:
    """{code: number of the information card that stands for it}."""
    standing = Paper.objects.standing().filter(about__in=[gem.code for gem in gems], kind=PaperKind.INFO_CARD)
    return dict(standing.values_list("about", "number"))


def carats_words(gem: FinishedGem) -> str:
    """The weight as papers state it."""
    return f"{state_weight(gem.weight_ct, scale_step=Shop.the().scale_step_ct)}\u00a0ct"
