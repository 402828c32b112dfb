"""Grit labels in microns, by standard, and Preston's law of removal.

A "grit" of 1200 is 3 to 15 microns wide depending on who prints it: the handbook always stores and compares
microns, and where sources disagree it gives each with its name. ``abrasives.tsv`` holds the rows. Standards:
JIS R 6001:1987 (replaced in 1998, still printed on laps), CAMI (ANSI B74.18), FEPA P (coated, ISO 6344), FEPA
F (bonded, ISO 8486; from memory), and the mesh numbers of diamond powder, which no standard governs.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache

from workshop.handbook.errors import OutOfRange
from workshop.handbook.tables import rows

STANDARDS: dict[str, str] = {
    "jis": "JIS R 6001",
    "cami": "CAMI",
    "fepa_p": "FEPA P",
    "fepa_f": "FEPA F",
    "diamond": "diamond mesh",
}
DIAMOND_LEAST_MESH, DIAMOND_GREATEST_MESH = 60, 100_000
"""The source of the power law states no range; at 60 and 100 mesh it lies within 6 % of the sieve openings
(250
and 150 microns), at 100,000 on the 0.25 micron its own page gives.
"""

_POWER_LAW = (
    "power law 11764.71 x mesh^-0.93589, Micron conversion table (a weak page)"
    " <http://thelaststand.co.uk/mdomldm/e763cb-micron-conversion-table>"
)

TRADE_SEQUENCES: tuple[tuple[tuple[str, ...], str], ...] = (
    (
        ("325 coarse", "600 large facets", "1200 fine", "3000 or 8000 pre-polish"),
        "Working with diamond <http://ctminsoc.org.za/articles/working-with-diamond>",
    ),
    (
        ("80-100", "180", "220-260", "360", "600", "1200"),
        "Faceting laps <http://www.theimage.com/faceting/facet9b.htm>",
    ),
)
"""Which laps follow one another, as two sources have it; labels are diamond mesh."""


@dataclass(frozen=True)
class Grain:
    """What one source says a label is: median or average grain in microns, ± tolerance where the standard has
    one.
    """

    standard: str
    label: str
    microns: float
    tolerance: float | None
    source: str
    note: str
    from_memory: bool


@cache
def grains() -> tuple[Grain, ...]:
    """Every row of the table, in its order."""
    return tuple(
        Grain(
            standard=row["standard"],
            label=row["label"],
            microns=float(row["microns"]),
            tolerance=float(row["tolerance"]) if row["tolerance"] else None,
            source=row["source"],
            note=row["note"],
            from_memory=row["from_memory"] == "yes",
        )
        for row in rows("abrasives")
    )


def labels(standard: str) -> tuple[str, ...]:
    """The labels the table knows for a standard, coarse to fine."""
    known = {grain.label for grain in grains() if grain.standard == _checked(standard)}
    return tuple(sorted(known, key=int))


def microns(label: str | int, standard: str) -> tuple[Grain, ...]:
    """Every source's size for a label ("1200", "#1200", "P1200", "14,000") under a standard.

    Diamond mesh also answers between the printed labels, by the power law, from 60 to 100,000. Raises
    ``OutOfRange`` for an unknown standard, a label that is no number, or one the standard does not have;
    nothing is interpolated.

    >>> [grain.microns for grain in microns("#1200", "jis")]
    [9.5]
    """
    _checked(standard)
    number = _number(label, standard)
    found = tuple(grain for grain in grains() if grain.standard == standard and int(grain.label) == number)
    if standard == "diamond" and DIAMOND_LEAST_MESH <= number <= DIAMOND_GREATEST_MESH:
        found += (Grain(standard, str(number), diamond_microns(number), None, _POWER_LAW, "", False),)
    if not found:
        raise OutOfRange(
            f"{STANDARDS[standard]} has no {number}; it has {', '.join(labels(standard))}.",
            known=labels(standard),
        )
    return found


def diamond_microns(mesh: float) -> float:
    """Grain of US diamond powder by its mesh number: 11764.71 x mesh^-0.93589 microns; 60 to 100,000 mesh."""
    if not DIAMOND_LEAST_MESH <= mesh <= DIAMOND_GREATEST_MESH:
        raise OutOfRange(
            f"Diamond mesh runs from {DIAMOND_LEAST_MESH} to {DIAMOND_GREATEST_MESH:,}, not {mesh:g}.",
            mesh=mesh,
        )
    return float(11764.71 * mesh**-0.93589)


def nearest_labels(microns_wanted: float) -> tuple[Grain, ...]:
    """For a grain in microns, the nearest label of each standard (nearest in ratio), coarser first.

    A standard that has nothing within a factor of two is left out. Above zero, else ``OutOfRange``.
    """
    if not 0 < microns_wanted < math.inf:
        raise OutOfRange("Give the grain in microns, more than zero.", microns=microns_wanted)

    def away(grain: Grain) -> float:
        return abs(math.log(grain.microns / microns_wanted))

    nearest = (min((g for g in grains() if g.standard == standard), key=away) for standard in STANDARDS)
    near = [grain for grain in nearest if away(grain) <= math.log(2)]
    return tuple(sorted(near, key=lambda grain: -grain.microns))


def removal_time_ratio(
    size_mm: float, other_mm: float, *, force_ratio: float = 1.0, speed_ratio: float = 1.0
) -> float:
    """How many times longer a facet of one size takes than a facet of another, to the same depth.

    Preston 1927, r = k P v, with P = force / area: the time goes with the square of the size, and down with
    force and speed (``*_ratio``: this facet's over the other's). S. Attaway, Preston Equation
    <http://attawaygems.com/NMFG/preston_equation.html>, who adds that in polishing the rate hardly depends on
    the grain. All above zero, else ``OutOfRange``.

    >>> removal_time_ratio(10, 5)
    4.0
    """
    if not all(0 < value < math.inf for value in (size_mm, other_mm, force_ratio, speed_ratio)):
        raise OutOfRange("Sizes, forces and speeds must be more than zero.")
    return (size_mm / other_mm) ** 2 / (force_ratio * speed_ratio)


def _checked(standard: str) -> str:
    if standard not in STANDARDS:
        raise OutOfRange(
            f"No grit standard {standard!r}; known: {', '.join(STANDARDS)}.", known=tuple(STANDARDS)
        )
    return standard


def _number(label: str | int, standard: str) -> int:
    read = re.fullmatch(r"([#PF]?)\s*(\d{1,3}(?:,\d{3})+|\d{1,6})", str(label).strip().upper())
    if read is None:
        raise OutOfRange(f"{label!r} is not a grit label; give a number such as 1200 or P1200.", label=label)
    meant = {"P": "fepa_p", "F": "fepa_f"}.get(read[1], standard)
    if meant != standard:
        raise OutOfRange(f"{label} is a {STANDARDS[meant]} label, not {STANDARDS[standard]}.", label=label)
    return int(read[2].replace(",", ""))
