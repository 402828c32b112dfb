"""Hours and recovery as honest ranges, learned from the shop's own finished stones.

Bayesian linear regression with a conjugate prior (normal-inverse-gamma; A. Gelman et al., Bayesian Data
Analysis, 3rd ed. 2013, ch. 14; formulas as in any text). On the first day the stated prior answers alone;
each finished stone moves it, and the range names how much of it is the shop's own bench. What is predicted is
the next single stone, so the range holds the scatter from stone to stone as well as what is not yet known; it
is a Student t on the logarithm.

Hours are regressed as log hours on what the trade says drives them: facets, hardness, care, size, kind of
work. The prior's middle is the defaults of our trade notes, none of which is a published measurement
("assume" throughout): bench hours = 1.6 + 0.02 x facets, x 1.0 quartz and beryl, 1.1 garnet and tourmaline,
1.3 topaz and spinel, 1.6 corundum, x 1.5 for heat- or cleavage-sensitive stones, spread lognormal with sigma
0.35. That a 6 mm stone takes 3 hours where a 3 mm one takes 2 is one illustration
<https://forums.gemsociety.org/t/gemstone-pricing-discrepancy/21073>; that facets count more than size is said
in the same notes. How far each default may be off is our own guess too.

Recovery is regressed as log (finished weight / weight of the largest stone that fits, ``recovery``). Its
prior sits at 0.70: custom work keeps 25-33 per cent of the rough
<https://www.gemsociety.org/article/what-is-the-average-gemstone-faceting-yield/> where pebbles and blocks
hold about 40-48 per cent by geometry (our own ``recovery``); the rest is assumed.

These are plans, not promises.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from workshop.handbook.errors import DoesNotAddUp, OutOfRange

Floats = NDArray[np.float64]
Work: TypeAlias = Literal["new", "recut", "repolish"]
WORKS: tuple[Work, ...] = ("new", "recut", "repolish")

HARDNESS_FACTORS: dict[str, float] = {
    "quartz": 1.0,
    "beryl": 1.0,
    "garnet": 1.1,
    "tourmaline": 1.1,
    "topaz": 1.3,
    "spinel": 1.3,
    "corundum": 1.6,
}
"""Hours against quartz [assume]; other species by their hardness, ``hardness_factor``."""
_HARDNESS_BY_MOHS = ((7.0, 1.0), (7.5, 1.1), (8.0, 1.3), (9.0, 1.6), (10.0, 1.9))
HOURS_SPREAD = 0.35
"""Sigma of log hours from stone to stone [assume]."""
RECOVERY_SPREAD = 0.20
"""Sigma of log recovery against the geometric bound, from stone to stone [assume]."""
USUAL_HOURS = 1.6 + 0.02 * 57
"""Hours of a 57-facet quartz of the usual size: where the terms of the regression are centred."""
USUAL_SIZE_MM = 6.0
USUAL_ROUGH_CT = 5.0
BOUND_OF_ROUGH = 0.44
"""Largest stone that fits, as a share of a piece nobody has measured yet: the middle of the 40 to 48 per cent
that pebbles and blocks hold by our own ``recovery``."""
BOUND_SPREAD = 0.09
"""Sigma of its logarithm from piece to piece: half of log(48 / 40) [assume]."""
KEPT_BY_WORK: dict[Work, tuple[float, float, float]] = {
    "recut": (math.sqrt(1.38 / 2.03 * 1.45 / 1.63), 0.08, 0.12),
    "repolish": (0.97, 0.01, 0.02),
}
"""What a cut stone keeps of its weight: middle, how far that middle may be off, sigma from stone to stone.

Recut: between two published ones, a spinel from 2.03 to 1.38 ct
<https://justinkprim.medium.com/the-art-and-joy-of-recutting-gemstones-964c4c315c33> and a sapphire from 1.63 to
1.45 ct <https://mardonjewelers.com/blog/recutting-colored-gems-closing-the-window/>; spreads and all of the
repolish [assume]."""
KEPT_ROW: tuple[float, ...] = (1.0,)
"""The row of ``kept_belief``: nothing but the kind of work drives it yet."""
PRIOR_STONES = 8.0
"""How many stones' worth of scatter the spread of the prior is taken to be known by [assume]."""


