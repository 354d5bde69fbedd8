"""What lies under a point of the map."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from farmmap.farm.farm import Farm
from farmmap.figures.margins import Margin
from farmmap.figures.standing import Standing
from farmmap.scene.scene import Chosen

PICKED_LAYERS = frozenset({"trees", "blocks", "margins"})
"""Layers whose things can be picked."""


def pick(
    farm: Farm,
    standing: Standing,
    margins: Sequence[Margin],
    x: float,
    y: float,
    within_m: float,
    layers: frozenset[str] = PICKED_LAYERS,
) -> Chosen | None:
    """Return the first of `everything_at`, None on empty ground."""
    found = everything_at(farm, standing, margins, x, y, within_m, layers)
    return found[0] if found else None


def everything_at(
    farm: Farm,
    standing: Standing,
    margins: Sequence[Margin],
    x: float,
    y: float,
    within_m: float,
    layers: frozenset[str] = PICKED_LAYERS,
) -> list[Chosen]:
    """Return all that lies under a point: the nearest tree, then margins and blocks, the smaller first.

    A second click on the same spot can take the next.

    Parameters
    ----------
    farm : Farm
        The farm.
    standing : Standing
        Trees that count on the day that is shown.
    margins : sequence of Margin
        The creek margins.
    x, y : float
        The point. [m]
    within_m : float
        How far off a tree may be. [m]
    layers : frozenset of str
        Layers that are shown; things of others are passed over, and so is a species that is not among them
        when any ``species:CODE`` is.
    """
    found: list[Chosen] = []
    if "trees" in layers:
        tree = _nearest_tree(standing, x, y, within_m, layers)
        if tree is not None:
            found.append(Chosen("tree", tree))
    areas: list[tuple[float, Chosen]] = []
    point = shapely.Point(x, y)
    if "margins" in layers:
        shapes = np.array([margin.polygon for margin in margins], object)
        hit = np.flatnonzero(shapely.intersects(shapes, point))
        areas += [(float(shapely.area(shapes[place])), Chosen("margin", int(place))) for place in hit]
    if "blocks" in layers and len(farm.blocks):
        shapes = farm.blocks.geometry.to_numpy()
        hit = np.flatnonzero(shapely.intersects(shapes, point))
        areas += [(float(shapely.area(shapes[place])), Chosen("block", int(farm.blocks.index[place]))) for place in hit]
    return found + [chosen for _, chosen in sorted(areas, key=lambda area: area[0])]


def _nearest_tree(standing: Standing, x: float, y: float, within_m: float, layers: frozenset[str]) -> int | None:
    near = np.flatnonzero((np.abs(standing.x - x) <= within_m) & (np.abs(standing.y - y) <= within_m))
    shown = {layer.removeprefix("species:") for layer in layers if layer.startswith("species:")}
    if shown:
        wanted = np.array([name in shown for name in standing.species_names])
        near = near[wanted[standing.species[near]]]
    away = np.hypot(standing.x[near] - x, standing.y[near] - y)
    if not len(away) or away.min() > within_m:
        return None
    return int(standing.ids[near[int(np.argmin(away))]])
