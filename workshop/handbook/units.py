"""Weights and lengths as people type them, and the exact factors between their units.

The carat is the metric carat of the 4th General Conference on Weights and Measures (1907): 200 mg, exactly.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from workshop.handbook.errors import NotANumber, OutOfRange, UnknownUnit

CARATS_IN: Final[dict[str, Decimal]] = {
    "ct": Decimal(1),
    "g": Decimal(5),
    "mg": Decimal("0.005"),
    "kg": Decimal(5000),
    "grain": Decimal("0.32399455"),
    "ozt": Decimal("155.517384"),
    "momme": Decimal("18.75"),
}
"""Carats in one unit, all exact. Carat: 4th CGPM (1907), 0.2 g. Grain: 64.79891 mg and troy ounce: 31.1034768
g, international yard and pound agreement of 1959 (NIST Handbook 44, appendix C). Momme: 3.75 g, the pearl
trade's weight. The grain here is the troy grain, not the pearl trade's grain of a quarter carat."""

MILLIMETRES_IN: Final[dict[str, Decimal]] = {"mm": Decimal(1), "cm": Decimal(10), "in": Decimal("25.4")}
"""Millimetres in one unit, all exact. Inch: international yard and pound agreement of 1959."""

HEAVIEST_CT: Final = Decimal(1_000_000)
"""Our own limit, 200 kg: anything above it is a slip of the finger, not a parcel."""

LONGEST_MM: Final = Decimal(1000)
"""Our own limit, one metre."""

_OTHER_NAMES: Final[dict[str, str]] = {
    "cts": "ct",
    "carat": "ct",
    "carats": "ct",
    "gram": "g",
    "grams": "g",
    "gramme": "g",
    "grammes": "g",
    "kilo": "kg",
    "kilos": "kg",
    "kilogram": "kg",
    "kilograms": "kg",
    "milligram": "mg",
    "milligrams": "mg",
    "grains": "grain",
    "mommes": "momme",
    "millimetre": "mm",
    "millimetres": "mm",
    "millimeter": "mm",
    "millimeters": "mm",
    "centimetre": "cm",
    "centimetres": "cm",
    "centimeter": "cm",
    "centimeters": "cm",
    "inch": "in",
    "inches": "in",
}

_THOUSANDTH: Final = Decimal("0.001")
_HUNDREDTH: Final = Decimal("0.01")
_MOST_DIGITS: Final = 20
_LONGEST_TEXT: Final = 60


@dataclass(frozen=True)
class Weight:
    """A weight in carats to 0.001, together with what was typed.

    ``ct`` is what the books keep; ``entered`` and ``unit`` are what the scale said.
    """

    ct: Decimal
    entered: Decimal
    unit: str


def parse_weight(text: str, *, unit: str | None = None) -> Weight:
    """Read a weight such as ``4.2 g``, ``21 ct``, ``1,5g``; a bare number is in ``unit``.

    A unit in the text beats ``unit``. Range: above 0 (after rounding to 0.001 ct) and up to 1,000,000 ct.

    Raises NotANumber, UnknownUnit, OutOfRange.

    >>> parse_weight("4,2 g")
    Weight(ct=Decimal('21.000'), entered=Decimal('4.2'), unit='g')
    """
    number, typed_unit = _part(text)
    entered = parse_number(number)
    if typed_unit is None and unit is None:
        raise UnknownUnit("Give the weight with a unit, such as 3.25 ct or 0.65 g.", known=tuple(CARATS_IN))
    known = weight_unit(typed_unit if typed_unit is not None else unit or "")
    carats = to_carats(entered, known)
    _check_range(carats, HEAVIEST_CT, _THOUSANDTH, "weight", "ct")
    return Weight(ct=to_thousandth(carats), entered=entered, unit=known)


def parse_length(text: str, *, unit: str = "mm") -> Decimal:
    """Read a length such as ``6.5``, ``6,50 mm``, ``1.2 cm``, ``0.25 in``; answer in millimetres to 0.01.

    Range: above 0 (after rounding to 0.01 mm) and up to 1000 mm.

    Raises NotANumber, UnknownUnit, OutOfRange.

    >>> parse_length("0.25 in")
    Decimal('6.35')
    """
    number, typed_unit = _part(text)
    known = _known(typed_unit or unit, MILLIMETRES_IN, "length", "6.50 mm")
    millimetres = parse_number(number) * MILLIMETRES_IN[known]
    _check_range(millimetres, LONGEST_MM, _HUNDREDTH, "length", "mm")
    return millimetres.quantize(_HUNDREDTH, ROUND_HALF_UP)


def parse_number(text: str) -> Decimal:
    """Read one plain number, as written with a decimal comma or a decimal point.

    One mark alone is the decimal mark (``1,234`` is a little over one). Where comma and point both stand, the
    last is the decimal mark and the other marks thousands. Spaces (also thin and no-break ones) and
    apostrophes mark thousands; marks of thousands must stand between full groups of three. Digits of any
    script are read; exponents, ``nan``, ``inf``, fractions and two decimal marks are refused.

    Raises NotANumber.

    >>> parse_number("1 234,5"), parse_number("1,234.5"), parse_number("1'234.5")
    (Decimal('1234.5'), Decimal('1234.5'), Decimal('1234.5'))
    """
    if len(text) > _LONGEST_TEXT:
        raise _not_a_number(text)
    plain = _in_ascii(text).strip()
    sign, digits = ("-", plain[1:].lstrip()) if plain[:1] == "-" else ("", plain.removeprefix("+").lstrip())
    whole, fraction = _halves(digits, text)
    if not re.fullmatch(r"\d*", fraction) or not (whole or fraction):
        raise _not_a_number(text)
    whole = _without_thousands(whole, text)
    if len(whole) + len(fraction) > _MOST_DIGITS:
        raise NotANumber(f"That number has more than {_MOST_DIGITS} digits; please check it.", text=text)
    return Decimal(f"{sign}{whole or '0'}.{fraction}" if fraction else f"{sign}{whole}")


def to_carats(value: Decimal, unit: str) -> Decimal:
    """``value`` of ``unit`` in carats, exact and unrounded. Raises UnknownUnit.

    >>> to_carats(Decimal("2.36"), "g")
    Decimal('11.80')
    """
    return value * CARATS_IN[weight_unit(unit)]


def from_carats(ct: Decimal, unit: str) -> Decimal:
    """``ct`` carats in ``unit``, unrounded: exact for ct, g, mg and kg, to 28 digits for the others.

    Raises UnknownUnit.

    >>> from_carats(Decimal("21.30"), "g")
    Decimal('4.26')
    """
    return ct / CARATS_IN[weight_unit(unit)]


def to_thousandth(ct: Decimal) -> Decimal:
    """Carats to 0.001, half up: the one door through which a computed weight becomes a kept one."""
    return ct.quantize(_THOUSANDTH, ROUND_HALF_UP)


def weight_unit(name: str) -> str:
    """The house's own short name of a weight unit (``grams`` is ``g``). Raises UnknownUnit."""
    return _known(name, CARATS_IN, "weight", "3.25 ct or 0.65 g")


