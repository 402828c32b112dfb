"""What a promised price leaves: the chance that it covers the hours and the costs.

Weight and hours are each known as a range (``estimates``): a middle and two ends, on the logarithm, with the
tails of a Student t. Between them they are taken as independent: a heavier stone is not held to take longer
than its own range of hours says. Several gems of one line go as one: all light or all heavy, all quick or all
slow, which is the wider and so the more careful reading. The costs are taken as known. None of this has a
published source; it is plain probability on the shop's own ranges.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from workshop.handbook.errors import OutOfRange

Floats = NDArray[np.float64]
WEIGHTS, HOURS, KNOTS = 101, 1001, 9
"""How many equally likely weights and hours are looked at, and at how many of the hours the price is asked."""


@dataclass(frozen=True)
class Spread:
    """A positive figure: half lie above ``middle``, and ``share`` of them between ``low`` and ``high``.

    Each side of the middle is a Student t with ``freedom`` degrees of freedom on the logarithm, so the ends may
    lie unevenly; nothing lies above ``most``. 0 < low <= middle <= high, else OutOfRange; share between 0 and 1.
    """

    low: float
    middle: float
    high: float
    share: float
    freedom: float
    most: float = math.inf

    def __post_init__(self) -> None:
        if not 0 < self.low <= self.middle <= self.high:
            raise OutOfRange(
                "A range goes from its lower end over its middle to its upper end, all above zero."
            )
        if not (0 < self.share < 1 and self.freedom > 0):
            raise OutOfRange("A range holds a share between 0 and 1, and has degrees of freedom.")

    def at(self, below: Floats) -> Floats:
        """The figures (n,) below which these shares (n,), each between 0 and 1, lie."""
        from scipy.special import stdtrit

        reach = stdtrit(self.freedom, np.asarray(below, dtype=np.float64))
        end = float(stdtrit(self.freedom, (1 + self.share) / 2))
        down = math.log(self.middle / self.low) / end
        up = math.log(self.high / self.middle) / end
        found = self.middle * np.exp(reach * np.where(reach < 0, down, up))
        capped: Floats = np.minimum(found, self.most)
        return capped

    def times(self, factor: float) -> Spread:
        """The same figure in other units, or several times over."""
        return Spread(
            self.low * factor,
            self.middle * factor,
            self.high * factor,
            self.share,
            self.freedom,
            self.most * factor,
        )


Price = Callable[[float | None, float], float]
"""The net price at carats (None where no weight is known) and hours."""


def chance_covered(
    price: Price,
    weight: Spread | None,
    hours: Spread,
    *,
    rate: float,
    costs: float,
    by_hours: bool = False,
) -> float:
    """The chance, 0 to 1, that ``price`` pays ``costs`` and every hour at ``rate`` (both zero or more).

    ``by_hours``: the price changes with the hours too, and is asked at some of them and read between those.
    Good to about 0.002. Raises OutOfRange for a negative rate or costs.
    """
    if rate < 0 or costs < 0:
        raise OutOfRange("Rates and costs are zero or more.", rate=rate, costs=costs)
    long = hours.at(_middles(HOURS))
    carats = [None] if weight is None else [float(ct) for ct in weight.at(_middles(WEIGHTS))]
    covered = [np.mean(_asked(price, ct, long, by_hours) - costs - rate * long >= -1e-9) for ct in carats]
    return float(np.mean(covered))


def _asked(price: Price, ct: float | None, hours: Floats, by_hours: bool) -> Floats:
    if not by_hours:
        return np.full(len(hours), price(ct, float(np.median(hours))))
    knots = np.quantile(hours, np.linspace(0, 1, KNOTS))
    return np.interp(hours, knots, [price(ct, float(knot)) for knot in knots])


def _middles(count: int) -> Floats:
    """The middles of so many equal parts of 0 to 1."""
    return (np.arange(count) + 0.5) / count
