"""The handbook's heavy chapters against the bare library call each stands on."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Iterator

from .measure import Timed, against

#: The issue's own aims: a solid under twice a bare half-space intersection; seconds are printed, not asserted.
SOLID_AIM = 2.0


def measure_handbook(rounds: int, say: Callable[[str], None]) -> Iterator[Timed]:
    """One solid, one face-up picture, the import."""
    say("one solid")
    yield _solid(rounds)
    say("face-up picture")
    yield _picture(rounds)
    say("options for a piece of rough")
    yield _options(rounds)
    say("import")
    yield _import()


def _solid(rounds: int) -> Timed:
    import numpy as np
    from scipy.spatial import HalfspaceIntersection

    from workshop.handbook.solids import make_cut, solid_from_arrays

    stone = make_cut("round", "brilliant", width=8.0)
    inside = stone.centroid
    rows = np.column_stack([stone.normals, -stone.offsets])
    planes = stone.planes
    return against(
        f"one solid of {len(planes)} facets",
        lambda: solid_from_arrays(planes, stone.normals, stone.offsets, interior=inside.tolist()),
        lambda: HalfspaceIntersection(rows, inside),
        rounds=max(rounds, 50),
        aim=SOLID_AIM,
    )


def _picture(rounds: int) -> Timed:
    import numpy as np

    from workshop.handbook.light import trace
    from workshop.handbook.solids import make_cut

    stone = make_cut("round", "brilliant", width=8.0)
    origins = np.random.default_rng(1).normal(size=(200 * 200, 3))

    def one_bounce() -> None:
        # What no ray trace can do without: every ray against every plane, once.
        (origins @ stone.normals.T).min(axis=1)

    return against(
        f"face-up picture, 200 × 200, {len(stone.planes)} facets (floor: one bounce)",
        lambda: trace(stone.normals, stone.offsets, 1.62, grid=200),
        one_bounce,
        rounds=max(rounds // 3, 5),
    )


def _options(rounds: int) -> Timed:
    """Twelve outlines over the 24 turns of a block; the floor is one bare linear program for each of the 288."""
    import numpy as np
    from scipy.optimize import linprog

    from workshop.handbook.recovery import block, box_turns, cut_of, measured, options
    from workshop.handbook.solids import make_cut

    piece = measured(block(14.0, 11.0, 9.0), 3.06)
    keys = (
        "round", "oval", "cushion", "pear", "marquise", "rectangle", "cut_corner_rectangle", "square", "triangle",
        "kite", "shield", "polygon",
    )  # fmt: skip
    cuts = [cut_of(key, make_cut(key)) for key in keys]
    turns = box_turns()
    walls = np.vstack([np.eye(3), -np.eye(3)])
    room = np.array([7.0, 5.5, 4.5, 7.0, 5.5, 4.5])

    def bare() -> None:
        for _ in range(len(cuts) * len(turns)):
            linprog(
                [0, 0, 0, -1], A_ub=np.column_stack([walls, np.ones(6)]), b_ub=room, bounds=[(None, None)] * 4
            )

    return against(
        f"options, {len(cuts)} outlines × {len(turns)} turns (floor: as many bare linear programs)",
        lambda: options(piece, cuts, turns=turns),
        bare,
        rounds=max(rounds // 10, 3),
        aim=1.0,
    )


def _import() -> Timed:
    def run(what: str) -> float:
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", what], check=True)  # noqa: S603
        return (time.perf_counter() - start) * 1000

    code = "import workshop.handbook.solids, workshop.handbook.light, workshop.handbook.drawings"
    runs = sorted(run(code) for _ in range(5))
    floors = sorted(run("import numpy") for _ in range(5))
    return Timed("importing solids, light and drawings (floor: numpy)", runs[2], runs[-1], floors[2])
