"""A solid costs little more than the library's bare half-space intersection, and importing costs no SciPy at all."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from time import perf_counter

import numpy as np
from scipy.spatial import HalfspaceIntersection

from workshop.handbook.solids import make_cut, solid_from_arrays


def best(*deeds, rounds=60):
    """Least time of each deed, taken in turns so that a busy machine slows them alike."""
    least = [float("inf")] * len(deeds)
    for _ in range(rounds):
        for i, deed in enumerate(deeds):
            start = perf_counter()
            deed()
            least[i] = min(least[i], perf_counter() - start)
    return least


def test_a_solid_takes_at_most_twice_a_bare_intersection():
    """57 facets and 64 girdle facets: vertices, ordered faces, areas, volume and centroid against vertices alone."""
    cut = make_cut("round", "brilliant")
    inside = np.zeros(3)

    def bare():
        return HalfspaceIntersection(np.column_stack([cut.normals, -cut.offsets]), inside)

    def ours():
        return solid_from_arrays(cut.planes, cut.normals, cut.offsets, interior=inside)

    ratios = []
    for _ in range(3):
        floor, whole = best(bare, ours)
        ratios.append(whole / floor)
        if ratios[-1] <= 2:
            break
    assert min(ratios) <= 2, ratios


def test_importing_solids_and_drawings_leaves_scipy_and_django_alone():
    words = (
        "import sys, time, numpy; start = time.process_time();"
        "import workshop.handbook.solids, workshop.handbook.drawings;"
        "took = time.process_time() - start;"
        "assert not {'scipy', 'django'} & set(sys.modules), 'a heavy import';"
        "assert took < 0.3, took"
    )
    command = [sys.executable, "-c", words]
    # In a fresh clone the first import also writes the byte code.
    subprocess.run([*command[:2], words.rsplit("assert", 1)[0]], check=True, cwd=Path(__file__).parents[2])
    subprocess.run(command, check=True, cwd=Path(__file__).parents[2])
