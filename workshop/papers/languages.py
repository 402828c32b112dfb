"""Which language a paper is printed in."""

from __future__ import annotations

from workshop.common.models import Shop

from .models import Paper
from .rendering import content_of


def language_of(paper: Paper) -> str:
    """The language a paper was issued in."""
    return str(content_of(paper).get("language") or "en")


def language_for(asked: str = "", old: Paper | None = None) -> str:
    """The language asked for; else that of the paper it takes the place of; else the shop's own."""
    if asked:
        return asked
    return language_of(old) if old is not None else Shop.the().paper_language
