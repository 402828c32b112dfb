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


def _import() -> Timed:
    def run(what: str) -> float:
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", what], check=True)  # noqa: S603
        return (time.perf_counter() - start) * 1000

    code = "import workshop.handbook.solids, workshop.handbook.light, workshop.handbook.drawings"
    runs = sorted(run(code) for _ in range(5))
    floors = sorted(run("import numpy") for _ in range(5))
    return Timed("importing solids, light and drawings (floor: numpy)", runs[2], runs[-1], floors[2])
