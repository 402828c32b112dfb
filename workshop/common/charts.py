"""Charts of records as SVG text: weights falling, hours adding up, and which stone came from which piece.

Drawn for a telephone, 360 pixels wide, in ``currentColor`` only, so they are right in light, in dark and on
paper; every figure is written out, nothing is told by length or shade alone. Presentation attributes only: a
strict content policy lets them stand. Each page shows the same figures as a table beneath.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from html import escape

from workshop.handbook.errors import OutOfRange

WIDTH = 360
FONT = 13.0
LETTER = 0.56  # width of an average letter as a part of the font size, for fitting words
BAR_ROW = 42.0
TREE_ROW = 44.0
RANGE_ROW = 62.0
INDENT = 20.0
DEEPEST_INDENT = 6  # beyond it a tree stays in its column, or a telephone has no room for words

Say = Callable[[Decimal], str]


@dataclass(frozen=True)
class Node:
    """One stone in a pedigree.

    ``parent``: position of the node it came from, None for the piece all began with. ``state``: in words;
    ``alive`` fills its mark, otherwise the mark is hollow.
    """

    code: str
    label: str
    weight_ct: Decimal | None
    parent: int | None
    state: str = ""
    alive: bool = True


def say_carats(weight: Decimal) -> str:
    """Carats with two places, or three where the third is not zero: the default wording of weights."""
    thousandths = weight.quantize(Decimal("0.001"))
    hundredths = thousandths.quantize(Decimal("0.01"))
    return f"{hundredths if hundredths == thousandths else thousandths} ct"


def say_hours(hours: Decimal) -> str:
    """Hours and minutes: the default wording of times."""
    minutes = int((hours * 60).to_integral_value())
    return f"{minutes // 60} h {minutes % 60:02d}"


def weight_fall_chart(
    steps: Sequence[tuple[str, Decimal]], *, say: Say = say_carats, title: str = "Weight, step by step"
) -> str:
    """A bar for the weight at each step, the first one longest; what is gone since the first stays as an
    empty frame.

    ``steps``: what was done and the weight after it (ct, 0 or more), in order. ``say`` words a weight. Beside
    each weight stands what is left of the first, in per cent. Raises ``OutOfRange`` for a weight below zero.
    """
    first = _checked(steps)[0][1] if steps else Decimal(0)
    most = max((weight for _, weight in steps), default=Decimal(0))
    rows = [(label, f"{say(weight)}{_left(weight, first)}", weight) for label, weight in steps]
    return _bars(rows, most, title, frame=True)


def hours_chart(
    rows: Sequence[tuple[str, Decimal]], *, say: Say = say_hours, title: str = "Hours by kind of work"
) -> str:
    """A bar for the hours of each kind of work, and the total beneath. Raises ``OutOfRange`` below zero."""
    most = max((hours for _, hours in _checked(rows)), default=Decimal(0))
    total = sum((hours for _, hours in rows), Decimal(0))
    return _bars(
        [(label, say(hours), hours) for label, hours in rows], most, title, total=f"In all {say(total)}"
    )


@dataclass(frozen=True)
class Held:
    """One row of ``ranges_chart``: the range that was said, None where none was, and what it came to."""

    label: str
    low: Decimal | None
    high: Decimal | None
    came_to: Decimal


def ranges_chart(rows: Sequence[Held], *, say: Say = say_hours, title: str) -> str:
    """For each row the range that was said as a frame and what it came to as a mark, on one scale from zero.

    A mark inside its frame kept to what was said. Raises ``OutOfRange`` for an amount below zero or a range upside
    down.
    """
    _checked(
        [
            (row.label, amount)
            for row in rows
            for amount in (row.came_to, row.low, row.high)
            if amount is not None
        ]
    )
    for row in rows:
        if row.low is not None and row.high is not None and row.low > row.high:
            raise OutOfRange(f"{row.label}: the range is upside down.", label=row.label)
    most = max((max(row.came_to, row.high or Decimal(0)) for row in rows), default=Decimal(0))
    drawn = [part for at, row in enumerate(rows) for part in _held(row, RANGE_ROW * at, most, say)]
    height = RANGE_ROW * len(rows)
    if not rows:
        drawn, height = [_text(8, 26, "Nothing recorded yet")], BAR_ROW
    told = "; ".join(f"{row.label}: {say(row.came_to)}{_said(row, say)}" for row in rows)
    return _svg("record-chart", height, title, told or "Nothing recorded yet", drawn)


def _held(row: Held, y: float, most: Decimal, say: Say) -> list[str]:
    full = WIDTH - 16.0
    figure = say(row.came_to)
    drawn = [
        _text(8, y + 17, _fitted(row.label, full - LETTER * FONT * len(figure) - 12)),
        _text(WIDTH - 8, y + 17, figure, anchor="end", more=' class="figure" font-weight="600"'),
        f'<path d="M8 {y + 31:.1f}H{WIDTH - 8}" stroke-opacity="0.35"/>',
    ]
    if row.low is not None and row.high is not None:
        left, right = (8 + _run(amount, most, full) for amount in (row.low, row.high))
        drawn.append(
            f'<rect class="said" x="{left:.1f}" y="{y + 25:.1f}" width="{max(right - left, 2):.1f}" height="12" '
            'fill="currentColor" fill-opacity="0.16"/>'
        )
    x = 8 + _run(row.came_to, most, full)
    drawn.append(f'<circle class="came-to" cx="{x:.1f}" cy="{y + 31:.1f}" r="4.5" fill="currentColor"/>')
    if said := _said(row, say):
        drawn.append(_text(8, y + 52, said.lstrip(", "), more=' font-size="11.5" fill-opacity="0.75"'))
    return drawn


def _run(amount: Decimal, most: Decimal, full: float) -> float:
    return float(amount / most) * full if most else 0.0


def _said(row: Held, say: Say) -> str:
    if row.low is None or row.high is None:
        return ""
    return f", said {say(row.low)} to {say(row.high)}"


def earned_chart(rows: Sequence[tuple[str, Decimal]], *, say: Say, title: str = "What an hour earned") -> str:
    """A bar for what an hour of each kind earned; one that earned nothing or less keeps its figure without a bar."""
    most = max((amount for _, amount in rows), default=Decimal(0))
    return _bars(
        [(label, say(amount), max(amount, Decimal(0))) for label, amount in rows],
        max(most, Decimal(0)),
        title,
    )


def pedigree_tree(
    nodes: Sequence[Node], *, say: Say = say_carats, title: str = "Where each stone came from"
) -> str:
    """The pieces and stones of one parcel as a tree, each on its own row beneath the piece it came from.

    Raises ``OutOfRange`` when a node names itself, a missing node or a ring of nodes as its parent.
    """
    order = _from_the_top(nodes)
    row_of = {index: row for row, (index, _) in enumerate(order)}
    drawn = []
    for row, (index, depth) in enumerate(order):
        node, x, y = nodes[index], _mark_x(depth), _mark_y(row)
        if node.parent is not None:
            px, py = _mark_x(depth - 1), _mark_y(row_of[node.parent])
            px = min(px, x - INDENT / 2)
            drawn.append(f'<path d="M{px:.1f} {py + 6:.1f}V{y:.1f}H{x - 6:.1f}" stroke-opacity="0.5"/>')
        drawn.append(_tree_row(node, x, y, say))
    height = TREE_ROW * max(len(nodes), 1)
    if not nodes:
        drawn.append(_text(8, 26, "Nothing recorded yet"))
    told = "; ".join(_told(nodes, node, say) for node in nodes)
    return _svg("pedigree-tree", height, title, told or "Nothing recorded yet", drawn)


def _bars(
    rows: Sequence[tuple[str, str, Decimal]],
    most: Decimal,
    title: str,
    *,
    frame: bool = False,
    total: str = "",
) -> str:
    full = WIDTH - 16.0
    drawn = []
    for i, (label, figure, amount) in enumerate(rows):
        y = BAR_ROW * i
        run = float(amount / most) * full if most else 0.0
        room = full - LETTER * FONT * len(figure) - 12
        drawn.append(_text(8, y + 17, _fitted(label, room)))
        drawn.append(_text(WIDTH - 8, y + 17, figure, anchor="end", more=' class="figure" font-weight="600"'))
        if frame:
            drawn.append(f'<rect x="8" y="{y + 24:.1f}" width="{full:g}" height="9" stroke-opacity="0.35"/>')
        drawn.append(
            f'<rect class="bar" x="8" y="{y + 24:.1f}" width="{run:.1f}" height="9" fill="currentColor" '
            'fill-opacity="0.75" stroke="none"/>'
        )
    height = BAR_ROW * len(rows)
    if rows and total:
        drawn.append(f'<path d="M8 {height + 2:g}H{WIDTH - 8}" stroke-opacity="0.5"/>')
        drawn.append(_text(WIDTH - 8, height + 22, total, anchor="end", more=' font-weight="600"'))
        height += 30
    if not rows:
        drawn.append(_text(8, 26, "Nothing recorded yet"))
        height = BAR_ROW
    told = "; ".join(f"{label}: {figure}" for label, figure, _ in rows) or "Nothing recorded yet"
    return _svg("record-chart", height, title, f"{told}. {total}".strip(), drawn)


def _checked(rows: Sequence[tuple[str, Decimal]]) -> Sequence[tuple[str, Decimal]]:
    for label, amount in rows:
        if not (amount.is_finite() and amount >= 0):
            raise OutOfRange(f"{label}: a chart shows amounts of zero or more, not {amount}.", label=label)
    return rows


def _left(weight: Decimal, first: Decimal) -> str:
    return f", {100 * weight / first:.0f} %" if first else ""


def _from_the_top(nodes: Sequence[Node]) -> list[tuple[int, int]]:
    """Each node's position and depth, parents first, brothers in the order given."""
    children: dict[int | None, list[int]] = {}
    for index, node in enumerate(nodes):
        if node.parent is not None and not 0 <= node.parent < len(nodes):
            raise OutOfRange(f"{node.code} names a parent that is not in the tree.", parent=node.parent)
        children.setdefault(node.parent, []).append(index)
    order: list[tuple[int, int]] = []
    waiting = [(index, 0) for index in reversed(children.get(None, []))]
    while waiting:
        index, depth = waiting.pop()
        order.append((index, depth))
        waiting += [(child, depth + 1) for child in reversed(children.get(index, []))]
    if len(order) != len(nodes):
        lost = sorted(set(range(len(nodes))) - {index for index, _ in order})
        raise OutOfRange(
            f"{nodes[lost[0]].code} comes from itself: the parents run in a ring.", positions=lost
        )
    return order


