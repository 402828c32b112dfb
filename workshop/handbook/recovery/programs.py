"""The linear programs behind recovery: the largest scale of a cut inside planes, or inside a pebble and
planes.

Many small programs are solved together by Mehrotra's predictor-corrector (S. Mehrotra, SIAM J. Optimization 2
(1992) 575; S. Boyd and L. Vandenberghe, Convex Optimization, 2004, for the duality that bounds what is left
to gain). Shapes: k programs, m planes, v corners; ``laid`` (k, v, 3) are the corners of each cut turned and
stretched, about a point inside it; ``normals`` (k, m, 3) unit, ``offsets`` (k, m) mm.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TANGENTS = 60
"""Tangent planes that stand round a pebble at the start."""
STICKS_OUT = 6
"""Corners that get a tangent plane of their own in each round."""


def largest_in_planes(normals: Floats, offsets: Floats, laid: Floats) -> tuple[Floats, Floats, Floats]:
    """Largest scale that fits (k,), its position (k, 3), and a scale no stone so turned can pass (k,)."""
    support = _support(normals, laid)
    most, positions = _programs(normals, offsets, support)
    return _scale_within_planes(normals, offsets, support, positions), positions, most


def largest_in_pebble(
    axes: Floats,
    normals: Floats,
    offsets: Floats,
    laid: Floats,
    worth: Floats,
    *,
    to_beat: float = 0.0,
    touching: Floats | None = None,
    rounds: int = 12,
    good: float = 1e-6,
) -> tuple[Floats, Floats, Floats]:
    """As ``largest_in_planes`` inside an ellipsoid of semi-axes ``axes`` (3,) as well.

    Tangent planes are added at the corners that stick out most until none does by more than ``good``.
    ``worth`` (k,) multiplies a scale before programs are compared: one that cannot become the best, or cannot
    pass ``to_beat``, is not followed further, and keeps the scale it had. ``touching`` (t, 3): where on the
    unit ball a stone laid much the same is known to touch; good guesses save rounds.
    """
    count = len(laid)
    scales, positions, most = np.zeros(count), np.zeros((count, 3)), np.full(count, np.inf)
    known = spread(TANGENTS) if touching is None else np.vstack([spread(TANGENTS), touching])
    touch = np.broadcast_to(known, (count, *known.shape))
    open_ = np.arange(count)
    for _ in range(rounds):
        tangent = touch / axes
        length = np.linalg.norm(tangent, axis=2)
        planes = np.concatenate([normals[open_], tangent / length[..., None]], axis=1)
        reach = np.concatenate([offsets[open_], 1 / length], axis=1)
        bound, at = _programs(planes, reach, _support(planes, laid[open_]))
        inside = _scale_within_planes(
            normals[open_], offsets[open_], _support(normals[open_], laid[open_]), at
        )
        fitting = np.minimum(inside, _scale_within_ball(axes, laid[open_], at))
        better = fitting > scales[open_]
        scales[open_[better]], positions[open_[better]] = fitting[better], at[better]
        most[open_] = np.minimum(most[open_], bound)
        touch = _touch_more(touch, axes, laid[open_], bound, at)
        promising = most[open_] * worth[open_] >= max((scales * worth).max(), to_beat)
        follow = promising & (most[open_] > scales[open_] * (1 + good))
        if not follow.any():
            break
        open_, touch = open_[follow], touch[follow]
    return scales, positions, most


def spread(count: int) -> Floats:
    """Points evenly spread over the unit sphere (count, 3), the golden-angle spiral."""
    k = np.arange(count) + 0.5
    height, round_ = 1 - 2 * k / count, math.pi * (1 + math.sqrt(5)) * k
    level = np.sqrt(1 - height * height)
    return np.column_stack([level * np.cos(round_), level * np.sin(round_), height])


def _touch_more(touch: Floats, axes: Floats, laid: Floats, scales: Floats, positions: Floats) -> Floats:
    """The touching points (k, t, 3) on the unit ball with those of the corners that stick out most added."""
    out = (scales[:, None, None] * laid + positions[:, None, :]) / axes
    far = np.linalg.norm(out, axis=2)
    few = min(STICKS_OUT, far.shape[1])
    worst = np.argpartition(-far, few - 1, axis=1)[:, :few]
    touching = np.take_along_axis(out / np.maximum(far, 1e-300)[..., None], worst[..., None], axis=1)
    return np.concatenate([touch, touching], axis=1)


def _support(normals: Floats, laid: Floats) -> Floats:
    """Greatest reach (k, m) of each laid cut along each of its planes."""
    if not normals.shape[1]:
        return np.zeros(normals.shape[:2])
    reach: Floats = np.einsum("kmi,kvi->kmv", normals, laid).max(axis=2)
    return reach


def _scale_within_planes(normals: Floats, offsets: Floats, support: Floats, positions: Floats) -> Floats:
    """Greatest scale (k,) that keeps every corner inside every plane from where the stone stands; inf without
    planes.
    """
    if not normals.shape[1]:
        return np.full(len(normals), np.inf)
    room = offsets - np.einsum("kmi,ki->km", normals, positions)
    fitting: Floats = (room / support).min(axis=1)
    return fitting


def _scale_within_ball(axes: Floats, laid: Floats, positions: Floats) -> Floats:
    """Greatest scale (k,) that keeps every corner inside the ellipsoid: a quadratic for each corner."""
    ways, at = laid / axes, positions / axes
    a = (ways * ways).sum(axis=2)
    b = np.einsum("kvi,ki->kv", ways, at)
    c = (at * at).sum(axis=1)[:, None] - 1
    root = np.sqrt(np.maximum(b * b - a * c, 0.0))
    fitting: Floats = np.where(c[:, 0] < 0, ((root - b) / a).min(axis=1), 0.0)
    return fitting


def _programs(normals: Floats, offsets: Floats, support: Floats) -> tuple[Floats, Floats]:
    """Bound on the scale (k,) and best position (k, 3) under support x scale + normal . position <= offset.

    Every support above zero.
    """
    size = np.abs(offsets).max(axis=1, keepdims=True)
    reach = support.mean(axis=1, keepdims=True)
    rows = np.concatenate([(support / reach)[..., None], normals], axis=2)
    point, bound = _mehrotra(rows, offsets / size)
    return bound * (size / reach)[:, 0], point[:, 1:] * size


def _mehrotra(
    rows: Floats, bounds: Floats, *, rounds: int = 60, good: float = 1e-12
) -> tuple[Floats, Floats]:
    """Maximise the first unknown under rows x <= bounds; rows (k, m, n). Returns x (k, n) and the dual bound
    (k,).
    """
    count, planes, unknowns = rows.shape
    aim = np.eye(unknowns)[0]
    across = rows.transpose(0, 2, 1)
    x = np.zeros((count, unknowns))
    slack = np.maximum(bounds, 0.1)
    weight = np.full((count, planes), 1 / planes)
    for _ in range(rounds):
        off = bounds - _times(rows, x) - slack
        unmet = aim - _times(across, weight)
        gap = (slack * weight).mean(axis=1, keepdims=True)
        wrong = np.maximum(np.abs(off).max(axis=1), np.abs(unmet).max(axis=1))[:, None]
        running = (gap > good) | (wrong > 100 * good)
        if not running.any():
            break
        stiff = (across * (weight / slack)[:, None, :]) @ rows
        stiff += 1e-15 * np.trace(stiff, axis1=1, axis2=2)[:, None, None] * np.eye(unknowns)
        system = (rows, across, stiff, off, unmet, slack, weight)
        _, dslack, dweight = _newton(*system, -slack * weight)
        ahead, behind = _stride(slack, dslack), _stride(weight, dweight)
        reached = ((slack + ahead * dslack) * (weight + behind * dweight)).mean(axis=1, keepdims=True)
        centred = (reached / gap) ** 3 * gap
        dx, dslack, dweight = _newton(*system, centred - slack * weight - dslack * dweight)
        ahead, behind = (0.999 * running * _stride(*one) for one in ((slack, dslack), (weight, dweight)))
        x += ahead * dx
        slack = slack + ahead * dslack
        weight = weight + behind * dweight
    # weak duality, with what the weights still miss held against a point as far out as the one found
    missed = np.abs(aim - _times(across, weight)).sum(axis=1) * (1 + np.abs(x).max(axis=1))
    bound: Floats = (weight * bounds).sum(axis=1) + missed
    return x, bound


def _newton(
    rows: Floats,
    across: Floats,
    stiff: Floats,
    off: Floats,
    unmet: Floats,
    slack: Floats,
    weight: Floats,
    target: Floats,
) -> tuple[Floats, Floats, Floats]:
    """The step that takes slack x weight to where ``target`` says, by the normal equations."""
    right = unmet - _times(across, (target - weight * off) / slack)
    dx = np.asarray(np.linalg.solve(stiff, right[..., None])[..., 0], dtype=np.float64)
    dslack: Floats = off - _times(rows, dx)
    return dx, dslack, (target - weight * dslack) / slack


def _times(matrix: Floats, vector: Floats) -> Floats:
    product: Floats = (matrix @ vector[..., None])[..., 0]
    return product


def _stride(values: Floats, change: Floats) -> Floats:
    """Longest step (k, 1), at most 1, that keeps values (k, m) above zero."""
    stride: Floats = (values / np.maximum(values, -change)).min(axis=1, keepdims=True)
    return stride
