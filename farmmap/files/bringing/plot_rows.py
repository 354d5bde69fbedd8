"""Rows of a source to sample plots: where they lie and how large they are. What was counted in them comes later."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm
from farmmap.farm.schema import TABLES
from farmmap.farm.species import plain
from farmmap.files.bringing.counted import counted, rows_named
from farmmap.files.bringing.shape_rows import framed
from farmmap.files.bringing.sieve import Sieve

SIZES = {"circle": ("radius_m",), "strip": ("length_m", "width_m"), "angle count": ("baf_m2",)}
"""What says how much ground a plot of each shape takes in."""


def plot_changes(
    farm: Farm, values: dict[str, Any], x: np.ndarray, y: np.ndarray, sieve: Sieve, said: list[str]
) -> dict[str, Change]:
    """Return the change that brings rows in as sample plots that are not measured yet.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    values : dict of str to ndarray, shape (n,)
        Columns of ours.
    x, y : ndarray, shape (n,)
        Places on the farm's grid. [m]
    sieve : Sieve
        Rows so far good; more are refused here.
    said : list of str
        What was taken for granted is added.
    """
    inside = _lies_in(farm, x, y)
    blocks = _blocks(farm, values.get("block"), inside, sieve)
    _refuse_same_names(farm, values.get("name"), blocks, sieve)
    starts = np.flatnonzero(sieve.good)
    if not len(starts):
        return {}
    likely = _likely_shapes(values, len(x))
    shapes = values.get("shape", likely)
    values = {**values, "block": blocks, "shape": np.where(shapes == "", likely, shapes)}
    frame = framed(farm, TABLES["plots"], values, starts, {"x": x[starts], "y": y[starts]}, said)
    waiting = "not measured yet" if len(frame) == 1 else "none of them measured yet"
    said.append(f"{counted(len(frame), 'sample plot', 'sample plots')} came in, {waiting}.")
    nowhere = int((frame["block"] == "").sum())
    if nowhere:
        said.append(f"{counted(nowhere, 'plot lies', 'plots lie')} in no block, and will count for none.")
    outside = starts[(blocks[starts] != "") & (blocks[starts] != inside[starts])]
    if len(outside):
        rows = rows_named([sieve.row_number(int(place)) for place in outside])
        plots = "The plot lies" if len(outside) == 1 else "Plots lie"
        said.append(
            f"{plots} outside the block that is named ({rows}), and will count for it; look whether that is right."
        )
    sized = np.zeros(len(frame), bool)
    for shape, names in SIZES.items():
        sized |= (frame["shape"] == shape).to_numpy(bool) & (frame[list(names)] > 0).to_numpy(bool).all(axis=1)
    if not sized.all():
        without = counted(int((~sized).sum()), "plot has", "plots have")
        said.append(
            f"{without} no size, and will not count until it is given: radius_m of a circle, length_m and width_m of "
            "a strip, baf_m2 of an angle count."
        )
    return {"plots": Change(farm.plots.iloc[:0], frame)}


def _blocks(farm: Farm, given: np.ndarray | None, inside: np.ndarray, sieve: Sieve) -> np.ndarray:
    """Return the name of each plot's block: the one that the row gives, else the one that it lies in, else ""."""
    if given is None:
        return inside
    known = {plain(str(name)): str(name) for name in _existing(farm)["name"]}
    called = np.array([known.get(plain(str(text)), "") for text in given], object)
    told = given != ""
    sieve.refuse(told & (called == ""), lambda i: f"the farm has no block called '{given[i]}'")
    return np.where(told, called, inside)


def _lies_in(farm: Farm, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    out = np.full(len(x), "", object)
    blocks = _existing(farm)
    for name, outline in zip(blocks["name"], blocks.geometry, strict=True):
        out[shapely.intersects_xy(outline, x, y) & (out == "")] = str(name)
    return out


def _existing(farm: Farm) -> gpd.GeoDataFrame:
    return farm.blocks[(farm.blocks["stage"] == "existing").to_numpy(bool)]


def _refuse_same_names(farm: Farm, names: np.ndarray | None, blocks: np.ndarray, sieve: Sieve) -> None:
    """Set aside plots called as another of their block, as counts come by name."""
    if names is None:
        return
    plots = farm.plots
    theirs = np.where(
        plots["block"] == "", _lies_in(farm, plots["x"].to_numpy(), plots["y"].to_numpy()), plots["block"]
    )
    taken = {(plain(str(name)), plain(str(block))) for name, block in zip(plots["name"], theirs, strict=True)}
    again = np.zeros(len(names), bool)
    for place in np.flatnonzero(sieve.good & (names != "")).tolist():
        key = (plain(str(names[place])), plain(str(blocks[place])))
        again[place] = key in taken
        taken.add(key)

    def where(place: int) -> str:
        return f"in {blocks[place]}" if blocks[place] else "outside the blocks"

    sieve.refuse(again, lambda i: f"there is a plot '{names[i]}' {where(i)} already; give it another name")


def _likely_shapes(values: dict[str, Any], count: int) -> np.ndarray:
    """Return the shape that the sizes of each plot speak of, a circle where nothing does."""
    out = np.full(count, "circle", object)
    for shape, names in SIZES.items():
        given = [values[name] > 0 for name in names if name in values]
        if len(given) == len(names) and shape != "circle":
            out[np.logical_and.reduce(given)] = shape
    return out
