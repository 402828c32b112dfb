"""Weights and sizes as they are stated on paper, and carats estimated from millimetres.

Statements follow the weighing rules of the trade (GIA: the hundredth is raised only when the thousandth is a
nine) and the FTC Guides for the Jewelry Industry, 16 CFR 23.18. Those guides are written for diamonds in the
United States; the house applies them to every stone, and local law comes first. Estimates use the constants
of ``tables/weight_constants.tsv``, each beside its source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_DOWN, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from itertools import pairwise
from typing import Final

from workshop.handbook.errors import DoesNotAddUp, OutOfRange
from workshop.handbook.tables import rows

THOUSANDTH: Final = Decimal("0.001")
HUNDREDTH: Final = Decimal("0.01")
TENTH: Final = Decimal("0.1")

LEAST_STATED: Final = Decimal("0.009")
"""The least weight that ``state_weight`` does not state as nothing, in carats."""

MM3_PER_CARAT: Final = Decimal(200)
"""Cubic millimetres in one carat of water-dense matter, exact: 1 ct = 0.2 g and 1 g/cm3 = 0.001 g/mm3."""

NEARLY_ROUND_PERCENT: Final = Decimal("1.54")
"""Least and greatest diameter of a round stone differ by no more than this, in per cent of their mean: 0.10
mm on 6.50 mm, a figure of buyers' guides for diamond, from memory."""

ESTIMATE_SPREAD: Final = Decimal("0.10")
"""An estimate from size is good to about 10 %, some say 15 %. Source: How to determine carat weight of
heart-shaped diamonds by measurements
<https://www.jewelrynotes.com/determine-carat-weight-of-heart-shaped-diamonds-by-measurements/>.
"""