@dataclass(frozen=True)
class Range:
    """The middle (half lie above, half below) and an interval that holds the next stone in ``share`` of
    cases.

    ``own_bench``: 0 to 1, by how much the shop's own stones have narrowed what the prior left open about the
    middle.
    """

    low: float
    middle: float
    high: float
    share: float
    own_bench: float
    stones: int


@dataclass(frozen=True, eq=False)
class Belief:
    """What is believed of a linear regression: prior or posterior, the two have one form.

    ``names`` (p) of the terms; ``mean`` (p,) of their coefficients; ``spread`` (p, p), their covariance in
    units of the residual variance, whose inverse-gamma has ``shape`` and ``rate``. ``prior_spread`` keeps the
    spread of the first day; ``stones`` counts what was learned from.
    """

    names: tuple[str, ...]
    mean: Floats
    spread: Floats
    shape: float
    rate: float
    prior_spread: Floats
    stones: int = 0

    def learned(self, rows: ArrayLike, outcomes: ArrayLike) -> Belief:
        """The belief after seeing outcomes (n,) at rows (n, p). Order does not matter, nor whether all at
        once.

        Raises ``OutOfRange`` for shapes that do not match or values that are not numbers.
        """
        seen, told = self._checked(rows, outcomes)
        before = np.linalg.inv(self.spread)
        spread = np.linalg.inv(before + seen.T @ seen)
        spread = (spread + spread.T) / 2
        mean = spread @ (before @ self.mean + seen.T @ told)
        apart, moved = told - seen @ mean, mean - self.mean
        rate = self.rate + (float(apart @ apart) + float(moved @ before @ moved)) / 2
        shape = self.shape + len(told) / 2
        return Belief(self.names, mean, spread, shape, rate, self.prior_spread, self.stones + len(told))

    def range(self, row: ArrayLike, share: float) -> Range:
        """Range of the next outcome at ``row`` (p,): Student t with 2 x shape degrees of freedom."""
        from scipy.special import stdtrit

        if not 0 < share < 1:
            raise OutOfRange(
                "A range holds more than none and less than all: give a share between 0 and 1.", share=share
            )
        at = np.asarray(row, dtype=np.float64)
        middle = float(at @ self.mean)
        scale = math.sqrt(self.rate / self.shape * (1 + float(at @ self.spread @ at)))
        reach = scale * float(stdtrit(2 * self.shape, (1 + share) / 2))
        return Range(middle - reach, middle, middle + reach, share, self.own_bench(at), self.stones)

    def own_bench(self, row: ArrayLike) -> float:
        """Share of the prior's uncertainty about the middle at ``row`` that own stones have taken away, 0 to
        1.
        """
        at = np.asarray(row, dtype=np.float64)
        left = float(at @ self.spread @ at) / float(at @ self.prior_spread @ at)
        return max(1 - left, 0.0)

    def _checked(self, rows: ArrayLike, outcomes: ArrayLike) -> tuple[Floats, Floats]:
        seen = np.asarray(rows, dtype=np.float64).reshape(-1, len(self.names))
        told = np.asarray(outcomes, dtype=np.float64)
        if told.shape != (len(seen),):
            raise OutOfRange("Give one outcome for each stone.", rows=len(seen), outcomes=told.shape)
        if not (np.isfinite(seen).all() and np.isfinite(told).all()):
            raise OutOfRange("A finished stone has a figure that is not a number.")
        return seen, told