LEAST_KEPT: Final = Decimal("0.15")
"""The least share of a stone that one step at the bench is expected to leave. Our own limit, set below the
lowest recovery published for the whole way from rough to gem in custom cutting, 20 %
<http://www.birthstones.mysite.com/YieldRecoveryEstimationSithyGems.html>.
"""


def looks_tenfold(new: Decimal, last: Decimal) -> Decimal | None:
    """The weight that was probably meant, when the decimal point of ``new`` has probably slipped; else None.

    Down: ``new`` is a tenth of ``last`` or less, so ten times ``new`` is still no more than ``last``.
    Up: ``new`` is above ``last`` (a stone does not grow) and a tenth of it is a believable next weight, from
    ``LEAST_KEPT`` of ``last`` up to ``last`` itself. A weight a little above the last one is some other
    mistake. Both in the same unit, both above zero.

    >>> looks_tenfold(Decimal("62.4"), Decimal("6.50")), looks_tenfold(Decimal("0.624"), Decimal("6.50"))
    (Decimal('6.24'), Decimal('6.240'))
    """
    if new <= 0 or last <= 0:
        return None
    if new * 10 <= last:
        return new * 10
    if new > last and LEAST_KEPT * last <= new / 10 <= last:
        return new / 10
    return None


def _part(text: str) -> tuple[str, str | None]:
    """Number and unit of a typed measure; the unit is the run of letters at the end."""
    if len(text) > _LONGEST_TEXT:
        raise _not_a_number(text)
    unit = re.search(r"[^\W\d_]+\.?$", text.strip())
    number = text.strip()[: unit.start()] if unit else text
    if not number.strip():
        raise _not_a_number(text)
    return number, unit[0] if unit else None


