"""Sample plots on the map: circles and strips to scale, a sign for angle counts, pegs in the middle, names."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.figures.sampling.counts import PlotCounts, plot_counts
from farmmap.figures.sampling.zones import ANGLE_COUNT
from farmmap.scene.scene import Layer, MarkLayer, Sample, Wording
from farmmap.scene.shapes import area_layer
from farmmap.scene.styles import TextStyle, Theme

IMPORTANCE = 1.2
FARTHEST_M_PER_MM = 6.0
"""Plots are named only when a millimetre shows no more ground than this. [m]"""

_LAYERS: Remembered[tuple[Layer, ...]] = Remembered(8)
_WORDINGS: Remembered[tuple[Wording, ...]] = Remembered(8)


def plot_layers(farm: Farm, look: Theme) -> tuple[Layer, ...]:
    """Return the layers of the sample plots, none if the farm has none."""
    if not len(farm.plots):
        return ()
    counts = plot_counts(farm)
    return _LAYERS.get((counts, look), (), lambda: tuple(_layers(farm, counts, look)))


def _layers(farm: Farm, counts: PlotCounts, look: Theme) -> Iterator[Layer]:
    by_angle = _by_angle(counts)
    for measured, style in ((False, "plots planned"), (True, "plots")):
        rows = np.flatnonzero((counts.counted == measured) & counts.sized & ~by_angle)
        layer = area_layer("plots", look.areas[style], counts.ids[rows], _grounds(farm, counts, rows))
        if layer is not None:
            yield layer
    for rows, mark in ((~by_angle, "plot"), (by_angle, "angle count")):
        if rows.any():
            yield MarkLayer("plots", look.marks[mark], counts.ids[rows], *counts.middles[rows].T)


def _by_angle(counts: PlotCounts) -> np.ndarray:
    return np.array([shape.kind == ANGLE_COUNT for shape in counts.shapes], bool)


def _grounds(farm: Farm, counts: PlotCounts, rows: np.ndarray) -> np.ndarray:
    """Ground of circles and strips on the grid."""
    out = np.empty(len(rows), object)
    for place, row in enumerate(rows.tolist()):
        x, y = counts.middles[row].tolist()
        out[place] = counts.shapes[row].ground([x], [y], [np.nan], farm.grid.scale(x, y))[0]
    return out


def plot_wordings(farm: Farm, style: TextStyle) -> tuple[Wording, ...]:
    """Return the names of the sample plots as they are written on the map."""
    if not len(farm.plots):
        return ()
    counts = plot_counts(farm)
    return _WORDINGS.get((counts,), (style,), lambda: _named(counts, style))


def _named(counts: PlotCounts, style: TextStyle) -> tuple[Wording, ...]:
    return tuple(
        Wording(name, style, IMPORTANCE, middle[None], False, np.inf, farthest_m_per_mm=FARTHEST_M_PER_MM)
        for name, middle in zip(counts.names, counts.middles, strict=True)
        if name
    )


def plot_lines(farm: Farm, look: Theme) -> Iterator[tuple[str, str, Sample, int]]:
    """Lines of the key for sample plots: layer, words, sample and how many there are."""
    if not len(farm.plots):
        return
    counts = plot_counts(farm)
    by_angle = _by_angle(counts)
    for rows, words, sample in (
        (counts.counted & ~by_angle, "sample plot", look.areas["plots"]),
        (~counts.counted & ~by_angle, "sample plot, to measure", look.areas["plots planned"]),
        (by_angle, "angle count", look.marks["angle count"]),
    ):
        if rows.any():
            yield "plots", words, sample, int(rows.sum())


def plot_boxes(rows: pd.DataFrame) -> np.ndarray:
    """Rectangles of ground that rows of ``plots`` take on the map, shape (n, 4). [m]."""
    x, y, radius, length, width = (
        np.nan_to_num(rows[name].to_numpy(np.float64)) for name in ("x", "y", "radius_m", "length_m", "width_m")
    )
    reach = 1.01 * (radius + length + width) + 1.0
    return np.column_stack([x - reach, y - reach, x + reach, y + reach])
