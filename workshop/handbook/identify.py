"""Which species of the table agree with the readings taken, and never more than that.

A reading is a value with the half-width that holds the truth about 95 times in 100 (``within``; GUM, k = 2).
A species agrees when no reading lies further outside its published range than three standard uncertainties,
so that a true species is thrown out about three times in a thousand readings at most.

What agrees is ranked by likelihood: a reading x with standard uncertainty s, on a species whose values fill a
range a to b evenly, counts (F((x-a)/s) - F((x-b)/s))/(b-a), F the normal distribution; the readings multiply.
Only the ratio to the best is given. It is no probability: the table does not hold every gem, and how common
each one is stays out of it. One name left over means that one species of this table agrees, not that the
stone is proved to be it: a natural stone, its laboratory-grown twin and a treated one share these figures.

Ranges: ``tables/materials.tsv`` with its sources. The refractometer ends near 1.81, the index of its contact
liquid (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from itertools import combinations
from statistics import NormalDist
from typing import Protocol

from workshop.handbook.errors import OutOfRange
from workshop.handbook.optics import GREATEST_INDEX, LEAST_INDEX

REFRACTOMETER_LIMIT = 1.81
LIMIT_WITHIN = 0.005
"""How well the end of the scale is known, ± (from memory)."""
AGREES_WITHIN = 3.0
"""Standard uncertainties a reading may lie outside a published range and still agree."""
LEAST_BIREFRINGENCE_SHARE = 0.1
"""The table gives only the greatest birefringence of a crystal. A tenth of it is taken as the least, which
keeps
scapolite (0.004 to 0.037) and half-metamict zircon in; our own choice, no source.
"""
WIDEST_BIREFRINGENCE = 0.3
"""Where the table gives none, any birefringence up to this agrees (rutile, the greatest in the table, has
0.296).
"""
STRAINED_SHARE = 0.1
"""How much a doubly refractive look counts for an isotropic species (strain: garnet, glass, synthetic spinel,
diamond); our own choice, no source.
"""

OPTIC_CHARACTERS = (
    "isotropic",
    "anisotropic",
    "uniaxial",
    "uniaxial+",
    "uniaxial-",
    "biaxial",
    "biaxial+",
    "biaxial-",
    "aggregate",
)
"""What a polariscope and conoscope can say, from the bare to the exact."""

_NORMAL = NormalDist()


class Described(Protocol):
    """What identification needs of a row of the material table (``workshop.handbook.tables.Material`` has
    it).
    """

    @property
    def key(self) -> str: ...
    @property
    def species(self) -> str: ...
    @property
    def variety(self) -> str: ...
    @property
    def optic_character(self) -> str: ...
    @property
    def ri_low(self) -> object: ...
    @property
    def ri_high(self) -> object: ...
    @property
    def birefringence_max(self) -> object: ...
    @property
    def sg_low(self) -> object: ...
    @property
    def sg_high(self) -> object: ...


@dataclass(frozen=True)
class Reading:
    """A value read, and the half-width that holds the truth about 95 times in 100."""

    value: float
    within: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and 0 < self.within < math.inf):
            raise OutOfRange(
                "A reading needs a number and how far off it may be, more than zero.", given=self.value
            )

    @property
    def standard_uncertainty(self) -> float:
        return self.within / 2


@dataclass(frozen=True)
class Readings:
    """All that was read of one stone; leave out what was not.

    ``ri``: one edge or a spot reading. ``ri_low`` and ``ri_high``: the two edges of a doubly refractive
    stone. ``over_limit``: an edge lies beyond the refractometer's scale (the upper one, if ``ri_low`` was
    read). ``optic_character``: one of ``OPTIC_CHARACTERS``. Indices 1.3 to 3.5, birefringence 0 to 1, SG 0.5
    to 25.
    """

    ri: Reading | None = None
    ri_low: Reading | None = None
    ri_high: Reading | None = None
    over_limit: bool = False
    birefringence: Reading | None = None
    sg: Reading | None = None
    optic_character: str | None = None

    def __post_init__(self) -> None:
        for index in (self.ri, self.ri_low, self.ri_high):
            _check_range(index, LEAST_INDEX, GREATEST_INDEX, "A refractive index")
        _check_range(self.birefringence, 0, 1, "A birefringence")
        _check_range(self.sg, 0.5, 25, "A specific gravity")
        if self.optic_character is not None and self.optic_character not in OPTIC_CHARACTERS:
            raise OutOfRange(
                f"{self.optic_character!r} is no optic character; give one of {', '.join(OPTIC_CHARACTERS)}.",
                known=OPTIC_CHARACTERS,
            )
        if all(getattr(self, field.name) in (None, False) for field in fields(self)):
            raise OutOfRange("Give at least one reading.")


@dataclass(frozen=True)
class Variety:
    """One row of the table that agrees: its key and name, and its likelihood over the best one's."""

    key: str
    variety: str
    relative: float


