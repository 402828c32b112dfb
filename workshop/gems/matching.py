"""How well gems that belong together match: how far their sizes and weights lie apart, and what colours are said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from .models import FinishedGem, Suite

HUNDRED = Decimal(100)


@dataclass(frozen=True)
class Spread:
    """One measure over all members: least, greatest, and how far apart; ``tolerance`` where one was set."""

    what: str
    unit: str
    least: Decimal
    greatest: Decimal
    tolerance: Decimal | None

    @property
    def apart(self) -> Decimal:
        """Greatest less least."""
        return self.greatest - self.least

    @property
    def percent(self) -> Decimal:
        """How far apart, in per cent of the least."""
        return HUNDRED * self.apart / self.least

    @property
    def within(self) -> bool | None:
        """Whether it keeps the tolerance; None where there is none."""
        return None if self.tolerance is None else self.apart <= self.tolerance


@dataclass(frozen=True)
class Match:
    """How gems match: the spreads, and each colour in words with the codes of the gems it is said of."""

    spreads: tuple[Spread, ...]
    colours: tuple[tuple[str, tuple[str, ...]], ...]
    materials: tuple[str, ...]
    shapes: tuple[str, ...]

    @property
    def verdict(self) -> bool | None:
        """Whether every measure with a tolerance keeps it; None where no tolerance was set."""
        told = [spread.within for spread in self.spreads if spread.within is not None]
        return all(told) if told else None

    @property
    def one_colour(self) -> bool:
        """Whether one colour is said of all, word for word."""
        return len(self.colours) == 1


def match_of(suite: Suite, gems: Sequence[FinishedGem]) -> Match:
    """How the gems of a suite match, by its tolerances. ``gems``: at least one."""
    colours: dict[str, list[str]] = {}
    for gem in gems:
        colours.setdefault(" ".join(gem.colour.lower().split()), []).append(gem.code)
    materials = dict.fromkeys(str(gem.stone.material or gem.stone.lot.sold_as) for gem in gems)
    return Match(
        spreads=(
            _spread("length", "mm", [gem.length_mm for gem in gems], suite.tolerance_mm),
            _spread("width", "mm", [gem.width_mm for gem in gems], suite.tolerance_mm),
            _spread("depth", "mm", [gem.depth_mm for gem in gems], None),
            _spread("weight", "ct", [gem.weight_ct for gem in gems], suite.tolerance_ct),
        ),
        colours=tuple((words, tuple(codes)) for words, codes in colours.items()),
        materials=tuple(materials),
        shapes=tuple(dict.fromkeys(gem.get_shape_display() for gem in gems)),
    )


def _spread(what: str, unit: str, figures: list[Decimal], tolerance: Decimal | None) -> Spread:
    return Spread(what, unit, min(figures), max(figures), tolerance)


def total_ct(gems: Sequence[FinishedGem]) -> Decimal:
    """What they weigh together, from the weights as they came off the scale."""
    return sum((gem.weight_ct for gem in gems), Decimal(0))