@dataclass(frozen=True)
class Job:
    """What drives the hours of one stone.

    ``facets`` 1 to 2000; ``hardness`` the factor of ``hardness_factor``, 0.5 to 4; ``care``: heat- or
    cleavage-sensitive; ``size_mm`` width of the finished stone, 0.5 to 200; ``work``: cut new, recut, or
    repolished.
    """

    facets: int
    hardness: float
    care: bool
    size_mm: float
    work: Work = "new"

    def __post_init__(self) -> None:
        _within("A stone has", "facets", self.facets, 1, 2000)
        _within("The hardness factor is", "", self.hardness, 0.5, 4)
        _within("A finished stone measures", "mm", self.size_mm, 0.5, 200)
        if self.work not in WORKS:
            raise OutOfRange(f"Work is one of {', '.join(WORKS)}, not {self.work!r}.", known=WORKS)

    @property
    def row(self) -> Floats:
        return np.array(
            [
                1.0,
                math.log((1.6 + 0.02 * self.facets) / USUAL_HOURS),
                math.log(self.hardness),
                float(self.care),
                math.log(self.size_mm / USUAL_SIZE_MM),
                float(self.work == "recut"),
                float(self.work == "repolish"),
            ]
        )


@dataclass(frozen=True)
class Take:
    """What drives how much of the geometric bound a stone keeps.

    ``rough_ct`` weight of the piece, 0.05 to 100,000; ``flawed``: something must be cut around that is not
    entered as a loss in the piece.
    """

    rough_ct: float
    flawed: bool = False

    def __post_init__(self) -> None:
        _within("A piece of rough weighs", "ct", self.rough_ct, 0.05, 100_000)

    @property
    def row(self) -> Floats:
        return np.array([1.0, math.log(self.rough_ct / USUAL_ROUGH_CT), float(self.flawed)])


def hardness_factor(species: str, mohs: float) -> float:
    """Hours against quartz [assume]: the trade notes' factor where they name the species, else by hardness.

    By hardness: 1.0 up to 7, then straight lines through 7.5: 1.1, 8: 1.3, 9: 1.6, 10: 1.9. ``mohs`` 1 to 10.

    >>> hardness_factor("corundum", 9)
    1.6
    """
    _within("Hardness is", "", mohs, 1, 10)
    if species in HARDNESS_FACTORS:
        return HARDNESS_FACTORS[species]
    return float(
        np.interp(mohs, [step[0] for step in _HARDNESS_BY_MOHS], [step[1] for step in _HARDNESS_BY_MOHS])
    )


def hours_prior() -> Belief:
    """The stated prior of log hours: the defaults of the trade notes and how far each may be off (1 sigma)
    [assume].
    """
    terms = {
        "own pace": (math.log(USUAL_HOURS), 0.40),
        "facets": (1.0, 0.30),
        "hardness": (1.0, 0.30),
        "care": (math.log(1.5), 0.25),
        "size": (math.log(3 / 2) / math.log(6 / 3), 0.30),
        "recut": (math.log(0.5), 0.40),
        "repolish": (math.log(0.35), 0.40),
    }
    return _prior(terms, HOURS_SPREAD)


def recovery_prior() -> Belief:
    """The stated prior of log (finished / largest that fits), and how far each term may be off (1 sigma)
    [assume].
    """
    terms = {
        "own hand": (math.log(0.70), 0.20),
        "size of rough": (0.0, 0.10),
        "flawed": (math.log(0.75), 0.25),
    }
    return _prior(terms, RECOVERY_SPREAD)


def rough_share_belief(finished: Sequence[tuple[Take, float]]) -> Belief:
    """Belief about log (finished / rough) of pieces that nobody has planned: pairs of take and finished carats.

    The recovery prior on ``BOUND_OF_ROUGH``, with the spread of both. Raises ``OutOfRange`` for a weight below
    0.001 ct, ``DoesNotAddUp`` for a stone heavier than its rough.
    """
    return _shares(
        _prior(
            {
                "own hand": (math.log(0.70 * BOUND_OF_ROUGH), math.hypot(0.20, BOUND_SPREAD)),
                "size of rough": (0.0, 0.10),
                "flawed": (math.log(0.75), 0.25),
            },
            math.hypot(RECOVERY_SPREAD, BOUND_SPREAD),
        ),
        [(take.row, take.rough_ct, got) for take, got in finished],
    )