def state_weight(ct: Decimal, *, scale_step: Decimal = THOUSANDTH) -> Decimal:
    """A weight as it may stand on paper, in carats to 0.01 and never finer than the scale.

    Everything behind the thousandth is cut off, and the hundredth is raised only when the thousandth is a
    nine. A scale that reads in steps above 0.01 ct gives one decimal, above 0.1 ct none, cut off. What is
    printed exceeds the truth by at most 0.001 ct. Source: GIA, How is diamond carat weight rounded?
    <https://www.gia.edu/gia-faq-analysis-grading-diamond-carat-weight-rounded>; for coloured stones the same,
    AGL Thai <http://aglthai.com/carat_weight.php>.

    Raises OutOfRange below 0.009 ct, which would be stated as nothing, and for a step <= 0.

    >>> state_weight(Decimal("1.768")), state_weight(Decimal("1.769")), state_weight(Decimal("1.7689"))
    (Decimal('1.76'), Decimal('1.77'), Decimal('1.76'))
    """
    if scale_step <= 0:
        raise OutOfRange("A scale's step must be above zero.", scale_step=scale_step)
    if scale_step > HUNDREDTH:
        place = TENTH if scale_step <= TENTH else Decimal(1)
        stated = ct.quantize(place, ROUND_FLOOR)
    else:
        thousandths = int((ct / THOUSANDTH).to_integral_value(ROUND_FLOOR))
        stated = Decimal((thousandths + 1) // 10).scaleb(-2)
    if stated <= 0:
        raise OutOfRange(f"{ct} ct is too little to state in this way; weigh several stones together.", ct=ct)
    return stated


def state_total(cts: Sequence[Decimal], *, scale_step: Decimal = THOUSANDTH) -> Decimal:
    """The stated weight of several stones together: added as weighed, then stated once.

    Common practice, no source; stating each and adding would understate a parcel of ten by almost a tenth of
    a carat. Raises OutOfRange as ``state_weight``, and for no stones at all.

    >>> state_total([Decimal("0.478"), Decimal("0.478"), Decimal("0.478")])
    Decimal('1.43')
    """
    return state_weight(sum(cts, Decimal(0)), scale_step=scale_step)


def state_length(mm: Decimal) -> Decimal:
    """A length as it may stand on paper, in millimetres to 0.01, half up (laboratories give 0.01 mm).

    Source: Report terminology <https://gemologyresources.com/report-description>. Raises OutOfRange for <= 0.

    >>> state_length(Decimal("6.5")), state_length((Decimal("3.54") + Decimal("3.57")) / 2)
    (Decimal('6.50'), Decimal('3.56'))
    """
    stated = mm.quantize(HUNDREDTH, ROUND_HALF_UP)
    if stated <= 0:
        raise OutOfRange("A length must be above zero.", mm=mm)
    return stated


def looks_round(least: Decimal, greatest: Decimal) -> bool:
    """Whether two diameters of one stone are near enough to call its outline round: see NEARLY_ROUND_PERCENT.

    Raises OutOfRange unless 0 < least <= greatest.

    >>> looks_round(Decimal("8.20"), Decimal("8.31")), looks_round(Decimal("8.20"), Decimal("8.40"))
    (True, False)
    """
    if not 0 < least <= greatest:
        raise OutOfRange("Give the least diameter first, above zero.", least=least, greatest=greatest)
    return 100 * (greatest - least) / ((least + greatest) / 2) <= NEARLY_ROUND_PERCENT


def recovery_percent(finished: Decimal, start: Decimal) -> Decimal:
    """What is left, in per cent of what there was, to 0.1 half up. Any one unit for both.

    Raises OutOfRange for ``start`` <= 0 or ``finished`` < 0; DoesNotAddUp when more is left than there was.

    >>> recovery_percent(Decimal("6.38"), Decimal("21.30"))
    Decimal('30.0')
    """
    return _percent(finished, finished, start)


def loss_percent(finished: Decimal, start: Decimal) -> Decimal:
    """What is gone, in per cent of what there was, to 0.1 half up; the rules of ``recovery_percent``.

    >>> loss_percent(Decimal("2.71"), Decimal("3.46"))
    Decimal('21.7')
    """
    return _percent(start - finished, finished, start)


def _percent(part: Decimal, finished: Decimal, start: Decimal) -> Decimal:
    if start <= 0 or finished < 0:
        raise OutOfRange("Weights must be above zero to be compared.", finished=finished, start=start)
    if finished > start:
        raise DoesNotAddUp(
            f"{finished} is more than the {start} it came from; correct one of the weights.",
            finished=finished,
            start=start,
        )
    return (100 * part / start).quantize(TENTH, ROUND_HALF_UP)


@dataclass(frozen=True)
class WeightFault:
    """One fault of a printed weight: the rule, the words that break it, and what to write instead."""

    rule: str
    words: str
    advice: str


_CARATS: Final = r"(?:ct|cts|carats?)\b"
_DECIMAL_CARATS: Final = re.compile(rf"(?P<number>\d*[.,]\d+)\s*{_CARATS}", re.IGNORECASE)
_POINTS: Final = re.compile(r"\b\d+(?:[.,]\d+)?\s*-?\s*(?:pts?|points?|pointers?)\b", re.IGNORECASE)
_PART: Final = r"(?:\d+\s*/\s*\d+|[¼½¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚]|\b(?:half|third|quarter|three[ -]quarters?))"
_FRACTION: Final = re.compile(rf"{_PART}\s*-?\s*(?:of\s+)?(?:an?\s+)?{_CARATS}", re.IGNORECASE)
_RANGE: Final = re.compile(r"\d*[.,]\d+\s*(?:ct|carats?)?\s*(?:-|–|to|and)\s*\d*[.,]\d+", re.IGNORECASE)
_NOT_EXACT: Final = re.compile(r"\bnot\s+exact\b", re.IGNORECASE)


def weight_statement_faults(text: str, *, weighed_ct: Decimal | None = None) -> list[WeightFault]:
    """What is wrong with the weights in a text that is to be printed; an empty list when nothing is.

    Points only together with the decimal carat (16 CFR 23.18(b)); a fraction only with "not exact" and its
    range beside it (23.18(d)); and, when ``weighed_ct`` is given, a decimal weight right to its last place,
    one decimal to the second (23.18(c): .5 covers .495 to .504). Two decimals may also be the stone's own
    stated weight, which is never the higher one by more than 0.001 ct. When a text names several weights
    (rough and gem), one must agree.

    >>> [fault.rule for fault in weight_statement_faults("25 pt")]
    ['16 CFR 23.18(b)']
    >>> weight_statement_faults("25 points (0.25 ct)")
    []
    """
    faults = []
    decimals = [match["number"].replace(",", ".") for match in _DECIMAL_CARATS.finditer(text)]
    if (points := _POINTS.search(text)) and not decimals:
        faults.append(
            WeightFault("16 CFR 23.18(b)", points[0], "Give decimal carats too, such as 25 points (0.25 ct).")
        )
    if (fraction := _FRACTION.search(text)) and not (_NOT_EXACT.search(text) and _RANGE.search(text)):
        faults.append(
            WeightFault(
                "16 CFR 23.18(d)",
                fraction[0],
                'Give the decimal weight, or write "weight not exact" with the range beside the fraction.',
            )
        )
    if weighed_ct is not None and decimals and not any(_is_true(number, weighed_ct) for number in decimals):
        faults.append(
            WeightFault(
                "16 CFR 23.18(c)",
                f"{decimals[0]} ct",
                f"The stone weighs {weighed_ct} ct: write {_safe(weighed_ct)} ct.",
            )
        )
    return faults


def _is_true(number: str, weighed_ct: Decimal) -> bool:
    stated = Decimal(number)
    places = len(number.split(".")[1])
    if places == 2 and stated == _safe(weighed_ct):
        return True
    half = Decimal(5).scaleb(-max(places, 2) - 1)
    return stated - half <= weighed_ct < stated + half


def _safe(weighed_ct: Decimal) -> Decimal:
    """The stated weight, without the refusal of very small stones."""
    if weighed_ct < LEAST_STATED:
        return weighed_ct.quantize(THOUSANDTH, ROUND_DOWN)
    return state_weight(weighed_ct)


def carats_from_volume(mm3: Decimal, sg: Decimal) -> Decimal:
    """Carats of a volume in cubic millimetres at a specific gravity, unrounded. Raises OutOfRange for <= 0.

    >>> carats_from_volume(Decimal(250), Decimal("3.51"))
    Decimal('4.3875')
    """
    if mm3 <= 0 or sg <= 0:
        raise OutOfRange("Volume and specific gravity must be above zero.", mm3=mm3, sg=sg)
    return mm3 * sg / MM3_PER_CARAT


@dataclass(frozen=True)
class PublishedEstimate:
    """Carats by one published constant, unrounded, good to about ``ESTIMATE_SPREAD``.

    ``basis`` says how the millimetres enter; ``from_memory`` that the constant could not be read in a source.
    """

    ct: Decimal
    constant: Decimal
    basis: str
    source: str
    from_memory: bool = False


Measure = Callable[[Decimal, Decimal, Decimal], Decimal]

_PI: Final = Decimal("3.141592653589793238462643383")

_MEASURES: Final[dict[str, tuple[str, Measure]]] = {
    "lwd": ("length x width x depth", lambda length, width, depth: length * width * depth),
    "mean_d2": (
        "average of length and width, squared, x depth",
        lambda length, width, depth: ((length + width) / 2) ** 2 * depth,
    ),
    "cap": (
        "round dome as a cap of a sphere",
        lambda length, width, depth: (
            _PI / 6 * depth * (Decimal("0.75") * length * width + depth**2) / MM3_PER_CARAT
        ),
    ),
    "drop": (
        "half a sphere and a cone on it",
        lambda length, width, depth: (
            _PI / 12 * width * depth * (length + (width + depth) / 4) / MM3_PER_CARAT
        ),
    ),
}
"""How millimetres enter a constant. ``cap`` and ``drop`` carry carats per unit SG themselves, with constant
1:
cap of a sphere pi h (3 a^2 + h^2) / 6 (https://constructionwork.com/resource/volume), drop pi/12 D^2 (L +
D/2), derived.
"""


def estimates_from_size(
    outline: str,
    length: Decimal,
    width: Decimal,
    depth: Decimal,
    sg: Decimal,
    *,
    correction: Decimal = Decimal(1),
) -> list[PublishedEstimate]:
    """Carats of a coloured stone by every published constant for its outline, side by side, lightest first.

    Millimetres over all; for a round, length and width are the two diameters; for a cabochon the depth is its
    height; for a briolette width and depth are its two diameters. ``correction`` is the judge's own factor
    for belly or girdle (published: belly 1.02-1.06, girdle 1.03-1.08, shoulders up to 1.10). An outline
    without a published constant (kite, shield, polygon) gives an empty list: weigh it, or compute the solid.

    Raises OutOfRange for sizes or ``sg`` <= 0 and for a correction outside 0.90-1.15.
    """
    _check_size(length, width, depth)
    if sg <= 0:
        raise OutOfRange("A specific gravity must be above zero.", sg=sg)
    if not Decimal("0.90") <= correction <= Decimal("1.15"):
        raise OutOfRange("A correction for belly and girdle lies in 0.90 to 1.15.", correction=correction)
    found = [
        _estimate(row, length, width, depth, sg * correction)
        for row in rows("weight_constants")
        if row["family"] == "coloured" and row["outline"] == outline
    ]
    if outline == "cabochon" and depth > min(length, width) / 2:
        found = [estimate for estimate in found if "cap of a sphere" not in estimate.basis]
    return sorted(found, key=lambda estimate: estimate.ct)


BELIEF: Final = Decimal("0.30")
"""A weight this far outside all estimates from size asks for a second look: three times ``ESTIMATE_SPREAD``,
the house's own choice."""


def believable_weights(
    outline: str, length: Decimal, width: Decimal, depth: Decimal, sg: Decimal
) -> tuple[Decimal, Decimal]:
    """Between which carats a coloured stone of this size may well weigh, for catching slips of the pen.

    From ``BELIEF`` below the lightest published estimate to ``BELIEF`` above the heaviest. An outline without
    a published constant gets the bounds of geometry: no stone fills more than its box, and a pyramid on a
    triangle, the slimmest cut, fills a sixth of it. Raises as ``estimates_from_size``.

    >>> low, high = believable_weights("oval", Decimal("9.12"), Decimal("7.04"), Decimal("5.20"), Decimal("3.06"))
    >>> f"{low:.2f} to {high:.2f}"
    '1.43 to 2.70'
    """
    found = [estimate.ct for estimate in estimates_from_size(outline, length, width, depth, sg)]
    if not found:
        box = carats_from_volume(length * width * depth, sg)
        return box / 6, box
    return min(found) * (1 - BELIEF), max(found) * (1 + BELIEF)


def diamond_estimates_from_size(
    outline: str, length: Decimal, width: Decimal, depth: Decimal, *, girdle: str = "medium"
) -> list[PublishedEstimate]:
    """Carats of a diamond by every published factor for its outline, lightest first; its density is in the
    factor.

    Pear, marquise and step cut have a factor by length to width: both the nearest printed ratio and the
    straight line between the two printed neighbours are given. ``girdle`` is one of the names in
    ``tables/diamond_girdles.tsv``.

    Raises OutOfRange for sizes <= 0, a ratio or width outside the printed ones, or an unknown girdle.
    """
    _check_size(length, width, depth)
    sized = girdle_multiplier(girdle, width)
    listed = [
        row for row in rows("weight_constants") if row["family"] == "diamond" and row["outline"] == outline
    ]
    found = [_estimate(row, length, width, depth, sized) for row in listed if not row["ratio"]]
    by_ratio = [row for row in listed if row["ratio"]]
    if by_ratio:
        ratio = max(length, width) / min(length, width)
        nearest = min(by_ratio, key=lambda row: abs(Decimal(row["ratio"]) - ratio))
        between = nearest | {"constant": str(_between(by_ratio, ratio))}
        found += [
            _estimate(nearest, length, width, depth, sized, f"factor of {nearest['ratio']}:1, the nearest"),
            _estimate(
                between, length, width, depth, sized, f"factor between the printed ones, {ratio:.2f}:1"
            ),
        ]
    return sorted(found, key=lambda estimate: estimate.ct)


def girdle_multiplier(girdle: str, width: Decimal) -> Decimal:
    """What a diamond's girdle does to its estimated weight, by its width in mm (the width, not the length).

    The source prints columns for 3.1-4.1, 4.15-6.90 and 7 mm upwards; the gaps are halved. Below 3.1 mm only
    "medium" (1) is known.

    Raises OutOfRange for an unknown girdle or a width below the columns.

    >>> girdle_multiplier("medium to thick", Decimal("6.05"))
    Decimal('1.02')
    """
    row = next((row for row in rows("diamond_girdles") if row["girdle"] == girdle), None)
    if row is None:
        known = ", ".join(row["girdle"] for row in rows("diamond_girdles"))
        raise OutOfRange(f'"{girdle}" is not a girdle of the table; known: {known}.', girdle=girdle)
    if width < Decimal("3.1") and girdle != "medium":
        raise OutOfRange("The girdle table begins at 3.1 mm; take medium below that.", width=width)
    column = "small" if width < Decimal("4.125") else "middle" if width < Decimal("6.95") else "large"
    return Decimal(row[column])


def _between(listed: Sequence[dict[str, str]], ratio: Decimal) -> Decimal:
    points = sorted((Decimal(row["ratio"]), Decimal(row["constant"])) for row in listed)
    if not points[0][0] <= ratio <= points[-1][0]:
        raise OutOfRange(
            f"Factors are printed for {points[0][0]} to {points[-1][0]} widths, not {ratio:.2f}.",
            ratio=ratio,
        )
    for (low, at_low), (high, at_high) in pairwise(points):
        if ratio <= high:
            return at_low + (at_high - at_low) * (ratio - low) / (high - low)
    return points[-1][1]


def _estimate(
    row: dict[str, str], length: Decimal, width: Decimal, depth: Decimal, factor: Decimal, remark: str = ""
) -> PublishedEstimate:
    words, measure = _MEASURES[row["measure"]]
    constant = Decimal(row["constant"])
    said = [words, *filter(None, (row["note"], remark))]
    return PublishedEstimate(
        ct=measure(length, width, depth) * constant * factor,
        constant=constant,
        basis="; ".join(said),
        source=row["source"],
        from_memory=row["from_memory"] == "yes",
    )


def _check_size(length: Decimal, width: Decimal, depth: Decimal) -> None:
    if length <= 0 or width <= 0 or depth <= 0:
        raise OutOfRange("Length, width and depth must be above zero.", size=(length, width, depth))