@dataclass(frozen=True)
class Candidate:
    """A species that agrees, its agreeing varieties best first, ``relative`` to the best species (1.0)."""

    species: str
    relative: float
    varieties: tuple[Variety, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class NearMiss:
    """A row that agrees but for one reading, which lies ``off`` standard uncertainties outside its range.

    ``off`` is None for an optic character, which has no distance.
    """

    key: str
    species: str
    variety: str
    reading: str
    off: float | None


@dataclass(frozen=True)
class Identification:
    """What agrees, best first; why nothing does; what to read next. ``statement`` is fit to be shown as it
    stands.
    """

    candidates: tuple[Candidate, ...]
    near_misses: tuple[NearMiss, ...]
    contradictions: tuple[str, ...]
    statement: str
    next_reading: str | None


@dataclass(frozen=True)
class _Check:
    """One reading against one row: how far outside (0 inside), what it counts, what to remark."""

    reading: str
    off: float | None
    likelihood: float
    note: str = ""

    @property
    def agrees(self) -> bool:
        return self.off is not None and self.off <= AGREES_WITHIN


def identify(readings: Readings, materials: Iterable[Described] | None = None) -> Identification:
    """Hold the readings against every row of the material table; see the head of this chapter for the rule.

    ``materials``: rows to try, by default the handbook's own table. Readings that contradict each other give
    no candidate and say why; so do readings that nothing agrees with.
    """
    contradictions = _contradictions(readings)
    if contradictions:
        statement = "The readings contradict each other; take them again. " + " ".join(contradictions)
        return Identification((), (), contradictions, statement, None)
    rows = tuple(materials) if materials is not None else _own_table()
    checked = [(row, _checks(readings, row)) for row in rows]
    agreeing = [(row, checks) for row, checks in checked if all(check.agrees for check in checks)]
    candidates = _candidates(agreeing)
    misses = () if candidates else _near_misses(checked)
    further = _next_reading(readings, [row for row, _ in agreeing])
    return Identification(candidates, misses, (), _statement(candidates, misses), further)


def _own_table() -> tuple[Described, ...]:
    from workshop.handbook import tables

    rows: tuple[Described, ...] = tuple(tables.materials())
    return rows


def _contradictions(readings: Readings) -> tuple[str, ...]:
    found = []
    low, high, split = readings.ri_low, readings.ri_high, readings.birefringence
    if low and high and low.value - high.value > _allowance(low, high):
        found.append(f"The lower index {low.value:g} lies above the higher {high.value:g}.")
    if low and high and split and abs(high.value - low.value - split.value) > _allowance(low, high, split):
        found.append(
            f"The edges lie {high.value - low.value:.3f} apart, but the birefringence read is {split.value:g}."
        )
    if readings.over_limit and (readings.ri_high or readings.ri):
        found.append("An edge cannot be read and lie beyond the scale at once.")
    if readings.ri and low and high:
        outside = max(low.value - readings.ri.value, readings.ri.value - high.value)
        if outside > _allowance(readings.ri, low if readings.ri.value < low.value else high):
            found.append(f"The single index {readings.ri.value:g} lies outside the two edges.")
    double = _split(readings) or _split_at_least(readings)
    if readings.optic_character == "isotropic" and double and double.value > _allowance(double):
        found.append(f"An isotropic stone has no birefringence, but {double.value:.3f} was read.")
    return tuple(found)


def _allowance(*readings: Reading) -> float:
    return AGREES_WITHIN * math.hypot(*(reading.standard_uncertainty for reading in readings))


def _split(readings: Readings) -> Reading | None:
    """Birefringence as read, or from the two edges."""
    if readings.birefringence:
        return readings.birefringence
    if readings.ri_low and readings.ri_high:
        low, high = readings.ri_low, readings.ri_high
        return Reading(max(high.value - low.value, 0.0), math.hypot(low.within, high.within))
    return None


def _split_at_least(readings: Readings) -> Reading | None:
    """What two edges say of the birefringence when the upper one lies beyond the scale."""
    if not (readings.ri_low and readings.over_limit):
        return None
    least = REFRACTOMETER_LIMIT - readings.ri_low.value
    return Reading(max(least, 0.0), math.hypot(readings.ri_low.within, LIMIT_WITHIN))


def _checks(readings: Readings, row: Described) -> list[_Check]:
    """Each reading against the row. Edges are held against what they can be when the other edge is in range
    too.
    """
    least, greatest = _birefringence_range(row)
    low, high = _number(row.ri_low), _number(row.ri_high)
    lower_edge, upper_edge = (low, max(low, high - least)), (min(high, low + least), high)
    checks = []
    if readings.ri:
        checks.append(_in_range("refractive index", readings.ri, low, high))
    if readings.ri_low:
        checks.append(_in_range("lower index", readings.ri_low, *lower_edge))
    if readings.ri_high:
        checks.append(_in_range("higher index", readings.ri_high, *upper_edge))
    if readings.over_limit:
        edge = upper_edge if readings.ri_low else lower_edge
        checks.append(_beyond("index over the limit", Reading(REFRACTOMETER_LIMIT, LIMIT_WITHIN), *edge))
    if double := _split(readings):
        checks.append(_in_range("birefringence", double, least, greatest))
    elif wide := _split_at_least(readings):
        checks.append(_beyond("birefringence", wide, least, greatest))
    if readings.sg:
        checks.append(_in_range("specific gravity", readings.sg, _number(row.sg_low), _number(row.sg_high)))
    if readings.optic_character:
        checks.append(_optic_check(readings.optic_character, row.optic_character))
    return checks


def _birefringence_range(row: Described) -> tuple[float, float]:
    if row.birefringence_max is None:
        return 0.0, WIDEST_BIREFRINGENCE
    greatest = _number(row.birefringence_max)
    return (0.0 if row.optic_character == "aggregate" else greatest * LEAST_BIREFRINGENCE_SHARE), greatest


def _in_range(name: str, reading: Reading, low: float, high: float) -> _Check:
    s = reading.standard_uncertainty
    off = max(low - reading.value, reading.value - high, 0.0) / s
    if high - low < 1e-9:
        return _Check(name, off, _NORMAL.pdf((reading.value - low) / s) / s)
    inside = _NORMAL.cdf((reading.value - low) / s) - _NORMAL.cdf((reading.value - high) / s)
    return _Check(name, off, inside / (high - low))


def _beyond(name: str, least: Reading, low: float, high: float) -> _Check:
    """A value known only to lie above ``least``: it counts the share of the row's range that lies there."""
    s = least.standard_uncertainty
    steps = [low + (high - low) * (k + 0.5) / 50 for k in range(50)]
    share = sum(_NORMAL.cdf((value - least.value) / s) for value in steps) / len(steps)
    return _Check(name, max(least.value - high, 0.0) / s, share)


def _optic_check(seen: str, listed: str) -> _Check:
    name = "optic character"
    if listed == "isotropic" and seen == "anisotropic":
        return _Check(name, 0.0, STRAINED_SHARE, "isotropic; a doubly refractive look would be strain")
    kind = listed.rstrip("+-/")
    fits = {listed, kind} | ({kind + "+", kind + "-"} if listed.endswith("+/-") else set())
    if listed != "isotropic":
        fits.add("anisotropic")
    return _Check(name, 0.0, 1.0) if seen in fits else _Check(name, None, 0.0)


def _candidates(agreeing: list[tuple[Described, list[_Check]]]) -> tuple[Candidate, ...]:
    weighed = [(row, math.prod(check.likelihood for check in checks), checks) for row, checks in agreeing]
    best = max((likelihood for _, likelihood, _ in weighed), default=0.0) or 1.0
    by_species: dict[str, list[tuple[Variety, list[_Check]]]] = {}
    for row, likelihood, checks in sorted(weighed, key=lambda entry: -entry[1]):
        by_species.setdefault(row.species, []).append(
            (Variety(row.key, row.variety, likelihood / best), checks)
        )
    return tuple(_candidate(species, found) for species, found in by_species.items())


def _candidate(species: str, found: list[tuple[Variety, list[_Check]]]) -> Candidate:
    notes = [check.note for _, checks in found for check in checks if check.note]
    notes += [
        f"{variety.variety}: {check.reading} lies {check.off:.1f} standard uncertainties outside the published range"
        for variety, checks in found
        for check in checks
        if check.off
    ]
    varieties = tuple(variety for variety, _ in found)
    return Candidate(species, varieties[0].relative, varieties, tuple(dict.fromkeys(notes)))


def _near_misses(checked: list[tuple[Described, list[_Check]]], *, most: int = 5) -> tuple[NearMiss, ...]:
    """Rows that only one reading speaks against, nearest first; pointless when only one reading was taken."""
    misses = []
    for row, checks in checked:
        against = [check for check in checks if not check.agrees]
        if len(against) == 1 and len(checks) > 1:
            misses.append(NearMiss(row.key, row.species, row.variety, against[0].reading, against[0].off))
    misses.sort(key=lambda miss: math.inf if miss.off is None else miss.off)
    return tuple(misses[:most])


def _statement(candidates: tuple[Candidate, ...], misses: tuple[NearMiss, ...]) -> str:
    if len(candidates) > 1:
        return (
            f"{len(candidates)} species of the table agree with these readings; they do not tell them apart."
        )
    if candidates:
        return (
            f"Of the species in the table only {candidates[0].species} agrees with these readings. That is no proof:"
            " the table is not complete, and natural, laboratory-grown and treated stones share these figures."
        )
    if misses:
        return (
            f"No species of the table agrees. {misses[0].species.capitalize()} would, but for the {misses[0].reading}:"
            " take that reading again."
        )
    return "No species of the table agrees with these readings; take them again, or the stone is not in the table."


def _next_reading(readings: Readings, rows: list[Described]) -> str | None:
    """The reading not yet taken whose published ranges lie apart for most pairs of what is left; None if for
    none.
    """
    untaken: dict[str, Callable[[Described, Described], bool]] = {}
    if not (readings.ri or readings.ri_low or readings.over_limit):
        untaken["refractive index"] = lambda a, b: _apart(_index_range(a), _index_range(b))
    if (_split(readings) or _split_at_least(readings)) is None:
        untaken["birefringence"] = lambda a, b: _apart(_birefringence_range(a), _birefringence_range(b))
    if readings.sg is None:
        untaken["specific gravity"] = lambda a, b: _apart(_sg_range(a), _sg_range(b))
    if readings.optic_character is None:
        untaken["optic character"] = lambda a, b: a.optic_character != b.optic_character
    pairs = [(a, b) for a, b in combinations(rows, 2) if a.species != b.species]
    parted = {name: sum(parts(a, b) for a, b in pairs) for name, parts in untaken.items()}
    name = max(parted, key=lambda key: parted[key], default=None)
    return name if name and parted[name] else None


def _apart(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return one[1] < other[0] or other[1] < one[0]


def _index_range(row: Described) -> tuple[float, float]:
    return _number(row.ri_low), _number(row.ri_high)


def _sg_range(row: Described) -> tuple[float, float]:
    return _number(row.sg_low), _number(row.sg_high)


def _number(value: object) -> float:
    return float(str(value))


def _check_range(reading: Reading | None, low: float, high: float, what: str) -> None:
    if reading is not None and not low <= reading.value <= high:
        raise OutOfRange(f"{what} of {reading.value:g} is not one of a gem; give {low:g} to {high:g}.")
