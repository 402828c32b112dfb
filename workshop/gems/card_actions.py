"""Issuing a gem's information card, and a new one in the place of one that stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import override

from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.materials.disclosure import Disclosure
from workshop.materials.words import Finding, Profile, code_findings
from workshop.papers import actions as papers
from workshop.papers.languages import language_for
from workshop.papers.models import Paper, PaperKind

from .models import FinishedGem, Gone
from .papers import OUTLINE, PHOTO, card_content, open_questions, what_may_be_said


class QuestionOpen(DeedRefused):
    """No card while nature, species or treatment is open; ``questions`` names which."""

    def __init__(self, questions: list[str]) -> None:
        named = " and ".join(filter(None, [", ".join(questions[:-1]), questions[-1]]))
        super().__init__(
            f"No card yet: the question of {named} is open. Add a statement to the stone; "
            "for the treatment “not tested, sold to me as …” is an answer too."
        )
        self.questions = questions


class WordsRefused(DeedRefused):
    """What the card would say breaks a rule; ``findings`` say which and what to write instead."""

    def __init__(self, findings: list[Finding]) -> None:
        super().__init__(" ".join(f"“{one.words}”: {one.advice} ({one.rule})" for one in findings))
        self.findings = findings


@dataclass(frozen=True)
class TradeCode:
    """Letters of a trade list, and the edition of the list: the same letter changed its meaning between editions."""

    letters: str
    edition: str


def code_facts(code: TradeCode, said: Disclosure) -> list[dict[str, str]]:
    """The line of a card for trade letters: beside plain words, with the edition. Raises WordsRefused."""
    words = "; ".join(line.text.split(";")[0] for line in said.treatments)
    found = code_findings(code.letters, edition=code.edition, words=words, facts=said.facts)
    if found:
        raise WordsRefused(found)
    line = _("%(letters)s: %(words)s (letters of the AGTA Gemstone Information Manual, edition %(edition)s)")
    return [
        {
            "label": _("Trade code"),
            "text": line % {"letters": code.letters, "words": words, "edition": code.edition},
        }
    ]


def issue_card(
    gem: FinishedGem,
    *,
    by: Hand | None,
    at: datetime,
    base_url: str = "",
    profile: Profile = Profile.STRICT,
    picture: str = OUTLINE,
    sizes: Sequence[str] = (),
    language: str = "",
    trade_code: TradeCode | None = None,
) -> Paper:
    """Issue the information card of a gem, in the shop's language of papers unless told another. Raises
    QuestionOpen, WordsRefused, or DeedRefused where one stands."""
    with write_tx():
        gem = fresh_gem(gem)
        standing = Paper.objects.standing().about(gem.code).filter(kind=PaperKind.INFO_CARD).first()
        if standing is not None:
            raise DeedRefused(f"{standing.number} stands for {gem.code}: revise it, or void it first.")
        content = _content(gem, profile, picture, language_for(language), trade_code)
        return papers.issue(
            PaperKind.INFO_CARD, gem.code, content, by=by, at=at, base_url=base_url, sizes=sizes
        )


def revise_card(
    paper: Paper,
    *,
    reason: str,
    by: Hand | None,
    at: datetime,
    base_url: str = "",
    profile: Profile = Profile.STRICT,
    picture: str = OUTLINE,
    language: str = "",
    trade_code: TradeCode | None = None,
) -> Paper:
    """Issue the card anew from what the records say today, in the language of the old one unless told another; the
    old one is superseded with a reason."""
    with write_tx():
        gem = fresh_gem(FinishedGem.objects.get(code=paper.about))
        content = _content(gem, profile, picture, language_for(language, paper), trade_code)
        return papers.revise(paper, content, reason=reason, by=by, at=at, base_url=base_url)


def fresh_gem(gem: FinishedGem) -> FinishedGem:
    """The gem as it stands inside the transaction. Raises DeedRefused for one that went back for work."""
    fresh = FinishedGem.objects.select_related("stone__lot", "owner", "public_photo__photo").get(pk=gem.pk)
    if fresh.gone_as == Gone.RECUT:
        raise DeedRefused(
            f"{fresh.code} went back for work: the stone gets its card when it is finished again."
        )
    return fresh


def _content(
    gem: FinishedGem, profile: Profile, picture: str, language: str, code: TradeCode | None
) -> dict[str, Any]:
    questions = open_questions(gem)
    if questions:
        raise QuestionOpen(questions)
    if picture == PHOTO and gem.public_photo is None:
        raise DeedRefused("Choose a photograph for the public first, or take the drawing.", field="picture")
    with override(language):
        said = what_may_be_said(gem, profile)
        if said.blocks:
            raise WordsRefused(said.blocks)
        content = card_content(gem, said, profile=profile, picture=picture, shop=Shop.the())
        content["facts"] += code_facts(code, said) if code is not None else []
        return content
