"""The load of the bench as SVG: a frame for the hours of each week, filled by what is promised and quoted.

Drawn like the charts of the house: 360 wide, in ``currentColor``, every figure written out. Promised hours are solid,
quoted ones hatched by an outline, and what reaches past the hours of a week carries a word and a sign.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from workshop.common import say

from .load import Week

WIDTH, LEFT, ROW, BAR = 360, 8, 50.0, 12.0
OVER = "▲"


def load_chart(weeks: Sequence[Week]) -> str:
    """The weeks from above to below; the longest of all hours reaches across."""
    most = max((_reach(week) for week in weeks), default=0) or 1
    scale = (WIDTH - 2 * LEFT) / most
    rows = [_row(week, ROW * place, scale) for place, week in enumerate(weeks)]
    height = ROW * max(1, len(weeks))
    told = "; ".join(f"week of {_day(week)}: {_words(week)}" for week in weeks)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="record-chart" role="img" width="{WIDTH}" '
        f'height="{height:g}" viewBox="0 0 {WIDTH} {height:g}"><title>Hours of the bench, week by week</title>'
        f'<desc>{escape(told)}</desc><g fill="none" stroke="currentColor" font-size="13">{"".join(rows)}</g></svg>'
    )


def _reach(week: Week) -> int:
    return max(week.available or 0, week.promised_seconds + week.quoted_seconds)


def _row(week: Week, y: float, scale: float) -> str:
    promised, quoted = week.promised_seconds * scale, week.quoted_seconds * scale
    bar = f'height="{BAR:g}" y="{y + 26:g}"'
    drawn = [
        _text(LEFT, y + 18, _day(week), weight="600"),
        _text(WIDTH - LEFT, y + 18, _words(week), anchor="end"),
    ]
    if week.available:
        drawn.append(f'<rect {bar} x="{LEFT}" width="{week.available * scale:.1f}" stroke-opacity="0.45"/>')
    if promised:
        drawn.append(
            f'<rect class="bar" {bar} x="{LEFT}" width="{promised:.1f}" fill="currentColor" stroke="none"/>'
        )
    if quoted:
        drawn.append(
            f'<rect {bar} x="{LEFT + promised:.1f}" width="{quoted:.1f}" fill="currentColor" fill-opacity="0.2" '
            'stroke-dasharray="3 2"/>'
        )
    if week.is_overfull and week.available is not None:
        edge = LEFT + week.available * scale
        drawn.append(f'<path d="M{edge:.1f} {y + 22:g}v{BAR + 8:g}" stroke-width="2"/>')
    return "".join(drawn)


def _day(week: Week) -> str:
    return f"{week.monday.day} {week.monday:%b}"


def _words(week: Week) -> str:
    promised = say.hours(week.promised_seconds)
    if week.available is None:
        return f"{promised} promised" if week.promised else "hours not said"
    if not week.available and not week.promised:
        told = week.note or "no bench"
    elif not week.promised:
        told = f"{say.hours(week.available)} free"
    else:
        told = f"{promised} of {say.hours(week.available)}"
    if week.quoted:
        told += f" + {say.hours(week.quoted_seconds)} quoted"
    return f"{OVER} {told}, {week.verdict[0]}" if week.is_overfull or week.is_short else told


def _text(x: float, y: float, words: str, *, anchor: str = "start", weight: str = "400") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" font-weight="{weight}" fill="currentColor" '
        f'stroke="none">{escape(words)}</text>'
    )
