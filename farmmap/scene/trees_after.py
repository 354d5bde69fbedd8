"""The trees of the map after an edit: those it touched are taken out of their places and put in again."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.farm.splice import Moves, table_rows
from farmmap.figures.standing import Standing
from farmmap.figures.standing_after import touched_trees
from farmmap.figures.tree_index import places_among
from farmmap.scene.cells import CellIndex
from farmmap.scene.scene import Ints, TreeGroup, TreeLayer
from farmmap.scene.trees import LAYERS, NOT_DRAWN, how_drawn, layer_key, marks_of, rank_of

_Put = tuple[NDArray[np.intp], NDArray[np.int16]]


def keep_trees(before: Farm, after: Farm, edit: Edit, on: dt.date, was: Standing, now: Standing) -> Ints | None:
    """Mend the layer of trees, so that `tree_layer` answers at once for the farm after an edit.

    Where that is too hard it is left to be made afresh.

    Parameters
    ----------
    before, after : Farm
        The farm before and after the edit.
    edit : Edit
        What was changed.
    on : date
        The day that the map shows.
    was, now : Standing
        Trees that count on that day, before and after.

    Returns
    -------
    ndarray of int64 or None
        Ids of the trees that the edit touched; None if it is not known which look different.
    """
    if edit.settings is not None or "species" in edit.changes or (now.forecast and now is not was):
        return None  # one reading may change the forecast of every tree of its species
    touched = touched_trees(before, after, edit)
    layer = LAYERS.find(*layer_key(before, on, was))
    if touched is None:
        return None
    if layer is not None and len(touched.ids):
        layer = _mended(layer, after, on, now, touched.ids, touched.moves) if len(layer.x) else None
    if layer is not None:
        LAYERS.put(*layer_key(after, on, now), layer)
    return touched.ids


def _mended(layer: TreeLayer, farm: Farm, on: dt.date, standing: Standing, ids: Ints, moves: Moves) -> TreeLayer | None:
    trees = farm.trees
    own = trees.index.to_numpy(np.int64)
    rows = places_among(own, ids)
    few = table_rows(trees, rows)
    drawn_as, classes, crowns = how_drawn(few, rows, on, standing, farm.settings.class_cm)
    x, y = (few[axis].to_numpy(np.float64) for axis in "xy")
    by_code = {symbol.code: place for place, symbol in enumerate(layer.symbols)}
    codes = few["species"]
    if not set(codes) <= by_code.keys():
        return None
    keep = (drawn_as != NOT_DRAWN) & np.isfinite(x + y)
    species = np.array([by_code[code] for code in codes], np.int64)[keep]
    looks = [
        TreeGroup(kind, size, one)
        for kind, size, one in zip(drawn_as[keep].tolist(), classes[keep].tolist(), species.tolist(), strict=True)
    ]
    gone = np.flatnonzero(np.isin(layer.ids, ids))
    lost = np.bincount(layer.group[gone], minlength=len(layer.groups))
    groups, renumbered = _groups(layer, lost, looks)
    place_of = {group: place for place, group in enumerate(groups)}
    group = np.array([place_of[look] for look in looks], np.int16)
    counts = np.bincount(group, minlength=len(groups))
    for one, left in zip(layer.groups, (layer.counts() - lost).tolist(), strict=True):
        if left:
            counts[place_of[one]] += left
    old_group = layer.group if renumbered is None else renumbered[layer.group]
    x, y, rows, crowns = x[keep], y[keep], rows[keep], crowns[keep]
    cells, at, order = _placed(layer, old_group, (own[rows], gone), (x, y), group)
    inside = Moves(gone, at)
    places = moves.places(layer.places) if moves else layer.places
    return TreeLayer(
        ids=inside.spliced(layer.ids, own[rows][order]),
        x=inside.spliced(layer.x, x[order]),
        y=inside.spliced(layer.y, y[order]),
        x_near=inside.spliced(layer.x_near, (x - cells.west).astype(np.float32)[order]),
        y_near=inside.spliced(layer.y_near, (y - cells.south).astype(np.float32)[order]),
        group=inside.spliced(old_group, group[order]),
        groups=groups,
        group_counts=counts,
        crown_m=inside.spliced(layer.crown_m, crowns[order]),
        symbols=layer.symbols,
        shown=layer.shown,
        cells=cells,
        places=inside.spliced(places, rows[order]),
        tags=pd.Series(trees["tag"], copy=False),
        marks=inside.spliced(layer.marks, marks_of(few, drawn_as)[keep][order]),
    )


def _groups(
    layer: TreeLayer, lost: Ints, looks: list[TreeGroup]
) -> tuple[tuple[TreeGroup, ...], NDArray[np.int16] | None]:
    """Return the groups after the edit, and the new number of each old one, None if they are the same."""
    left = layer.counts() - lost
    stay = [group for group, count in zip(layer.groups, left.tolist(), strict=True) if count > 0]
    groups = tuple(sorted({*stay, *looks}, key=rank_of))
    if groups == layer.groups:
        return layer.groups, None
    place_of = {group: place for place, group in enumerate(groups)}
    return groups, np.array([place_of.get(group, 0) for group in layer.groups], np.int16)


def _placed(
    layer: TreeLayer,
    group: NDArray[np.int16],
    who: tuple[Ints, Ints],
    where: tuple[NDArray[np.float64], NDArray[np.float64]],
    new: NDArray[np.int16],
) -> tuple[CellIndex, NDArray[np.intp], NDArray[np.intp]]:
    """Cells after the edit, where in the old arrays each tree goes in, and the order in which they go in.

    ``who`` are the trees' ids and the places of those that are taken out,
    ``where`` is where they stand. A tree whose cell and group stay the same
    keeps its place, so that most arrays need not be copied.
    """
    (ids, gone), (x, y) = who, where
    cells = layer.cells
    cell = cells.cell_of(x, y)
    before = dict(zip(layer.ids[gone].tolist(), gone.tolist(), strict=True))
    at = np.empty(len(ids), np.intp)
    for one, (id_, its_cell, its_group) in enumerate(zip(ids.tolist(), cell.tolist(), new.tolist(), strict=True)):
        first, last = int(cells.starts[its_cell]), int(cells.starts[its_cell + 1])
        was = before.get(id_, -1)
        stays = first <= was < last and int(group[was]) == its_group
        at[one] = was if stays else first + np.searchsorted(group[first:last], its_group, side="right")
    order = np.lexsort((new, cell, at))
    counts = np.diff(cells.starts)
    np.subtract.at(counts, np.searchsorted(cells.starts, gone, side="right") - 1, 1)
    np.add.at(counts, cell, 1)
    column, row = (x - cells.west) / cells.size_m, (y - cells.south) / cells.size_m
    outside = (column < 0) | (row < 0) | (column >= cells.columns) | (row >= cells.rows)
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    return replace(cells, starts=starts, spills=cells.spills or bool(outside.any())), at[order], order