def _known(name: str, units: dict[str, Decimal], what: str, example: str) -> str:
    plain = name.strip().rstrip(".").casefold()
    if plain == "gr":
        raise UnknownUnit(
            'Some read "gr" as gram, some as grain: please write g or grain.', known=tuple(units), unit=name
        )
    plain = _OTHER_NAMES.get(plain, plain)
    if plain not in units:
        raise UnknownUnit(
            f'"{name}" is not a unit of {what} known here; give the {what} as in {example}. '
            f"Known units: {', '.join(units)}.",
            known=tuple(units),
            unit=name,
        )
    return plain


def _check_range(value: Decimal, most: Decimal, step: Decimal, what: str, unit: str) -> None:
    if value < step / 2:
        raise OutOfRange(
            f"A {what} must be above zero; the least that is kept is {step} {unit}.", value=value
        )
    if value > most:
        raise OutOfRange(
            f"A {what} above {most:,} {unit} cannot be right; please check the point.", value=value
        )


_MARKS: Final = {
    "\N{MINUS SIGN}": "-",
    "\N{FULLWIDTH HYPHEN-MINUS}": "-",
    "\N{FULLWIDTH PLUS SIGN}": "+",
    "\N{FULLWIDTH COMMA}": ",",
    "\N{FULLWIDTH FULL STOP}": ".",
    "\N{ARABIC DECIMAL SEPARATOR}": ".",
    "\N{ARABIC THOUSANDS SEPARATOR}": "'",
    "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "\N{MODIFIER LETTER APOSTROPHE}": "'",
    "\N{NO-BREAK SPACE}": " ",
    "\N{NARROW NO-BREAK SPACE}": " ",
    "\N{THIN SPACE}": " ",
    "\N{FIGURE SPACE}": " ",
    # Keyboards that write from right to left put these unseen marks around a number.
    "\N{LEFT-TO-RIGHT MARK}": "",
    "\N{RIGHT-TO-LEFT MARK}": "",
    "\N{ARABIC LETTER MARK}": "",
}


def _in_ascii(text: str) -> str:
    """Digits of any script as 0-9, and the known marks in one spelling; all else as it came."""
    return "".join(
        str(unicodedata.decimal(sign)) if sign.isdecimal() else _MARKS.get(sign, sign) for sign in text
    )


def _halves(digits: str, text: str) -> tuple[str, str]:
    """Before and after the decimal mark, which is the last of comma and point."""
    at = max(digits.rfind(","), digits.rfind("."))
    if at < 0:
        return digits, ""
    if digits.count(digits[at]) > 1:
        raise NotANumber(
            f'"{text.strip()}" has the mark "{digits[at]}" more than once; '
            "type the number without marks of thousands, such as 1234.5.",
            text=text,
        )
    return digits[:at], digits[at + 1 :]


def _without_thousands(whole: str, text: str) -> str:
    if re.fullmatch(r"\d*", whole):
        return whole
    if re.fullmatch(r"\d{1,3}(?:([ ',.])\d{3})(?:\1\d{3})*", whole):
        return re.sub(r"\D", "", whole)
    raise _not_a_number(text)


def _not_a_number(text: str) -> NotANumber:
    shown = text.strip()
    return NotANumber(
        f'"{shown[:40]}" is not a number; type digits with one decimal point or comma, such as 3.25.'
        if shown
        else "A number is missing here; type digits, such as 3.25.",
        text=text,
    )
