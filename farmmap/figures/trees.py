"""Figures of single trees, and one tree's measurements over time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_of_each_tree
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.result import ColumnRows, FigureTable, plain_list
from farmmap.figures.standing import later_note, standing, the_day
from farmmap.figures.tree_index import places_among

COLUMNS = (
    "tag",
    "species",
    "code",
    "block",
    "planted",
    "age_years",
    "dbh_cm",
    "measured_on",
    "mean_annual_increment_cm",
    "height_m",
    "crown_m",
    "crown_from",
    "pruned_m",
    "stem_count",
    "tree_basal_area_m2",
    "x",
    "y",
)
BRIEF = (
    "tag",
    "species",
    "block",
    "planted",
    "age_years",
    "dbh_cm",
    "measured_on",
    "mean_annual_increment_cm",
    "height_m",
    "crown_m",
)
HISTORY = ("measured_on", "stem", "dbh_cm", "height_m", "crown_m", "pruned_m", "dos_cm", "breast_height_m", "note")


def tree_figures(farm: Farm, on: dt.date | None = None, only: Sequence[int] | None = None) -> FigureTable:
    """Return the figures of every tree that stands on a day, a row each in the order of their ids.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for the day of the newest measurement.
    only : sequence of int or None
        Ids of the trees that are wanted; None for all.
    """
    there = standing(farm, the_day(farm, on))
    if only is not None:
        there = there.some(places_among(there.ids, np.unique(np.asarray(only, np.int64))))
    trees = farm.trees.iloc[there.places]
    labels = np.array([*there.species_labels, ""], object)
    codes = np.array([*there.species_names, ""], object)
    block = block_of_each_tree(farm)[there.places]
    names = np.array([*farm.blocks["name"], ""], object)
    at = np.where(block == NO_BLOCK, len(names) - 1, farm.blocks.index.get_indexer(block))
    with np.errstate(divide="ignore", invalid="ignore"):
        increment = there.dbh_cm / np.where(there.age_measured_years > 0, there.age_measured_years, np.nan)
    crown_from = np.where(there.crown_estimated, "estimated", np.where(there.crown_m > 0, "measured", ""))
    crown_from[there.grown & (there.crown_m > 0)] = "forecast"
    rows = ColumnRows(
        {
            "tag": trees["tag"].to_list(),
            "species": labels[there.species].tolist(),
            "code": codes[there.species].tolist(),
            "block": names[at].tolist(),
            "planted": trees["planted"].to_list(),
            "age_years": there.age_years,
            "dbh_cm": there.dbh_cm,
            "measured_on": there.measured_on,
            "mean_annual_increment_cm": increment,
            "height_m": there.height_m,
            "crown_m": there.crown_m,
            "crown_from": crown_from.tolist(),
            "pruned_m": there.pruned_m,
            "stem_count": there.stems,
            "status": ["alive"] * len(trees),
            "tree_basal_area_m2": there.basal_area_m2,
            "age_measured_years": there.age_measured_years,
            "x": there.x,
            "y": there.y,
        }
    )
    known = "Living trees, forecast for" if there.forecast else "Living trees and what was measured of them by"
    notes = (
        f"{known} {there.on.isoformat()}.",
        f"Diameters at {there.breast_height_m:.1f} m (breast height), over bark; of several stems the quadratic mean.",
        *later_note(farm, there.on),
    )
    title = f"Trees of {farm.settings.name}, {there.on.isoformat()}"
    return FigureTable("trees", title, COLUMNS, rows, there.ids.tolist(), notes, BRIEF)


def tree_history(farm: Farm, tree_id: int) -> FigureTable:
    """Return the measurements of one tree, the oldest first.

    Parameters
    ----------
    farm : Farm
        The farm.
    tree_id : int
        Id of the tree.

    Returns
    -------
    FigureTable
        A row for each measurement; ``ids`` are those of the measurements.

    Raises
    ------
    BadInput
        The farm has no such tree.
    """
    if tree_id not in farm.trees.index:
        raise BadInput(f"the farm has no tree with id {tree_id}")
    rows = farm.measurements[farm.measurements["tree"] == tree_id].sort_values(["measured_on", "stem"], kind="stable")
    breast = rows["breast_height_m"].fillna(farm.settings.breast_height_m)
    columns = {name: plain_list(rows[name].to_numpy()) for name in HISTORY} | {"breast_height_m": breast.to_list()}
    tag = farm.trees.at[tree_id, "tag"] or f"number {tree_id}"
    notes = ("Every measurement that was written down, as it was taken.",)
    return FigureTable(
        "tree", f"Tree {tag}", HISTORY, ColumnRows(columns), rows.index.to_numpy(np.int64).tolist(), notes
    )