def _tree_row(node: Node, x: float, y: float, say: Say) -> str:
    weight = say(node.weight_ct) if node.weight_ct is not None else ""
    room = WIDTH - 8 - x - 14 - LETTER * FONT * (len(weight) + 2)
    name = _fitted(node.code, room)
    fill = "currentColor" if node.alive else "none"
    label = _fitted(node.label, room - LETTER * FONT * (len(name) + 2))
    parts = [
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="{fill}"/>',
        f'<text x="{x + 14:.1f}" y="{y + 4:.1f}" fill="currentColor" stroke="none">'
        f'<tspan font-weight="600">{escape(name)}</tspan><tspan dx="8">{escape(label)}</tspan></text>',
        _text(WIDTH - 8, y + 4, weight, anchor="end", more=' class="figure"'),
    ]
    if node.state:
        state = _fitted(node.state, WIDTH - 8 - x - 14)
        parts.append(_text(x + 14, y + 20, state, more=' font-size="11.5" fill-opacity="0.75"'))
    return "".join(parts)


def _told(nodes: Sequence[Node], node: Node, say: Say) -> str:
    origin = f" from {nodes[node.parent].code}" if node.parent is not None else ""
    weight = f", {say(node.weight_ct)}" if node.weight_ct is not None else ""
    return f"{node.code} {node.label}{origin}{weight}{f', {node.state}' if node.state else ''}"


def _mark_x(depth: int) -> float:
    return 14 + INDENT * min(depth, DEEPEST_INDENT)


def _mark_y(row: int) -> float:
    return 18 + TREE_ROW * row


def _fitted(words: str, room: float) -> str:
    """The words, or as many letters as fit with an ellipsis; the whole stands in the description."""
    letters = int(room / (LETTER * FONT))
    if len(words) <= letters:
        return words
    return words[: letters - 1].rstrip() + "…" if letters > 3 else ""


def _text(x: float, y: float, words: str, *, anchor: str = "start", more: str = "") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="currentColor" stroke="none"{more}>'
        f"{escape(words)}</text>"
    )


def _svg(kind: str, height: float, title: str, description: str, drawn: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" role="img" width="{WIDTH}" height="{height:g}" '
        f'viewBox="0 0 {WIDTH} {height:g}"><title>{escape(title)}</title><desc>{escape(description)}</desc>'
        f'<g fill="none" stroke="currentColor" stroke-width="1" font-size="{FONT:g}">{"".join(drawn)}</g></svg>'
    )
