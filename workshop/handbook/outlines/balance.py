"""Girdle balance: which sides read long or short around the outline, and where to cut to even them out.

Plane geometry and one linear program; the tolerance is the cutter's own and must be said, since no standard
gives one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotAddUp, OutOfRange
from .shapes import Array
from .stations import HalfPlane


@dataclass(frozen=True)
class SideReading:
    """One side of the girdle as read against what it should be.

    ``read``, ``wanted``: mm; wanted is the plan's side at the size of the stone as it is now (equal sum).
    ``over``: read less wanted, mm; ``over_percent``: of the wanted length. ``verdict``: "long", "short" or
    "even" by the tolerance.
    """

    number: int
    read: float
    wanted: float
    over: float
    over_percent: float
    verdict: str


@dataclass(frozen=True)
class Evening:
    """How to even the girdle: ``depths`` (mm, 0 or more) to go in on each side, in the order read; ``scale``:
    size of the even outline as a part of the plan's; ``misfit``: how far the readings fail to close, mm
    (gauge error).
    """

    depths: tuple[float, ...]
    scale: float
    misfit: float


def read_sides(
    read: Sequence[float], *, tolerance_percent: float, wanted: Sequence[float] | None = None
) -> tuple[SideReading, ...]:
    """Judge side lengths read around the girdle (mm, in order) against ``wanted`` ones, or against equal
    sides.

    ``tolerance_percent``: how far from the wanted length a side may be and still count as even, 0 to 50.
    Raises ``OutOfRange`` for lengths that are not above zero, ``DoesNotAddUp`` for counts that differ.
    """
    if not (math.isfinite(tolerance_percent) and 0 <= tolerance_percent <= 50):
        raise OutOfRange("The tolerance is a percentage from 0 to 50.", tolerance=tolerance_percent)
    lengths, plan = (
        _lengths("read", read),
        _lengths("wanted", wanted if wanted is not None else [1.0] * len(read)),
    )
    if len(lengths) != len(plan):
        raise DoesNotAddUp(f"{len(lengths)} sides were read, but the outline has {len(plan)}.")
    fitted = plan * lengths.sum() / plan.sum()
    judged = []
    for i, (length, fit) in enumerate(zip(lengths.tolist(), fitted.tolist(), strict=True)):
        percent = 100 * (length - fit) / fit
        verdict = "even" if abs(percent) <= tolerance_percent else "long" if percent > 0 else "short"
        judged.append(SideReading(i + 1, length, fit, length - fit, percent, verdict))
    return tuple(judged)


def even_out(read: Sequence[float], plan: Sequence[HalfPlane]) -> Evening:
    """The largest even outline inside the girdle as it stands, and how far in each side must go for it.

    ``read``: side lengths, mm, in the order of ``plan``, whose azimuths the sides are taken to stand at. A
    long side is not cured by cutting that side, which makes it longer still, but by cutting beside it: so the
    whole is solved at once, the scale and place of the plan inside the polygon that the readings make.
    """
    from scipy.optimize import linprog

    lengths = _lengths("read", read)
    if len(lengths) != len(plan):
        raise DoesNotAddUp(f"{len(lengths)} sides were read, but the outline has {len(plan)}.")
    turn = np.radians([side.azimuth_deg for side in plan])
    normal, along = (
        np.column_stack([np.sin(turn), np.cos(turn)]),
        np.column_stack([np.cos(turn), -np.sin(turn)]),
    )
    gap = lengths @ along
    # Share the gap out over the sides in the least-squares sense: gauges err, polygons close.
    closed = lengths - along @ np.linalg.solve(along.T @ along, gap)
    corners = np.vstack([np.zeros(2), np.cumsum(closed[:, None] * along, axis=0)[:-1]])
    reach = (normal * corners).sum(axis=1)
    wanted = np.array([side.distance for side in plan])
    found = linprog(
        [-1.0, 0, 0],
        A_ub=np.column_stack([wanted, normal]),
        b_ub=reach,
        bounds=[(0, None), (None, None), (None, None)],
    )
    if not found.success:
        raise DoesNotAddUp("The sides do not make an outline: check the readings and their order.")
    scale, x, y = (float(v) for v in found.x)
    depths = np.maximum(reach - scale * wanted - normal @ np.array([x, y]), 0.0)
    depths[depths < 1e-9 * float(lengths.max())] = 0.0
    return Evening(tuple(float(d) for d in depths), scale, float(np.hypot(*gap)))


def _lengths(name: str, values: Sequence[float]) -> Array:
    lengths = np.asarray(values, dtype=np.float64)
    if len(lengths) < 3:
        raise OutOfRange("A girdle has at least three sides.", sides=len(lengths))
    if not (np.isfinite(lengths).all() and (lengths > 0).all()):
        raise OutOfRange(f"Every side {name} is a length above zero, in millimetres.")
    return lengths
