"""Which stones stand for which piece: the linked ones, and all that was made of them.

A stone knows no commission: this is asked of the stones, whenever somebody looks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import Exists, OuterRef

from workshop.stones.models import Stone

from .models import CommissionItem, ItemStone


def standing_links(items: Iterable[CommissionItem]) -> list[ItemStone]:
    """The links that stand for these pieces, each with its stone and with the very piece it was asked for."""
    by_key = {item.pk: item for item in items}
    links = ItemStone.objects.filter(item__in=by_key, until__isnull=True)
    found = list(links.select_related("stone__material", "stone__owner").order_by("pk"))
    for link in found:
        link.item = by_key[link.item_id]
    return found


def lines_of(links: Iterable[ItemStone]) -> dict[int, list[Stone]]:
    """The stones of each standing link: the linked one first, then what was made of it, by the link's key.

    A stone that stands for a piece by a link of its own is left to that one, with all that was made of it.
    """
    links = list(links)
    made: dict[int, list[Stone]] = defaultdict(list)
    own = ItemStone.objects.filter(stone=OuterRef("pk"), until__isnull=True)
    children = Stone.objects.filter(lot__in={link.stone.lot_id for link in links}, parent__isnull=False)
    for stone in children.exclude(Exists(own)).select_related("material", "owner").order_by("pk"):
        made[stone.parent_id or 0].append(stone)
    return {link.pk: [link.stone, *_below(link.stone, made)] for link in links}


def _below(stone: Stone, made: dict[int, list[Stone]]) -> list[Stone]:
    # What the shop bought or kept of a client's stone stands for the client's piece no longer.
    alike = [child for child in made[stone.pk] if child.ownership == stone.ownership]
    return [one for child in alike for one in (child, *_below(child, made))]


def by_item(links: Iterable[ItemStone], lines: dict[int, list[Stone]]) -> dict[int, list[Stone]]:
    """The lines of all links of a piece together, by the piece's key."""
    found: dict[int, list[Stone]] = defaultdict(list)
    for link in links:
        found[link.item_id] += lines[link.pk]
    return found


def stones_by_item(items: Iterable[CommissionItem]) -> dict[int, list[Stone]]:
    """The stones that stand for each piece, and all that was made of them, by the piece's key."""
    links = standing_links(items)
    return by_item(links, lines_of(links))
