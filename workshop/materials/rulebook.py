"""The rules of disclosure as a reader sees them: words, outcome, source, and what is only from memory."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from .reference import Source
from .sources import SOURCES, cited
from .words import all_rules


@dataclass(frozen=True)
class RuleRow:
    """One rule on the help page."""

    about: str
    outcome: str
    rule: str
    advice: str
    sources: list[Source]
    from_memory: bool


def word_rules() -> list[RuleRow]:
    """The linter's rules, then those about weights and codes that live in their own chapters."""
    rows = [
        RuleRow(
            one.about, one.outcome, one.rule, one.advice,
            [SOURCES[key] for key in one.sources] or cited(one.rule), one.from_memory,
        )
        for one in all_rules()
    ]  # fmt: skip
    return rows + [
        RuleRow(about, outcome, rule, advice, [SOURCES[key] for key in keys], False)
        for about, outcome, rule, advice, keys in _ELSEWHERE
    ]


_ELSEWHERE: Final = (
    ("points, pt, without carats", "blocks", "16 CFR 23.18(b)", "Give decimal carats too: 25 points (0.25 ct).",
     ["cfr18"]),
    ("1/2 ct and other fractions", "blocks without “weight not exact” and the range", "16 CFR 23.18(d)",
     "Give the decimal weight, or the range beside the fraction.", ["cfr18"]),
    ("decimal carats that the scale does not bear out", "blocks", "16 CFR 23.18(c)",
     "Write the weight as weighed: .5 covers .495 to .504.", ["cfr18"]),
    ("a trade letter code without edition or plain words", "blocks", "AGTA Gemstone Information Manual",
     "Name the edition of the list; the plain words stand beside it. V, A and FH are no letters of it.",
     ["codes", "gemsoc"]),
    ("the code N", "blocks below a laboratory report, and on anything treated", "house rule: the code N",
     "N is the seller's guarantee that nothing was done.", ["codes"]),
)  # fmt: skip

#: How the sentences of a paper are made: what, by whose rule, and whether that is read or our own.
SENTENCES: Final[tuple[tuple[str, str, list[str], bool], ...]] = (
    ("Nature, treatment, variety, species stand in this order in the name line, in one size of type.",
     "16 CFR 23.1 note 2, 23.25(b); the order is a house rule", ["cfr1", "cfr25"], False),
    ("Nothing is issued while nature, species or treatment is an open question.", "house rule", [], False),
    ("What nobody tested is printed as not tested; silence never prints as natural or untreated.",
     "house rule; CIBJO 2017 on the word natural", ["cibjo2017"], False),
    ("“Natural” needs a gemmologist, a laboratory, or a written word with the rough's photographs, where a grown twin "
     "shares the readings.", "house rule after 16 CFR 23.25(c)", ["cfr25"], False),
    ("Every treatment is told with whether it lasts, whether it needs special care, and whether it affects the value.",
     "16 CFR 23.24(a)-(c)", ["cfr24"], False),
    ("Specific treatments (dye, coating, irradiation, diffusion, glass, impregnation, laser) stand before the name.",
     "CIBJO specific disclosure; decree 2002-65 art. 2", ["cibjo", "fr2"], False),
    ("Heating and colourless oil are told in their line, not in the name.", "CIBJO general disclosure; decree art. 3",
     ["cibjo", "fr3"], False),
    ("A laboratory speaks of one day: its date stands beside its finding.", "house rule after SSEF", ["ssef"], False),
    ("Origin is reported in writing or an opinion, never a bare fact.", "16 CFR 23.1; house rule",
     ["cfr1", "igl"], False),
    ("A product with filler or binder says that it has not the characteristics of the stone it resembles, and that it "
     "needs special care.", "16 CFR 23.25(d)(4), first half from memory", ["cfr25", "jck2018"], True),
    ("Irradiated stones: keep the release document (US).", "US NRC", ["nrc"], False),
    ("A picture says that it is not to scale and how large the stone is.", "16 CFR 23.1 note 3", ["cfr1"], False),
    ("The hundredth of a carat rises only when the thousandth is a nine.", "GIA; house rule for coloured stones",
     [], False),
)  # fmt: skip


def sentence_rules() -> list[dict[str, object]]:
    """How a paper's own sentences come about."""
    return [
        {"text": text, "rule": rule, "sources": [SOURCES[key] for key in keys], "from_memory": from_memory}
        for text, rule, keys, from_memory in SENTENCES
    ]
