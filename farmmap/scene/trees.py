"""The trees of a farm on a day, sorted by cell of ground, as the map draws them."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import Standing, there_on
from farmmap.scene.cells import CellIndex
from farmmap.scene.scene import (
    CROP,
    GONE,
    LEFT,
    PLANNED,
    STANDING,
    TAKE,
    UNMEASURED,
    Bools,
    Ints,
    TreeGroup,
    TreeLayer,
)
from farmmap.scene.symbols import SpeciesSymbol, species_symbols
from farmmap.scene.view import Floats

TREES_A_CELL = 64
_SORTED_FASTEST = 65_536  # whole numbers below this are sorted digit by digit
NOT_DRAWN = -1
_SAMPLE = 10_000  # values looked at to tell where most are
_FEW, _FAR = 0.01, 0.5  # beyond 98 in 100 values by more than half the distance over which those lie

LAYERS: Remembered[TreeLayer] = Remembered(4)
"""Layers with all species shown."""

_SHOWN: Remembered[TreeLayer] = Remembered(4)


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
    made = LAYERS.get(*layer_key(farm, on, standing), lambda: _sorted_trees(farm, on, standing))
    if not len(made.x):
        return None
    shown = np.array([f"species:{symbol.code}" not in hidden for symbol in made.symbols])
    return made if shown.all() else _SHOWN.get((made,), tuple(shown.tolist()), lambda: replace(made, shown=shown))


def layer_key(farm: Farm, on: dt.date, standing: Standing) -> tuple[tuple[object, ...], tuple[object, ...]]:
    """Return what a layer is found again by in `LAYERS`."""
    return (farm.trees, farm.species, standing), (on, farm.settings.class_cm)


def cell_index(x: Floats, y: Floats) -> tuple[CellIndex, Ints]:
    """Return square cells over points, and the order that sorts the points by cell.

    A few points far away from all others count to the cells at the edge, or
    one wrong coordinate would put all the rest into one cell.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        The points. [m]
    """
    west, east, astray_x = _stretch(x)
    south, north, astray_y = _stretch(y)
    wide, high = east - west, north - south
    size = max(math.sqrt(max(wide, 1.0) * max(high, 1.0) * TREES_A_CELL / max(len(x), 1)), 1.0)
    columns, rows = int(wide // size) + 1, int(high // size) + 1
    cells = CellIndex(west, south, size, columns, rows, np.zeros(0, np.int64), astray_x or astray_y)
    cell = cells.cell_of(x, y)
    if columns * rows <= _SORTED_FASTEST:
        cell = cell.astype(np.uint16)
    order = np.argsort(cell, kind="stable")
    starts = np.concatenate([[0], np.cumsum(np.bincount(cell, minlength=columns * rows))]).astype(np.int64)
    return replace(cells, starts=starts), order


def _stretch(values: Floats) -> tuple[float, float, bool]:
    """Return the least and the greatest value but for a few that are far away, and whether there are such."""
    if not len(values):
        return 0.0, 0.0, False
    least, greatest = float(values.min()), float(values.max())
    few = values[:: len(values) // _SAMPLE + 1]
    low, high = np.quantile(few, (_FEW, 1 - _FEW)).tolist()
    beyond = _FAR * (high - low)
    first, last = max(least, low - beyond), min(greatest, high + beyond)
    return first, last, first > least or last < greatest


def _sorted_trees(farm: Farm, on: dt.date, standing: Standing) -> TreeLayer:
    trees = farm.trees
    drawn_as, classes, crowns = how_drawn(trees, None, on, standing, farm.settings.class_cm)
    places = np.flatnonzero((drawn_as != NOT_DRAWN) & np.isfinite(trees["x"].to_numpy() + trees["y"].to_numpy()))
    symbols = tuple(species_symbols(farm).values())
    species = _species_places(farm, symbols)[places]
    groups, group = _groups(drawn_as[places], classes[places], species)
    by_group = np.argsort(group, kind="stable")
    places, group = places[by_group], group[by_group]
    x, y = trees["x"].to_numpy()[places], trees["y"].to_numpy()[places]
    cells, order = cell_index(x, y)
    places, x, y = places[order], x[order], y[order]
    return TreeLayer(
        ids=trees.index.to_numpy()[places],
        x=x,
        y=y,
        x_near=(x - cells.west).astype(np.float32),
        y_near=(y - cells.south).astype(np.float32),
        group=group[order],
        groups=groups,
        group_counts=np.bincount(group, minlength=len(groups)),
        crown_m=crowns[places],
        symbols=symbols,
        shown=np.ones(len(symbols), np.bool_),
        cells=cells,
        places=places,
        tags=pd.Series(trees["tag"], copy=False),
        marks=marks_of(trees, drawn_as)[places],
        forecast=standing.forecast,
    )


def rank_of(group: TreeGroup) -> int:
    """Return where a group stands in the order of painting: the faint first, then the large before the small."""
    return int(_ranks(np.array([group.drawn_as]), np.array([group.dbh_class_cm]), np.array([group.species]))[0])


def _ranks(drawn_as: NDArray[Any], classes: NDArray[Any], species: NDArray[Any]) -> Ints:
    lower = np.array([0, 0, 2, 1])[drawn_as]  # by STANDING, UNMEASURED, GONE, PLANNED; more is lower
    size = np.minimum(np.round(classes.astype(np.float64) * 10), 9999).astype(np.int64)
    return (((2 - lower) * 10_000 + (9999 - size)) * 4 + drawn_as) * 4096 + species


def _groups(
    drawn_as: NDArray[np.int8], classes: NDArray[np.float32], species: NDArray[np.int16]
) -> tuple[tuple[TreeGroup, ...], NDArray[np.int16]]:
    """Trees that look alike, in the order of painting."""
    group, alike = pd.factorize(_ranks(drawn_as, classes, species))
    order = np.argsort(alike)
    place = np.empty(len(alike), np.int16)
    place[order] = np.arange(len(alike))
    first = np.zeros(len(alike), np.int64)
    first[group[::-1]] = np.arange(len(group))[::-1]
    groups = tuple(TreeGroup(int(drawn_as[one]), float(classes[one]), int(species[one])) for one in first[order])
    return groups, place[group] if len(alike) else np.zeros(0, np.int16)


def how_drawn(
    trees: pd.DataFrame, rows: Ints | None, on: dt.date, standing: Standing, class_cm: float
) -> tuple[NDArray[np.int8], NDArray[np.float32], NDArray[np.float32]]:
    """Return how trees are drawn, the middle of their diameter class and their crown.

    Parameters
    ----------
    trees : DataFrame
        The trees.
    rows : ndarray of int64, shape (n,), or None
        Their rows in the farm's table, increasing; None if they are all of it.
    on : date
        The day.
    standing : Standing
        Trees that count on that day.
    class_cm : float
        Width of a diameter class. [cm]

    Returns
    -------
    drawn_as : ndarray of int8, shape (n,)
        `STANDING` and so on, or `NOT_DRAWN`.
    class_cm, crown_m : ndarray of float32, shape (n,)
        Middle of the class [cm] and crown diameter [m]; 0 where not known.
    """
    drawn_as = np.full(len(trees), NOT_DRAWN, np.int8)
    drawn_as[_gone(trees, on)] = GONE
    drawn_as[(trees["stage"] == "planned").to_numpy(np.bool_)] = PLANNED
    classes, crowns = np.zeros(len(trees), np.float32), np.zeros(len(trees), np.float32)
    if rows is None:
        where, those = standing.places, np.arange(len(standing.places))
    else:
        places = np.minimum(np.searchsorted(standing.places, rows), max(len(standing.places) - 1, 0))
        where = np.flatnonzero(standing.places[places] == rows) if len(standing.places) else np.zeros(0, np.int64)
        those = places[where]
    dbh, crown = standing.dbh_cm[those], standing.crown_m[those]
    drawn_as[where] = np.where(np.isfinite(dbh), STANDING, UNMEASURED)
    classes[where] = np.nan_to_num((np.floor(dbh / class_cm) + 0.5) * class_cm)
    crowns[where] = np.nan_to_num(crown)
    return drawn_as, classes, crowns


def marks_of(trees: pd.DataFrame, drawn_as: NDArray[np.int8]) -> NDArray[np.int8]:
    """Return what each tree is marked for, `LEFT`, `CROP` or `TAKE`, shape (n,); `LEFT` where none stands.

    Parameters
    ----------
    trees : DataFrame, n rows
        The trees.
    drawn_as : ndarray of int8, shape (n,)
        As `how_drawn` gives it.
    """
    marks = np.full(len(trees), LEFT, np.int8)
    stands = (drawn_as == STANDING) | (drawn_as == UNMEASURED)
    marked = np.flatnonzero((trees["mark"] != "").to_numpy(np.bool_) & stands)
    if len(marked):
        marks[marked] = np.where((trees["mark"].iloc[marked] == "crop").to_numpy(np.bool_), CROP, TAKE)
    return marks


def _gone(trees: pd.DataFrame, on: dt.date) -> Bools:
    """Trees that would stand on the day had they not died or been felled; those that do stand are among them."""
    ended = np.flatnonzero((trees["status"] != "alive").to_numpy(np.bool_))
    out = np.zeros(len(trees), np.bool_)
    out[ended] = there_on(trees.iloc[ended].assign(status="alive"), np.datetime64(on, "D"))
    return out


def _species_places(farm: Farm, symbols: tuple[SpeciesSymbol, ...]) -> np.ndarray:
    """Place in ``symbols`` of each tree's species."""
    codes, known = farm.trees["species"].factorize()
    by_code = {symbol.code: place for place, symbol in enumerate(symbols)}
    lookup = np.array([by_code[str(code)] for code in known], np.int16)
    return lookup[codes] if len(lookup) else np.zeros(len(codes), np.int16)
