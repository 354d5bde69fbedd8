"""The trees of a farm on a day, sorted by cell of ground, as the map draws them."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import Standing, there_on
from farmmap.scene.scene import GONE, PLANNED, STANDING, UNMEASURED, Bools, CellIndex, Ints, TreeGroup, TreeLayer
from farmmap.scene.symbols import SpeciesSymbol, species_symbols
from farmmap.scene.view import Floats

TREES_A_CELL = 64
NOT_DRAWN = -1

_made: Remembered[TreeLayer] = Remembered(4)


def tree_layer(farm: Farm, on: dt.date, standing: Standing, hidden: frozenset[str]) -> TreeLayer | None:
    """Return the trees that are on the map on a day, None if there are none.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date
        The day.
    standing : Standing
        Trees that count on that day.
    hidden : frozenset of str
        Names of hidden layers; ``species:CODE`` hides one species.
    """
    tables = (farm.trees, farm.species, standing)
    made = _made.get(tables, (on, farm.settings.class_cm), lambda: _sorted_trees(farm, on, standing))
    if not len(made.x):
        return None
    shown = np.array([f"species:{symbol.code}" not in hidden for symbol in made.symbols])
    return replace(made, shown=shown)


def cell_index(x: Floats, y: Floats) -> tuple[CellIndex, Ints]:
    """Return square cells over points, and the order that sorts the points by cell.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        The points. [m]
    """
    west, south = (float(x.min()), float(y.min())) if len(x) else (0.0, 0.0)
    wide, high = (float(x.max()) - west, float(y.max()) - south) if len(x) else (0.0, 0.0)
    size = max(math.sqrt(max(wide, 1.0) * max(high, 1.0) * TREES_A_CELL / max(len(x), 1)), 1.0)
    columns, rows = int(wide // size) + 1, int(high // size) + 1
    cell = ((y - south) // size).astype(np.int64) * columns + ((x - west) // size).astype(np.int64)
    order = np.argsort(cell, kind="stable")
    starts = np.concatenate([[0], np.cumsum(np.bincount(cell, minlength=columns * rows))]).astype(np.int64)
    return CellIndex(west, south, size, columns, rows, starts), order


def _sorted_trees(farm: Farm, on: dt.date, standing: Standing) -> TreeLayer:
    trees = farm.trees
    drawn_as, classes, crowns = _how_drawn(farm, on, standing)
    places = np.flatnonzero((drawn_as != NOT_DRAWN) & np.isfinite(trees["x"].to_numpy() + trees["y"].to_numpy()))
    x, y = trees["x"].to_numpy()[places], trees["y"].to_numpy()[places]
    cells, order = cell_index(x, y)
    places = places[order]
    symbols = tuple(species_symbols(farm).values())
    species = _species_places(farm, symbols)[places]
    groups, group = _groups(drawn_as[places], classes[places], species)
    return TreeLayer(
        ids=trees.index.to_numpy()[places],
        x=x[order],
        y=y[order],
        group=group,
        groups=groups,
        crown_m=crowns[places],
        symbols=symbols,
        shown=np.ones(len(symbols), np.bool_),
        cells=cells,
        places=places,
        tags=pd.Series(trees["tag"], copy=False),
    )


def _groups(
    drawn_as: NDArray[np.int8], classes: NDArray[np.float32], species: NDArray[np.int16]
) -> tuple[tuple[TreeGroup, ...], NDArray[np.int16]]:
    """Trees that look alike, in the order of painting: the faint first, then the large before the small."""
    rank = np.array([0, 0, 2, 1])[drawn_as]  # by STANDING, UNMEASURED, GONE, PLANNED; more is lower
    size = np.minimum(np.round(classes.astype(np.float64) * 10), 9999).astype(np.int64)
    code = ((2 - rank) * 10_000 + (9999 - size)) * 4 + drawn_as
    code = code * 4096 + species
    group, alike = pd.factorize(code)
    order = np.argsort(alike)
    place = np.empty(len(alike), np.int16)
    place[order] = np.arange(len(alike))
    first = np.zeros(len(alike), np.int64)
    first[group[::-1]] = np.arange(len(group))[::-1]
    groups = tuple(TreeGroup(int(drawn_as[one]), float(classes[one]), int(species[one])) for one in first[order])
    return groups, place[group] if len(alike) else np.zeros(0, np.int16)


def _how_drawn(farm: Farm, on: dt.date, standing: Standing) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """How each tree of the farm is drawn, the middle of its diameter class and its crown."""
    trees = farm.trees
    drawn_as = np.full(len(trees), NOT_DRAWN, np.int8)
    drawn_as[_gone(farm, on)] = GONE
    drawn_as[(trees["stage"] == "planned").to_numpy(np.bool_)] = PLANNED
    classes, crowns = np.zeros(len(trees), np.float32), np.zeros(len(trees), np.float32)
    where = standing.places
    drawn_as[where] = np.where(np.isfinite(standing.dbh_cm), STANDING, UNMEASURED)
    step = farm.settings.class_cm
    classes[where] = np.nan_to_num((np.floor(standing.dbh_cm / step) + 0.5) * step)
    crowns[where] = np.nan_to_num(standing.crown_m)
    return drawn_as, classes, crowns


def _gone(farm: Farm, on: dt.date) -> Bools:
    """Trees that would stand on the day had they not died or been felled; those that do stand are among them."""
    trees = farm.trees
    ended = (trees["status"] != "alive").to_numpy(np.bool_)
    return ended & there_on(trees.assign(status="alive"), np.datetime64(on, "D"))


def _species_places(farm: Farm, symbols: tuple[SpeciesSymbol, ...]) -> np.ndarray:
    """Place in ``symbols`` of each tree's species."""
    codes, known = farm.trees["species"].factorize()
    by_code = {symbol.code: place for place, symbol in enumerate(symbols)}
    lookup = np.array([by_code[str(code)] for code in known], np.int16)
    return lookup[codes] if len(lookup) else np.zeros(len(codes), np.int16)
