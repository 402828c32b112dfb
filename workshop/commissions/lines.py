"""Which stones stand for which piece: the linked ones, and all that was made of them.

A stone knows no commission: this is asked of the stones, whenever somebody looks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from workshop.stones.models import Stone

from .models import CommissionItem, ItemStone


def lines_of(links: Iterable[ItemStone]) -> dict[int, list[Stone]]:
    """The stones of each standing link: the linked one first, then what was made of it, by the link's key.

    A stone that stands for a piece by a link of its own is left to that one, with all that was made of it.
    """
    links = list(links)
    made: dict[int, list[Stone]] = defaultdict(list)
    lots = {link.stone.lot_id for link in links}
    for stone in Stone.objects.filter(lot__in=lots, parent__isnull=False).order_by("pk"):
        made[stone.parent_id or 0].append(stone)
    own = {link.stone_id for link in links} | set(
        ItemStone.objects.filter(until__isnull=True, stone__lot__in=lots).values_list("stone", flat=True)
    )
    return {link.pk: [link.stone, *_below(link.stone, made, own)] for link in links}


def _below(stone: Stone, made: dict[int, list[Stone]], own: set[int]) -> list[Stone]:
    found = []
    for child in made[stone.pk]:
        if child.pk not in own:
            found += [child, *_below(child, made, own)]
    return found


def stones_by_item(items: Iterable[CommissionItem]) -> dict[int, list[Stone]]:
    """The stones that stand for each piece, and all that was made of them, by the piece's key."""
    links = ItemStone.objects.filter(item__in=[item.pk for item in items], until__isnull=True)
    links = links.select_related("stone__material", "stone__lot", "stone__owner")
    found: dict[int, list[Stone]] = defaultdict(list)
    lines = lines_of(links)
    for link in links:
        found[link.item_id] += lines[link.pk]
    return found
