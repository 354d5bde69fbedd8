"""Figures of blocks after an edit: only those that it touched are worked out again."""

from __future__ import annotations

import datetime as dt

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.edits import Change, Edit
from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_figures, block_table, crown_map, some_block_figures
from farmmap.figures.grounds import grounds
from farmmap.figures.membership import EDGE_M
from farmmap.figures.result import FigureTable
from farmmap.figures.standing import standing, the_day

Floats = NDArray[np.float64]

WIDER = 1.01
"""How much further than a width is looked, for the difference between grid metres and metres of ground."""

REACH_OF = {"tracks": ("width_m", 0.5), "creeks": ("channel_m", 0.5), "hazards": ("clear_m", 1.0)}
"""Column and part of it by which a row reaches beyond its shape."""


def touched_blocks(before: Farm, after: Farm, edit: Edit, on: dt.date) -> NDArray[np.int64] | None:
    """Blocks whose figures an edit may have changed.

    Parameters
    ----------
    before, after : Farm
        The farm before and after the edit.
    edit : Edit
        What was changed.
    on : date
        The day of the figures.

    Returns
    -------
    ndarray of int64 or None
        Ids of blocks of ``after``; None if any block may have changed.
    """
    if edit.settings is not None or "species" in edit.changes:
        return None
    crown = WIDER * max(crown_map(standing(farm, on)).widest for farm in (before, after))
    boxes = [_boxes(before, after, name, change, crown) for name, change in edit.changes.items()]
    ground = np.concatenate([*boxes, np.empty((0, 4))])
    outlines = grounds(after)
    hit = ~np.isin(outlines.ids, before.blocks.index.to_numpy(np.int64))
    if len(ground):
        met = shapely.STRtree(shapely.box(*ground.T)).query(shapely.envelope(outlines.outlines))
        hit[np.unique(met[0])] = True
    return outlines.ids[hit]


def block_figures_after(
    table: FigureTable, before: Farm, after: Farm, edit: Edit, on: dt.date | None = None, class_cm: float | None = None
) -> FigureTable:
    """`farmmap.figures.blocks.block_figures` of the farm after an edit, keeping rows that it did not touch.

    Parameters
    ----------
    table : FigureTable
        Figures of ``before``, made with the same ``on`` and ``class_cm``.
    before, after : Farm
        The farm before and after the edit.
    edit : Edit
        What was changed.
    on, class_cm
        As for `block_figures`.
    """
    day = the_day(after, on)
    touched = touched_blocks(before, after, edit, day) if day == the_day(before, on) else None
    if touched is None:
        return block_figures(after, on, class_cm)
    kept = dict(zip(table.ids, table.rows, strict=True))
    fresh = some_block_figures(after, touched, day, class_cm)
    ground = grounds(after)
    rows = [fresh[block] if block in fresh else kept[block] for block in map(int, ground.ids)]
    return block_table(after, standing(after, day), ground, rows)


def _boxes(before: Farm, after: Farm, name: str, change: Change, crown: float) -> Floats:
    """Rectangles of ground on which a change of one table may be felt, shape (n, 4)."""
    if name in ("boundary", "fences", "notes"):
        return np.empty((0, 4))
    if name in ("trees", "measurements"):
        column = "tree" if name == "measurements" else None
        rows = (change.before, change.after)
        ids = np.concatenate([r[column].to_numpy() if column else r.index.to_numpy() for r in rows])
        places = [farm.trees.loc[farm.trees.index.isin(ids), ["x", "y"]].to_numpy() for farm in (before, after)]
        at = np.concatenate(places)
        return np.column_stack([at, at]) + np.array([-1, -1, 1, 1]) * (crown + EDGE_M)
    boxes = Edit("", {name: change}).ground()
    wide = 0.0
    if name in REACH_OF:
        of, part = REACH_OF[name]
        wide = float(np.nanmax([0.0, *change.before[of], *change.after[of]])) * part * WIDER
    return boxes[np.isfinite(boxes).all(axis=1)] + np.array([-1, -1, 1, 1]) * (wide + EDGE_M)
