"""What was counted in the sample plots of a farm, plot by plot, for each hectare."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.farm import Farm, places_of
from farmmap.farm.species import plain
from farmmap.farm.splice import columns_of
from farmmap.figures.remembered import Remembered
from farmmap.figures.sampling.zones import ANGLE_COUNT, CIRCLE, STRIP, PlotShape, counted_stem_per_ha, per_ha_of
from farmmap.figures.stand import basal_area_m2
from farmmap.figures.standing import UNKNOWN_SPECIES

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

PLAIN_COUNTS = (0.5, 1.0)
"""How often a tree counts that no edge doubles: once, or by half on the line."""


@dataclass(frozen=True, eq=False)
class PlotTrees:
    """Trees that were counted, a row for each line of ``farm.plot_trees`` that belongs to a plot.

    Attributes
    ----------
    plot : ndarray of int64, shape (m,)
        Place of its plot.
    species : ndarray of int64, shape (m,)
        Place in `PlotCounts.species_names`.
    dbh_cm, height_m : ndarray, shape (m,)
        nan where not measured. [cm, m]
    trees : ndarray of int64, shape (m,)
        How many there were on the line.
    weight : ndarray, shape (m,)
        How often they count together, trees times counts.
    per_ha : ndarray, shape (m,)
        Stems a hectare that the line stands for in its plot; nan for an angle count without a diameter.
    basal_area_m2 : ndarray, shape (m,)
        Basal area a hectare that it stands for; 0 without a diameter, but for an angle count. [m²/ha]
    by_angle : ndarray of bool, shape (m,)
        Whether it was counted by its angle.
    """

    plot: Ints
    species: Ints
    dbh_cm: Floats
    height_m: Floats
    trees: Ints
    weight: Floats
    per_ha: Floats
    basal_area_m2: Floats
    by_angle: Bools


@dataclass(frozen=True, eq=False)
class PlotCounts:
    """The sample plots of a farm, a row each in the order of ``farm.plots``.

    Attributes
    ----------
    ids : ndarray of int64, shape (n,)
        Ids of the plots.
    middles : ndarray, shape (n, 2)
        Middle of each, of a strip half its length from where it begins. [grid m]
    shapes : tuple of PlotShape
        What each takes in.
    sized : ndarray of bool, shape (n,)
        Whether its size, or its factor, is known.
    day : ndarray of datetime64[D], shape (n,)
        Day on which it was measured, NaT where none is given.
    counted : ndarray of bool, shape (n,)
        Whether it was measured: it has a day, or trees.
    stems, basal_area_m2 : ndarray, shape (n,)
        For each hectare; stems are nan where an angle count has a stem without a diameter. [1/ha, m²/ha]
    edge_noted : ndarray of bool, shape (n,)
        Whether a tree in it counts otherwise than once or by half.
    trees : PlotTrees
        What was counted in them.
    species_names, species_labels : tuple of str
        Codes and trade names of the species.
    left_out : int
        Lines of counted trees that cannot be: fewer than one tree, or one that counts less than not at all.
    """

    ids: Ints
    middles: Floats
    shapes: tuple[PlotShape, ...]
    sized: Bools
    day: NDArray[np.datetime64]
    counted: Bools
    stems: Floats
    basal_area_m2: Floats
    edge_noted: Bools
    trees: PlotTrees
    species_names: tuple[str, ...]
    species_labels: tuple[str, ...]
    names: tuple[str, ...]
    designs: tuple[str, ...]
    left_out: int
    kept: dict[object, Any] = field(default_factory=dict[object, Any], repr=False)
    """Answers about some of these plots."""

    def by_day(self, on: dt.date) -> Bools:
        """Which plots count on a day: measured by then, or on no day that is known, and of a known size."""
        return self.counted & self.sized & (np.isnat(self.day) | (self.day <= np.datetime64(on, "D")))


_COUNTS: Remembered[PlotCounts] = Remembered(4)


def plot_counts(farm: Farm) -> PlotCounts:
    """Return what was counted in a farm's plots; the last few answers are kept."""
    tables = (farm.plots, farm.plot_trees, farm.species)
    return _COUNTS.get(tables, (farm.grid,), lambda: _worked_out(farm))


def shape_of_plot(plot: Mapping[str, Any]) -> PlotShape:
    """Return what a row of ``farm.plots`` takes in."""
    number = {name: float(plot[name]) for name in ("radius_m", "length_m", "width_m", "bearing_deg", "baf_m2")}
    slope = float(plot["slope_deg"])
    return PlotShape(
        str(plot["shape"]),
        number["radius_m"],
        number["length_m"],
        number["width_m"],
        0.0 if math.isnan(number["bearing_deg"]) else number["bearing_deg"],
        number["baf_m2"],
        0.0 if math.isnan(slope) else slope,
    )


def is_sized(shape: PlotShape) -> bool:
    """Whether a plot's size, or its factor, is known and above 0."""
    sizes = {CIRCLE: (shape.radius_m,), STRIP: (shape.length_m, shape.width_m)}.get(shape.kind, (shape.baf_m2,))
    return all(math.isfinite(size) and size > 0 for size in sizes)


def middle_of_plot(x: float, y: float, shape: PlotShape, scale: float) -> tuple[float, float]:
    """Return the middle of a plot on the grid: of a strip half its length on from where it begins."""
    if shape.kind != STRIP or not is_sized(shape):
        return x, y
    half, turn = shape.length_m * scale / 2, math.radians(shape.bearing_deg)
    return x + half * math.sin(turn), y + half * math.cos(turn)


