"""How figures are said on a page: a unit that never leaves its figure, days in the shop's order, a dash for nothing.

These only show; they round half up for the eye. Rounding that counts (money owed, a weight on a card) happens
behind the handbook's doors before a figure gets here.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Any

from django.utils import formats, timezone
from django.utils.translation import get_language, pgettext

from workshop.handbook.errors import HandbookError
from workshop.handbook.money import digits

# A space that does not break, so that a figure and its unit stay on one line (SI brochure, 9th ed., 5.4.3).
GAP = "\u00a0"
DASH = "\u2014"
MINUS = "\u2212"

# One order of day, month and hour for everyone: the month as a word cannot be mistaken for the day.
DAY, HOUR = "j M Y", "H:i"

# 1 ct = 0.2 g exactly (the metric carat, 4th General Conference on Weights and Measures, 1907).
GRAMS_PER_CARAT = Decimal("0.2")


def nothing(value: Any) -> bool:
    """Whether there is no figure to show; zero is a figure."""
    return value is None or value == ""


def as_decimal(value: Any) -> Decimal | None:
    """The figure as a Decimal, or None when it is not one."""
    try:
        read = Decimal(str(value))
    except InvalidOperation:
        return None
    return read if read.is_finite() else None


def number(value: Any, places: int | None = None) -> str:
    """A figure with grouped thousands in the reader's format; a dash for nothing."""
    if nothing(value):
        return DASH
    read = as_decimal(value)
    if read is None:
        return str(value)
    if places is not None:
        read = read.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    if read.is_zero():
        read = abs(read)
    shown = formats.number_format(abs(read), decimal_pos=places, use_l10n=True, force_grouping=True)
    return f"{MINUS}{shown}" if read < 0 else shown


def with_unit(value: Any, unit: str, places: int | None) -> str:
    """A figure with its unit; a dash alone for nothing."""
    return DASH if nothing(value) else f"{number(value, places)}{GAP}{unit}"


def carats(value: Any, places: int | None = 3) -> str:
    """12.345 ct."""
    return with_unit(value, "ct", places)


def grams(value: Any, places: int = 3) -> str:
    """The grams of a weight in carats: 2.469 g."""
    read = None if nothing(value) else as_decimal(value)
    return DASH if read is None else with_unit(read * GRAMS_PER_CARAT, "g", places)


def carats_and_grams(value: Any, places: int = 3) -> str:
    """12.345 ct (2.469 g)."""
    return DASH if nothing(value) else f"{carats(value, places)} ({grams(value, places)})"


def millimetres(value: Any, places: int = 2) -> str:
    """6.52 mm."""
    return with_unit(value, "mm", places)


def percent(value: Any, places: int = 1) -> str:
    """34.6 %, of a figure that is already per cent."""
    return with_unit(value, "%", places)


def money(amount: Any, currency: str = "") -> str:
    """1,234.50 EUR; takes a bare amount, or one that carries its currency."""
    carried = getattr(amount, "currency", "")
    bare = getattr(amount, "amount", amount)
    code = str(carried or currency)
    if nothing(bare):
        return DASH
    return with_unit(bare, code, _places_of(code)) if code else number(bare, 2)


def _places_of(currency: str) -> int:
    try:
        return digits(currency)
    except HandbookError:
        return 2


def hours(value: Any) -> str:
    """A length of time as the bench says it: 1 h 25, 25 min, 40 s."""
    if nothing(value):
        return DASH
    seconds = as_decimal(value.total_seconds() if isinstance(value, timedelta) else value)
    if seconds is None:
        return str(value)
    whole = int(abs(seconds))
    sign = MINUS if seconds < 0 else ""
    if 0 < whole < 60:
        return f"{sign}{whole}{GAP}s"
    minutes = (whole + 30) // 60
    if minutes < 60:
        return f"{sign}{minutes}{GAP}min"
    return f"{sign}{number(minutes // 60)}{GAP}h{GAP}{minutes % 60:02d}"


def moment(value: date | datetime | None, part: str = "") -> str:
    """A day or a moment in the zone that is in force: 25 Nov 2026, 10:31. ``part``: date, time or both."""
    if value is None or nothing(value):
        return DASH
    if not isinstance(value, datetime):
        return formats.date_format(value, _day_format())
    here = timezone.localtime(value) if timezone.is_aware(value) else value
    day = _day_format()
    return formats.date_format(here, {"date": day, "time": HOUR}.get(part, f"{day}, {HOUR}"))


def language() -> str:
    """The language in force, as papers name it: en, de."""
    return (get_language() or "en").partition("-")[0]


def _day_format() -> str:
    # Pages are English and read "j M Y"; a paper in another language has the order of its own.
    return pgettext("a day, as the date filter of Django spells it", DAY)