def kept_belief(work: Work, finished: Sequence[tuple[float, float]]) -> Belief:
    """Belief about log (after / before) of stones recut or repolished: pairs of carats before and after.

    ``KEPT_BY_WORK`` answers first. ``work`` "recut" or "repolish", else ``OutOfRange``; further as
    ``rough_share_belief``.
    """
    if work not in KEPT_BY_WORK:
        raise OutOfRange("Only a stone that is cut already keeps a share of its weight.", work=work)
    middle, off, sigma = KEPT_BY_WORK[work]
    prior = _prior({"kept": (math.log(middle), off)}, sigma)
    return _shares(prior, [(np.array(KEPT_ROW), before, after) for before, after in finished])


def share_range(belief: Belief, row: ArrayLike, start_ct: float, *, share: float = 0.8) -> Range:
    """Carats of the next stone from those it starts with (0.05 to 100,000), never more than those."""
    _within("A stone weighs", "ct", start_ct, 0.05, 100_000)
    return _from_log(belief.range(row, share), start_ct, most=start_ct)


def _shares(prior: Belief, seen: Sequence[tuple[Floats, float, float]]) -> Belief:
    for _, start, got in seen:
        _within("A finished stone weighs", "ct", got, 1e-3, 100_000)
        if got > start:
            raise DoesNotAddUp("A finished stone is heavier than it was before.", factor=got / start)
    return prior.learned([row for row, _, _ in seen], [math.log(got / start) for _, start, got in seen])


def hours_belief(finished: Sequence[tuple[Job, float]]) -> Belief:
    """The hours prior after these finished stones: pairs of job and bench hours (more than 0, at most 2000)."""
    for _, hours in finished:
        _within("A stone took", "hours", hours, 1e-3, 2000)
    rows = [job.row for job, _ in finished]
    return hours_prior().learned(rows, [math.log(hours) for _, hours in finished])


def recovery_belief(finished: Sequence[tuple[Take, float, float]]) -> Belief:
    """The recovery prior after these stones: take, finished weight, weight of the largest stone that would
    have
    fitted.

    A stone may have come out heavier than the bound (the piece was fuller than its shape); more than twice as
    heavy raises ``DoesNotAddUp``.
    """
    for _, got, bound in finished:
        _within("A finished stone weighs", "ct", got, 1e-3, 100_000)
        _within("A bound is", "ct", bound, 1e-3, 100_000)
        if got > 2 * bound:
            raise DoesNotAddUp(
                f"A finished stone of {got:g} ct is {got / bound:.1f} times what its rough could hold; check both.",
                factor=got / bound,
            )
    rows = [take.row for take, _, _ in finished]
    return recovery_prior().learned(rows, [math.log(got / bound) for _, got, bound in finished])


def hours_range(belief: Belief, job: Job, *, share: float = 0.8) -> Range:
    """Bench hours of the next such stone; off-bench time comes on top."""
    return _from_log(belief.range(job.row, share), 1.0)


def weight_range(belief: Belief, take: Take, bound_ct: float, *, share: float = 0.8) -> Range:
    """Finished carats of the next such stone, from the weight of the largest that fits; never above the rough
    itself.
    """
    _within("A bound is", "ct", bound_ct, 1e-3, 100_000)
    if bound_ct > take.rough_ct:
        raise DoesNotAddUp(
            "The largest stone cannot weigh more than the rough.", factor=bound_ct / take.rough_ct
        )
    return _from_log(belief.range(take.row, share), bound_ct, most=take.rough_ct)


def _prior(terms: dict[str, tuple[float, float]], sigma: float) -> Belief:
    """Independent terms (middle, 1 sigma), residual spread ``sigma`` known as from ``PRIOR_STONES`` stones."""
    mean = np.array([middle for middle, _ in terms.values()])
    spread = np.diag([(off / sigma) ** 2 for _, off in terms.values()])
    shape = PRIOR_STONES / 2
    return Belief(tuple(terms), mean, spread, shape, shape * sigma**2, spread)


def _from_log(found: Range, unit: float, *, most: float = math.inf) -> Range:
    low, middle, high = (min(unit * math.exp(value), most) for value in (found.low, found.middle, found.high))
    return Range(low, middle, high, found.share, found.own_bench, found.stones)


def _within(what: str, unit: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise OutOfRange(f"{what} {low:g} to {high:g} {unit}".rstrip() + f", not {value:g}.", given=value)
