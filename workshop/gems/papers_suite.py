"""From the rows of a pair or suite to the content of its certificate: what each stone is, how they match, what they
weigh together.

Every member's disclosure stands on it; stones of which the same is said share one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django.utils.translation import gettext as _

from workshop.common import say
from workshop.common.models import Shop
from workshop.handbook.weights import state_total
from workshop.materials.disclosure import ROLE_LINE, Disclosure
from workshop.materials.words import Finding, Profile, lint
from workshop.papers.document import shop_words

from .matching import Match, Spread, match_of
from .models import FinishedGem, Suite, SuiteKind
from .papers import OUTLINE, all_said, card_content, open_questions, what_may_be_said, without_owners
from .papers_certificate import drawing_of, is_certifiable, measured_words

WORDING: Final = 1
ALIKE: Final = ("name_line", "remarks", "lines", "care", "not_tested")


@dataclass(frozen=True)
class Told:
    """What a suite's paper would say: the disclosure of each gem, and all that is wrong with saying it."""

    said: dict[str, Disclosure]
    findings: tuple[Finding, ...]
    title: str

    @property
    def blocks(self) -> list[Finding]:
        """What stops the paper."""
        return [finding for finding in self.findings if finding.blocks]


def questions_of(gems: Sequence[FinishedGem]) -> list[str]:
    """Which questions are open, each with the gem it is open for."""
    return [f"{question} of {gem.code}" for gem in gems for question in open_questions(gem)]


def what_suite_may_say(suite: Suite, gems: Sequence[FinishedGem], profile: Profile = Profile.STRICT) -> Told:
    """The disclosure of each gem; none of their questions may be open. The suite's name and note are linted too."""
    shop = Shop.the()
    said = {gem.code: what_may_be_said(gem, profile) for gem in gems}
    certified = all(is_certifiable(all_said(gem), said[gem.code].facts) for gem in gems)
    title = _("Cutter’s certificate") if certified else _("Description of stones")
    found = [finding for one in said.values() for finding in one.findings]
    for one in said.values():
        for text in (suite.name, shop.foot_words, title):
            found += lint(text, one.facts, profile)
    return Told(said, tuple(dict.fromkeys(found)), title)


def suite_content(
    suite: Suite, gems: Sequence[FinishedGem], told: Told, *, profile: Profile, shop: Shop
) -> dict[str, Any]:
    """The content record of a suite's certificate."""
    cards = [
        card_content(gem, told.said[gem.code], profile=profile, picture=OUTLINE, shop=shop) for gem in gems
    ]
    groups = _groups(cards)
    return {
        "wording": WORDING,
        "language": say.language(),
        "title": told.title,
        "profile": profile.value,
        "shop": shop_words(shop, tax=False),
        "suite": {"code": suite.code, "name": _clean(gems, suite.name), "kind": kind_words(suite.kind)},
        "names": list(dict.fromkeys(group["name_line"] for group in groups)),
        "total": total(gems, shop),
        "matching": matching_rows(match_of(suite, gems), shop),
        "members": [_member(gem, card) for gem, card in zip(gems, cards, strict=True)],
        "groups": groups,
        "measured": list(dict.fromkeys(measured_words(gem) for gem in gems)),
        "drawing_words": _("Drawn from their measurements; facet lines are a scheme."),
        "cutter": _clean(gems, shop.cutter or shop.name),
        "role": str(ROLE_LINE),
    }


def total(gems: Sequence[FinishedGem], shop: Shop) -> dict[str, str]:
    """What the gems weigh together: the thousandths are added, then stated once; never a sum of stated weights."""
    stated = state_total([gem.weight_ct for gem in gems], scale_step=shop.scale_step_ct)
    return {
        "weight_ct": format(stated, "f"),
        "count": str(len(gems)),
        "how": _("in total; each stone weighed by scale, added before rounding"),
    }


def matching_rows(match: Match, shop: Shop) -> list[dict[str, Any]]:
    """The spreads and colours in words, and whether each keeps its tolerance. Weights as the scale read them, never
    finer than its step."""
    places = 3 if shop.scale_step_ct < Decimal("0.01") else 2
    rows = [
        {
            "label": _label(spread),
            "text": _text(spread, places),
            "verdict": _verdict(spread, places),
            "outside": spread.within is False,
        }
        for spread in match.spreads
    ]
    if match.one_colour:
        text = match.colours[0][0]
        verdict = _("one description for all")
    else:
        text = "; ".join(f"{words} ({', '.join(codes)})" for words, codes in match.colours)
        verdict = _("described apart")
    return [*rows, {"label": _("Colour"), "text": text, "verdict": verdict, "outside": False}]


def kind_words(kind: str) -> str:
    """Pair, suite or matched parcel, in the language in force."""
    return {
        SuiteKind.PAIR: _("Pair"),
        SuiteKind.SUITE: _("Suite"),
        SuiteKind.PARCEL: _("Matched parcel"),
    }[SuiteKind(kind)]


def _label(spread: Spread) -> str:
    return {"length": _("Length"), "width": _("Width"), "depth": _("Depth"), "weight": _("Weight")}[
        spread.what
    ]


def _figure(spread: Spread, figure: Decimal, places: int) -> str:
    return say.with_unit(figure, spread.unit, places if spread.unit == "ct" else 2)


def _text(spread: Spread, places: int) -> str:
    if not spread.apart:
        return _("%(figure)s, alike") % {"figure": _figure(spread, spread.least, places)}
    return _("%(least)s to %(greatest)s, %(apart)s apart") % {
        "least": say.number(spread.least, places if spread.unit == "ct" else 2),
        "greatest": _figure(spread, spread.greatest, places),
        "apart": _figure(spread, spread.apart, places),
    }


def _verdict(spread: Spread, places: int) -> str:
    if spread.tolerance is None:
        return ""
    words = _("within %(tolerance)s") if spread.within else _("outside %(tolerance)s")
    return words % {
        "tolerance": _figure(spread, spread.tolerance, 3 if spread.tolerance % Decimal("0.01") else 2)
    }


def _member(gem: FinishedGem, card: dict[str, Any]) -> dict[str, Any]:
    weight, size = (fact["text"] for fact in card["facts"][:2])
    return {
        "gem": gem.code,
        "weight_ct": card["weight_ct"],
        "weight": weight,
        "size": size,
        "facts": [fact for fact in card["facts"][2:] if fact["text"] != gem.code],
        "drawing": drawing_of(gem),
        "statements": card["statements"],
    }


def _groups(cards: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Cards of which the same is said, together, with the codes of their gems."""
    groups: list[dict[str, Any]] = []
    for card in cards:
        said = {name: card[name] for name in ALIKE}
        known = next((group for group in groups if {name: group[name] for name in ALIKE} == said), None)
        if known is None:
            groups.append(said | {"gems": [card["gem"]]})
        else:
            known["gems"].append(card["gem"])
    return groups


def _clean(gems: Sequence[FinishedGem], text: str) -> str:
    for gem in gems:
        text = without_owners(gem, text)
    return text
