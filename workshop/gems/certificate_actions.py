"""Issuing the certificate of a gem or of a pair or suite, and a new one in the place of one that stands."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.utils.translation import override

from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.materials.words import Profile
from workshop.papers import actions as papers
from workshop.papers.languages import language_for
from workshop.papers.models import Paper, PaperKind

from .card_actions import QuestionOpen, WordsRefused, fresh_gem
from .models import FinishedGem, Gone, Suite
from .papers import open_questions
from .papers_certificate import Chosen, certificate_content, what_it_may_say
from .papers_suite import questions_of, suite_content, what_suite_may_say
from .suite_actions import members_of


def issue_certificate(
    gem: FinishedGem,
    *,
    by: Hand | None,
    at: datetime,
    chosen: Chosen | None = None,
    base_url: str = "",
    profile: Profile = Profile.STRICT,
    language: str = "",
    sizes: Sequence[str] = (),
) -> Paper:
    """Issue the certificate of a gem. Raises QuestionOpen, WordsRefused, or DeedRefused where one stands."""
    with write_tx():
        gem = fresh_gem(gem)
        standing = Paper.objects.standing().about(gem.code).filter(kind=PaperKind.CERTIFICATE).first()
        if standing is not None:
            raise DeedRefused(f"{standing.number} stands for {gem.code}: revise it, or void it first.")
        content = _content(gem, chosen or Chosen(), profile, language_for(language))
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
    language: str = "",
) -> Paper:
    """Issue the certificate anew from what the records say today; the old one is superseded with a reason."""
    with write_tx():
        gem = fresh_gem(FinishedGem.objects.get(code=paper.about))
        content = _content(gem, chosen or Chosen(), profile, language_for(language, paper))
        return papers.revise(paper, content, reason=reason, by=by, at=at, base_url=base_url)


def _content(gem: FinishedGem, chosen: Chosen, profile: Profile, language: str) -> dict[str, Any]:
    questions = open_questions(gem)
    if questions:
        raise QuestionOpen(questions)
    with override(language):
        said = what_it_may_say(gem, profile)
        if said.blocks:
            raise WordsRefused(said.blocks)
        return certificate_content(gem, said, chosen, profile=profile, shop=Shop.the())


def issue_suite_certificate(
    suite: Suite,
    *,
    by: Hand | None,
    at: datetime,
    base_url: str = "",
    profile: Profile = Profile.STRICT,
    language: str = "",
    sizes: Sequence[str] = (),
) -> Paper:
    """Issue the certificate of a pair or suite. Raises QuestionOpen, WordsRefused, or DeedRefused."""
    with write_tx():
        standing = Paper.objects.standing().about(suite.code).filter(kind=PaperKind.SUITE).first()
        if standing is not None:
            raise DeedRefused(f"{standing.number} stands for {suite.code}: revise it, or void it first.")
        content = _suite_content(suite, profile, language_for(language))
        return papers.issue(
            PaperKind.SUITE, suite.code, content, by=by, at=at, base_url=base_url, sizes=sizes
        )


def revise_suite_certificate(
    paper: Paper,
    *,
    reason: str,
    by: Hand | None,
    at: datetime,
    base_url: str = "",
    profile: Profile = Profile.STRICT,
    language: str = "",
) -> Paper:
    """Issue the suite's certificate anew; the old one is superseded with a reason."""
    with write_tx():
        suite = Suite.objects.get(code=paper.about)
        content = _suite_content(suite, profile, language_for(language, paper))
        return papers.revise(paper, content, reason=reason, by=by, at=at, base_url=base_url)


def _suite_content(suite: Suite, profile: Profile, language: str) -> dict[str, Any]:
    suite = Suite.objects.get(pk=suite.pk)
    if not suite.stands:
        raise DeedRefused(f"{suite.code} was broken up: {suite.broken_up_why}")
    gems = members_of(suite)
    if back := next((gem for gem in gems if gem.gone_as == Gone.RECUT), None):
        raise DeedRefused(f"{back.code} went back for work: replace it in {suite.code} first.")
    if questions := questions_of(gems):
        raise QuestionOpen(questions)
    with override(language):
        told = what_suite_may_say(suite, gems, profile)
        if told.blocks:
            raise WordsRefused(told.blocks)
        return suite_content(suite, gems, told, profile=profile, shop=Shop.the())
