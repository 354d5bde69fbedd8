"""Photo points on the map: a dot with the angle of view towards its bearing, and its name."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.scene.scene import Layer, MarkLayer, Sample, Wording
from farmmap.scene.styles import TextStyle, Theme

LAYER = "photo_points"
IMPORTANCE = 1.6
FARTHEST_M_PER_MM = 12.0
"""Photo points are named only when a millimetre shows no more ground than this. [m]"""

_LAYERS: Remembered[tuple[Layer, ...]] = Remembered(8)
_WORDINGS: Remembered[tuple[Wording, ...]] = Remembered(8)


def photo_layers(farm: Farm, look: Theme) -> tuple[Layer, ...]:
    """Return the layer of the photo points, none if the farm has none."""
    points = farm.tables[LAYER]
    return _LAYERS.get((points, look), (), lambda: tuple(_layers(farm, look))) if len(points) else ()


def _layers(farm: Farm, look: Theme) -> Iterator[Layer]:
    points = farm.tables[LAYER]
    x, y, bearing = (points[name].to_numpy(np.float64) for name in ("x", "y", "bearing_deg"))
    there = np.isfinite(x) & np.isfinite(y)
    if there.any():
        ids = points.index.to_numpy(np.int64)
        yield MarkLayer(LAYER, look.marks["photo point"], ids[there], x[there], y[there], bearing[there])


def photo_wordings(farm: Farm, style: TextStyle) -> tuple[Wording, ...]:
    """Return the names of the photo points as they are written on the map."""
    points = farm.tables[LAYER]
    return _WORDINGS.get((points,), (style,), lambda: tuple(_named(farm, style))) if len(points) else ()


def _named(farm: Farm, style: TextStyle) -> Iterator[Wording]:
    points = farm.tables[LAYER]
    places = points[["x", "y"]].to_numpy(np.float64)
    for name, place, turn in zip(points["name"].tolist(), places, points["bearing_deg"].tolist(), strict=True):
        if name and np.isfinite(place).all():
            yield Wording(
                str(name),
                style,
                IMPORTANCE,
                place[None],
                False,
                np.inf,
                farthest_m_per_mm=FARTHEST_M_PER_MM,
                turn_deg=turn,
            )


def photo_lines(farm: Farm, look: Theme) -> Iterator[tuple[str, str, Sample, int]]:
    """Lines of the key for photo points: layer, words, sample and how many there are."""
    points = farm.tables[LAYER]
    if len(points):
        yield LAYER, "photo point", look.marks["photo point"], len(points)
