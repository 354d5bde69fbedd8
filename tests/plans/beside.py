"""How far places lie from a bank, by hand: piece by piece and corner by corner, without any buffer or overlay."""

from __future__ import annotations

import numpy as np
import shapely

from farmmap.plans.planting.ground.stretch import CreekPart


def beside(part: CreekPart, side: int, at: np.ndarray) -> np.ndarray:
    """Return how far places lie from the bank of a side: square to a piece, or round the outside of a corner.

    inf where a place lies beside nothing of that side; less than 0 in the channel. [grid m], shape (n,)
    """
    least = np.full(len(at), np.inf)
    ends: dict[tuple[float, float], list[float]] = {}
    for reach in part.reaches:
        if reach.widths[side] <= 0:
            continue
        corners = shapely.get_coordinates(reach.line)
        for corner in (corners[0], corners[-1]):
            ends.setdefault(tuple(np.round(corner, 4)), []).append(reach.half)
        steps = np.diff(corners, axis=0)
        lengths = np.hypot(*steps.T)
        along = steps / lengths[:, None]
        left = np.column_stack([-along[:, 1], along[:, 0]]) * (1 if side == 0 else -1)
        away = at[:, None] - corners[None, :-1]
        on, off = (away * along).sum(axis=2), (away * left).sum(axis=2)
        square = np.where((on >= -1e-9) & (on <= lengths + 1e-9) & (off >= 0), off, np.inf)
        least = np.minimum(least, square.min(axis=1) - reach.half)
        ahead = on[:, :-1] > lengths[:-1]
        behind = on[:, 1:] < 0
        turn = along[:-1, 0] * along[1:, 1] - along[:-1, 1] * along[1:, 0]
        outer = turn < 0 if side == 0 else turn > 0
        round_it = np.where(
            ahead & behind & outer, np.hypot(*(at[:, None] - corners[None, 1:-1]).transpose(2, 0, 1)), np.inf
        )
        if round_it.shape[1]:
            least = np.minimum(least, round_it.min(axis=1) - reach.half)
    for corner, halves in ends.items():
        if len(halves) > 1:
            least = np.minimum(least, np.hypot(*(at - np.array(corner)).T) - min(halves))
    return least


def spots(ground: shapely.Geometry, number: int = 60, seed: int = 1) -> np.ndarray:
    """Return places inside a ground, shape (n, 2): scattered ones, and ones a hair inside its corners."""
    if ground.is_empty:
        return np.empty((0, 2))
    random = np.random.default_rng(seed)
    west, south, east, north = ground.bounds
    scattered = random.uniform([west, south], [east, north], (number * 5, 2))
    corners = shapely.get_coordinates(ground)
    corners = corners[random.permutation(len(corners))[:number]]
    shapely.prepare(ground)
    scattered = scattered[shapely.contains_xy(ground, *scattered.T)]
    inside = [shapely.get_coordinates(shapely.point_on_surface(part)) for part in shapely.get_parts(ground)]
    return np.vstack([scattered[:number], corners, *inside[:number]])