def _worked_out(farm: Farm) -> PlotCounts:
    plots, trees = farm.plots, farm.plot_trees
    rows = plots.to_dict("records")
    shapes = tuple(shape_of_plot(row) for row in rows)
    middles = [
        middle_of_plot(row["x"], row["y"], shape, farm.grid.scale(row["x"], row["y"]) if shape.kind == STRIP else 1.0)
        for row, shape in zip(rows, shapes, strict=True)
    ]
    ids = plots.index.to_numpy(np.int64)
    species, names, labels = _species(trees, farm.species)
    of = places_of(plots.index, trees["plot"].to_numpy(np.int64))
    columns = columns_of(trees)
    can_be = np.isfinite(columns["counts"]) & (columns["counts"] >= 0) & (columns["trees"] >= 1)
    mine = np.flatnonzero((of >= 0) & can_be)
    dbh, height, times = (np.asarray(columns[name], np.float64)[mine] for name in ("dbh_cm", "height_m", "counts"))
    dbh = np.where((dbh > 0) & np.isfinite(dbh), dbh, np.nan)
    many = np.asarray(columns["trees"], np.int64)[mine]
    plot = np.asarray(of, np.int64)[mine]
    weight = many * times
    by_angle = np.array([shape.kind == ANGLE_COUNT for shape in shapes], bool)[plot]
    each, gives = _each(shapes, plot, dbh, by_angle)
    lines = PlotTrees(plot, species[mine], dbh, height, many, weight, each * weight, gives * weight, by_angle)
    n = len(ids)
    day = plots["measured_on"].to_numpy().astype("datetime64[D]")
    noted = np.zeros(n, bool)
    noted[plot[~np.isin(times, PLAIN_COUNTS)]] = True
    return PlotCounts(
        ids,
        np.array(middles, np.float64).reshape(-1, 2),
        shapes,
        np.array([is_sized(shape) for shape in shapes], bool),
        day,
        ~np.isnat(day) | (np.bincount(plot, minlength=n) > 0),
        np.asarray(np.bincount(plot, lines.per_ha, n), np.float64),
        np.asarray(np.bincount(plot, lines.basal_area_m2, n), np.float64),
        noted,
        lines,
        names,
        labels,
        tuple(str(name) for name in plots["name"]),
        tuple(str(design) for design in plots["design"]),
        int(np.count_nonzero((of >= 0) & ~can_be)),
    )


def _each(shapes: tuple[PlotShape, ...], plot: Ints, dbh: Floats, by_angle: Bools) -> tuple[Floats, Floats]:
    """Stems and basal area a hectare that one tree of each line stands for."""
    nan = float("nan")
    sized = [shape if is_sized(shape) else PlotShape(shape.kind) for shape in shapes]
    baf = np.array([shape.baf_m2 if shape.kind == ANGLE_COUNT else nan for shape in sized], np.float64)[plot]
    ground = np.array([shape.area_m2 for shape in sized], np.float64)[plot]
    of_ground = per_ha_of(ground)
    stems = np.where(by_angle, counted_stem_per_ha(dbh, baf), of_ground)
    return stems, np.where(by_angle, baf, np.nan_to_num(basal_area_m2(dbh)) * of_ground)


def _species(trees: pd.DataFrame, known: pd.DataFrame) -> tuple[Ints, tuple[str, ...], tuple[str, ...]]:
    """Species of each line as a place among codes, the farm's own first, whether its code or its name was written."""
    listed = dict(zip(known["code"], known["name"], strict=True))
    called: dict[str, str] = {}
    for column in ("code", "name", "scientific"):
        for code, word in zip(known["code"], known[column], strict=True):
            if word:
                called.setdefault(plain(str(word)), str(code))
    places, texts = pd.factorize(trees["species"])
    codes = [called.get(plain(str(text)), str(text).strip()) for text in texts]
    names = (*listed, *sorted(set(codes) - set(listed) - {""}), *([""] if "" in codes and "" not in listed else []))
    order = {name: place for place, name in enumerate(names)}
    at = np.array([order[code] for code in codes], np.int64)
    labels = tuple(str(listed.get(name) or name or UNKNOWN_SPECIES) for name in names)
    return (at[places] if len(at) else np.zeros(len(trees), np.int64)), tuple(map(str, names)), labels


def size_words(shape: PlotShape, runs_deg: float | None = None) -> str:
    """Say what kind of plot it is and how large, such as ``circle, radius 11.28 m``.

    Parameters
    ----------
    shape : PlotShape
        The plot.
    runs_deg : float, optional
        How a strip runs from true north; from grid north, and so called, if not given. [degrees]
    """
    if not is_sized(shape):
        return f"{shape.kind}, size not given"
    if shape.kind == CIRCLE:
        return f"circle, radius {shape.radius_m:.2f} m"
    if shape.kind == STRIP:
        way = f"grid bearing {shape.bearing_deg:.0f}°" if runs_deg is None else f"bearing {runs_deg:.0f}°"
        return f"strip, {shape.length_m:g} × {shape.width_m:g} m, {way}"
    return f"angle count, factor {shape.baf_m2:g} m²/ha"


def how_many(number: int, what: str = "plot") -> str:
    """Say how many there are, such as ``1 plot`` or ``12 plots``."""
    return f"1 {what}" if number == 1 else f"{number} {what}s"
