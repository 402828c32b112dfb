"""The description of a gem for a sale on which nobody sees it before: plain text to copy, with the whole disclosure.

16 CFR 23.24 note: where a stone can be bought unseen (by post, online), what was done to it stands in the
description itself. A picture larger than life says how large the stone is (23.1 note 3).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from workshop.common.models import Shop
from workshop.materials.disclosure import ROLE_LINE, Disclosure
from workshop.materials.sentences import Line
from workshop.materials.words import Finding, Profile
from workshop.materials.words_here import lint_here

from .models import FinishedGem
from .papers import facts_of, open_questions, size_words, what_may_be_said


@dataclass(frozen=True)
class Listing:
    """A description to copy; empty while a question is open or a finding blocks."""

    text: str
    questions: list[str]
    findings: list[Finding]
    said: Disclosure | None

    @property
    def blocks(self) -> list[Finding]:
        """What stops it."""
        return [finding for finding in self.findings if finding.blocks]


def listing_of(gem: FinishedGem, profile: Profile, shop: Shop) -> Listing:
    """What may be written of a gem where it is offered, under one set of rules; language is the one in force."""
    questions = open_questions(gem)
    if questions:
        return Listing("", questions, [], None)
    said = what_may_be_said(gem, profile)
    facts = replace(said.facts, on_card=False, clarity_tested=True)
    # Readings and documents are quoted as they are; everything else is judged as it will be read, as one text.
    # Whether the lens was used, and what the scale said, was judged with each typed text above.
    judged = "\n".join(_paragraphs(gem, said, shop, with_basis=False))
    found = list(dict.fromkeys([*said.findings, *lint_here(judged, facts, profile)]))
    listing = Listing("\n".join(_paragraphs(gem, said, shop, with_basis=True)), [], found, said)
    return replace(listing, text="") if listing.blocks else listing


def _paragraphs(gem: FinishedGem, said: Disclosure, shop: Shop, *, with_basis: bool) -> list[str]:
    facts = [f"{fact['label']}: {fact['text']}" for fact in facts_of(gem, shop) if fact["text"]]
    lines = (said.nature, said.species, *said.treatments, said.origin)
    pictures = _("Pictures are not to scale: the stone measures %(size)s.") % {"size": size_words(gem)}
    return [
        f"{said.name_line}.",
        *said.remarks,
        "",
        *facts,
        "",
        *(_sentence(line, with_basis) for line in lines),
        *([said.not_tested] if said.not_tested else []),
        _("Care: %(care)s") % {"care": " ".join(said.care)},
        "",
        pictures,
        str(ROLE_LINE),
    ]


def _sentence(line: Line, with_basis: bool) -> str:
    basis = f" ({line.basis})" if line.basis and with_basis else ""
    return f"{line.label}: {line.text}{basis}."
