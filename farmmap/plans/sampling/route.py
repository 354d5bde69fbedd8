"""The way from plot to plot: in which order to walk, how far and in which direction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.editing.ground import bearing_deg, length_m
from farmmap.farm.farm import Farm
from farmmap.figures.grounds import grounds
from farmmap.figures.sampling.counts import plot_counts
from farmmap.figures.sampling.sampled import block_of_each_plot

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SHORTENED_UP_TO = 400
"""More plots than this are walked from each to the nearest, without looking for crossings."""

MOST_ROUNDS = 30
NEAR_TRACK_M = 500.0


def walking_order(points: Floats) -> NDArray[np.intp]:
    """Return an order in which places lie well for walking: nearest next from the south-west, then uncrossed.

    Two stretches of the way that are shorter swapped are swapped until none
    is (2-opt: G. A. Croes (1958), Operations Research 6, 791; from memory).

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        [m]

    Returns
    -------
    ndarray of int, shape (n,)
        Places in their order.
    """
    n = len(points)
    if n < 3:
        return np.arange(n)
    left = np.ones(n, bool)
    at = int(np.argmin(points.sum(axis=1)))
    order = [at]
    left[at] = False
    for _ in range(n - 1):
        away = np.hypot(*(points - points[at]).T)
        at = int(np.argmin(np.where(left, away, np.inf)))
        left[at] = False
        order.append(at)
    way = np.array(order)
    if n > SHORTENED_UP_TO:
        return way
    for _ in range(MOST_ROUNDS):
        better = _uncrossed(points, way)
        if better is None:
            break
        way = better
    return way


def _uncrossed(points: Floats, way: NDArray[np.intp]) -> NDArray[np.intp] | None:
    """Turn round every stretch of a way that shortens it, once each; None if none does. Its first place stays."""
    changed = False
    for first in range(1, len(way) - 1):
        at = points[way]
        before, here = at[first - 1], at[first]
        last = at[first + 1 :]
        after = np.concatenate([at[first + 2 :], np.full((1, 2), np.nan)])
        now = np.hypot(*(here - before)) + np.nan_to_num(np.hypot(*(after - last).T))
        then = np.hypot(*(last - before).T) + np.nan_to_num(np.hypot(*(after - here).T))
        best = int(np.argmax(now - then))
        if now[best] - then[best] > 1e-9:
            end = first + 1 + best
            way = np.concatenate([way[:first], way[first : end + 1][::-1], way[end + 1 :]])
            changed = True
    return way if changed else None


@dataclass(frozen=True)
class Leg:
    """How one plot is reached.

    Attributes
    ----------
    plot : int
        Id of the plot.
    name : str
        Its name.
    x, y : float
        Where it is: its middle, or where a strip begins. [grid m]
    bearing_deg, distance_m : float
        From the plot before, or from where the walk begins to the first; a bearing is nan if there is no way to go.
        [degrees from true north, m]
    from_words : str
        Where one comes from.
    runs_deg : float
        How a strip runs from where it begins, clockwise from true north; nan for other plots. [degrees]
    """

    plot: int
    name: str
    x: float
    y: float
    bearing_deg: float
    distance_m: float
    from_words: str
    runs_deg: float


def legs(farm: Farm, block: int, *, to_measure: bool = False) -> tuple[Leg, ...]:
    """Return the way to the plots of a block, in the order in which the farm lists them.

    Parameters
    ----------
    farm : Farm
        The farm.
    block : int
        Id of the block.
    to_measure : bool
        Only to those that were not measured yet, unless all were.
    """
    counts = plot_counts(farm)
    here = np.flatnonzero(block_of_each_plot(farm) == block)
    if to_measure and not counts.counted[here].all():
        here = here[~counts.counted[here]]
    if not len(here):
        return ()
    x, y = (farm.plots[axis].to_numpy(np.float64)[here] for axis in "xy")
    middles = counts.middles[here]
    at, words = _begin(farm, block, float(x[0]), float(y[0]))
    out: list[Leg] = []
    for place, east, north, middle in zip(here.tolist(), x.tolist(), y.tolist(), middles.tolist(), strict=True):
        to = (east, north)
        out.append(
            Leg(
                int(counts.ids[place]),
                counts.names[place],
                east,
                north,
                bearing_deg(farm, at, to),
                length_m(farm, [at, to]),
                words,
                bearing_deg(farm, to, (middle[0], middle[1])),
            )
        )
        at, words = to, f"plot {counts.names[place]}"
    return tuple(out)


def _begin(farm: Farm, block: int, x: float, y: float) -> tuple[tuple[float, float], str]:
    """Where the walk begins: the nearest place on a track, else the nearest corner of the block."""
    point = shapely.Point(x, y)
    tracks = farm.tracks[farm.tracks["stage"] == "existing"]
    if len(tracks):
        away = shapely.distance(tracks.geometry.to_numpy(), point)
        nearest = int(np.nanargmin(away)) if np.isfinite(away).any() else -1
        if nearest >= 0 and away[nearest] <= NEAR_TRACK_M:
            line = tracks.geometry.iloc[nearest]
            on = shapely.get_coordinates(shapely.shortest_line(line, point))[0]
            name = str(tracks["name"].iloc[nearest]) or "the track"
            return (float(on[0]), float(on[1])), f"nearest place on {name}"
    ground = grounds(farm)
    corners = shapely.get_coordinates(ground.outlines[int(np.searchsorted(ground.ids, block))])
    corner = corners[int(np.argmin(np.hypot(*(corners - (x, y)).T)))]
    return (float(corner[0]), float(corner[1])), "nearest corner of the block"
