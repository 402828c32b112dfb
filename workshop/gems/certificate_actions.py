"""Issuing a gem's certificate, and a new one in the place of one that stands."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.materials.words import Profile
from workshop.papers import actions as papers
from workshop.papers.models import Paper, PaperKind

from .card_actions import QuestionOpen, WordsRefused, fresh_gem
from .models import FinishedGem
from .papers import open_questions
from .papers_certificate import Chosen, certificate_content, what_it_may_say


def issue_certificate(
    gem: FinishedGem,
    *,
    by: Hand | None,
    at: datetime,
    chosen: Chosen | None = None,
    base_url: str = "",
    profile: Profile = Profile.STRICT,
    sizes: Sequence[str] = (),
) -> Paper:
    """Issue the certificate of a gem. Raises QuestionOpen, WordsRefused, or DeedRefused where one stands."""
    with write_tx():
        gem = fresh_gem(gem)
        standing = Paper.objects.standing().about(gem.code).filter(kind=PaperKind.CERTIFICATE).first()
        if standing is not None:
            raise DeedRefused(f"{standing.number} stands for {gem.code}: revise it, or void it first.")
        content = _content(gem, chosen or Chosen(), profile)
        return papers.issue(
            PaperKind.CERTIFICATE, gem.code, content, by=by, at=at, base_url=base_url, sizes=sizes
        )


def revise_certificate(
    paper: Paper,
    *,
    reason: str,
    by: Hand | None,
    at: datetime,
    chosen: Chosen | None = None,
    base_url: str = "",
    profile: Profile = Profile.STRICT,
) -> Paper:
    """Issue the certificate anew from what the records say today; the old one is superseded with a reason."""
    with write_tx():
        gem = fresh_gem(FinishedGem.objects.get(code=paper.about))
        content = _content(gem, chosen or Chosen(), profile)
        return papers.revise(paper, content, reason=reason, by=by, at=at, base_url=base_url)


def _content(gem: FinishedGem, chosen: Chosen, profile: Profile) -> dict[str, Any]:
    questions = open_questions(gem)
    if questions:
        raise QuestionOpen(questions)
    said = what_it_may_say(gem, profile)
    if said.blocks:
        raise WordsRefused(said.blocks)
    return certificate_content(gem, said, chosen, profile=profile, shop=Shop.the())
