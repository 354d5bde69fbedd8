"""What lies under the map: pictures from above, shaded relief and contours."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.heights import Heights
from farmmap.figures.areas import ground_scale
from farmmap.figures.contours import INDEX_EVERY, contours, suiting_interval_m
from farmmap.figures.relief import LIGHT_ABOVE_DEG, gradients, hillshade
from farmmap.figures.remembered import Remembered
from farmmap.files.raster_backdrops import Backdrop, backdrops_of, bounds_around, elevation_of, stamps_of
from farmmap.files.rasters import ELEVATION, PICTURE
from farmmap.progress import SILENT, Progress
from farmmap.scene.backdrop_tiles import halved
from farmmap.scene.raster_layer import Dots, Patch, RasterLayer
from farmmap.scene.scene import LineLayer, Wording
from farmmap.scene.shapes import line_layer
from farmmap.scene.styles import Theme

SHADED_AS = 0.48
"""Relief is shaded as if nine tenths of the ground were no steeper than this, in metres a metre: gentle farmland would
hardly show otherwise, and hill country would be black and white."""

LEAST_RAISED, MOST_RAISED = 0.5, 4.0
"""But never as if it were less or more than so many times as high."""

SHADES: Mapping[str, tuple[float, float]] = {
    "light": (0.62, 0.45),
    "dark": (0.80, 0.34),
    "paper": (0.50, 0.40),
    "paper safe": (0.50, 0.40),
    "paper grey": (0.30, 0.0),  # so faint that a copy drops it, and hatches and names stand on white
}
"""How dark the darkest and how light the lightest ground is made, by theme: alpha of black and of white."""

CONTOUR_CELLS = 400_000
"""Contours are drawn from no more cells than this; finer ones would only make them tremble."""

FEW_CORNERS = 24
"""A contour with fewer corners than this is too short to carry its height."""

LABEL_IMPORTANCE = 0.2
LABEL_M_PER_MM = 6.0
"""Heights are written on index contours when a millimetre shows no more ground than this. [m]"""

SEEN_THROUGH = {"relief": {"blocks": 0.55, "margins": 0.6}, "picture": {"blocks": 0.12, "margins": 0.3}}
"""How strong the fills of blocks and margins are over relief and over a picture."""


@dataclass(frozen=True, eq=False)
class Backdrops:
    """Backdrops of a farm that are to be shown.

    Attributes
    ----------
    all : tuple of Backdrop
        Every row of the farm's table, hidden and unusable ones among them.
    heights : Heights or None
        Ground under the farm, from all its elevation grids, hidden ones too.
    trouble : str
        Why the heights cannot be read, "" if they can.
    """

    all: tuple[Backdrop, ...] = ()
    heights: Heights | None = None
    trouble: str = ""

    def same_as(self, other: Backdrops) -> bool:
        """Whether the same rows, files and heights lie under the map."""
        return self.all is other.all and self.heights is other.heights and self.trouble == other.trouble

    @property
    def pictures(self) -> tuple[Backdrop, ...]:
        """Pictures that are shown and can be."""
        return tuple(one for one in self.all if one.kind == PICTURE and one.shown and one.file is not None)

    @property
    def elevation(self) -> Backdrop | None:
        """The first elevation grid that is shown and can be."""
        shown = (one for one in self.all if one.kind == ELEVATION and one.shown and one.file is not None)
        return next(shown, None) if self.heights is not None else None

    @property
    def said(self) -> tuple[str, ...]:
        """What was taken for granted of the elevation grids, and why some cannot be used."""
        elevation = [one for one in self.all if one.kind == ELEVATION]
        said = [line for one in elevation for line in ((one.trouble,) if one.file is None else one.file.said)]
        return tuple(dict.fromkeys(line for line in (*said, self.trouble) if line))


NONE = Backdrops()

_FOUND: Remembered[tuple[Backdrop, ...]] = Remembered(3)
_HEIGHTS: Remembered[tuple[Heights | None, str]] = Remembered(2)
_SHADED: Remembered[tuple[Patch, ...]] = Remembered(2)
_CONTOURS: Remembered[tuple[np.ndarray, np.ndarray, float]] = Remembered(2)
_CONTOUR_LAYERS: Remembered[tuple[LineLayer, ...]] = Remembered(4)
_CONTOUR_WORDS: Remembered[tuple[Wording, ...]] = Remembered(4)
_LOOKS: Remembered[Theme] = Remembered(8)
_NO_CONTOURS = (np.empty(0), np.empty(0, object), 1.0)


def find_backdrops(farm: Farm, folder: Path | None, progress: Progress = SILENT) -> Backdrops:
    """Return the backdrops of a farm; heads of files and heights are read once and kept.

    It may take a while the first time, so it is not to be called in the window's thread.

    Parameters
    ----------
    farm : Farm
        The farm.
    folder : Path or None
        Folder of its file, from which its backdrops are looked for.
    progress : Progress
        Told before heights are read.
    """
    table = farm.tables["backdrops"]
    if not len(table):
        return NONE
    where = (folder, farm.grid, stamps_of(farm, folder))
    found = _FOUND.get((table,), where, lambda: backdrops_of(farm, folder))
    around = bounds_around(farm)

    def read() -> tuple[Heights | None, str]:
        try:
            return elevation_of(found, farm, around, progress), ""
        except BadInput as error:
            return None, str(error)

    files = tuple(one.file for one in found if one.kind == ELEVATION)
    return Backdrops(found, *_HEIGHTS.get((), (farm.grid, around, files), read))


def picture_layers(backdrops: Backdrops, epsg: int, look: Theme) -> Iterable[RasterLayer]:
    """Pictures that are shown, the first of the farm's table lowest."""
    for one in backdrops.pictures:
        assert one.file is not None
        opacity = one.opacity * look.picture_strength
        yield RasterLayer("backdrops", opacity, one.file.bounds, one.file, epsg, is_grey=look.is_grey)


def relief_layers(backdrops: Backdrops, farm: Farm, theme: str) -> Iterable[RasterLayer]:
    """Shaded relief, if an elevation grid is shown."""
    elevation, heights = backdrops.elevation, backdrops.heights
    if elevation is None or heights is None:
        return
    alphas = SHADES[theme]
    held = _SHADED.get((heights,), (alphas, farm.grid), lambda: _shaded(heights, _scale(farm, heights), alphas))
    yield RasterLayer("relief", elevation.opacity, heights.bounds, None, farm.grid.epsg, held)


def contour_layers(backdrops: Backdrops, look: Theme) -> tuple[LineLayer, ...]:
    """Contours, if an elevation grid is shown: every fifth in a layer of its own, drawn heavier."""
    levels, lines, interval = _contours(backdrops)
    styles = look.lines["contours"], look.lines["index contours"]

    def make() -> tuple[LineLayer, ...]:
        is_index = _is_index(levels, interval)
        layers = (
            line_layer("contours", style, np.flatnonzero(which), lines[which])
            for style, which in zip(styles, (~is_index, is_index), strict=True)
        )
        return tuple(layer for layer in layers if layer is not None)

    return _CONTOUR_LAYERS.get((lines,), styles, make)


def contour_wordings(backdrops: Backdrops, look: Theme) -> tuple[Wording, ...]:
    """Heights to be written on index contours."""
    levels, lines, interval = _contours(backdrops)
    style = look.texts["contours"]

    def make() -> tuple[Wording, ...]:
        named = (shapely.get_num_coordinates(lines) >= FEW_CORNERS) & _is_index(levels, interval)
        return tuple(
            Wording(
                f"{level:g} m",
                style,
                LABEL_IMPORTANCE,
                shapely.get_coordinates(line),
                True,
                float(shapely.length(line)),
                farthest_m_per_mm=LABEL_M_PER_MM,
            )
            for level, line in zip(levels[named], lines[named], strict=True)
        )

    return _CONTOUR_WORDS.get((lines,), (style,), make)


def contour_words(backdrops: Backdrops) -> str:
    """Return what the key calls the contours, "" if there are none."""
    levels, _, interval = _contours(backdrops)
    return f"contour every {interval:g} m" if len(levels) else ""


def over_backdrops(look: Theme, backdrops: Backdrops, hidden: frozenset[str]) -> Theme:
    """Return a theme whose fills let what lies under the map be seen; the very same one for the same look."""
    if backdrops.pictures and "backdrops" not in hidden:
        over = "picture"
    elif backdrops.elevation is not None and "relief" not in hidden:
        over = "relief"
    else:
        return look

    def make() -> Theme:
        areas = dict(look.areas)
        for name, most in SEEN_THROUGH[over].items():
            areas[name] = replace(areas[name], opacity=min(areas[name].opacity, most))
        return replace(look, areas=areas)

    return _LOOKS.get((look,), (over,), make)


def _scale(farm: Farm, heights: Heights) -> float:
    return ground_scale(shapely.box(*heights.bounds), farm.grid)


def _shaded(heights: Heights, scale: float, alphas: tuple[float, float]) -> tuple[Patch, ...]:
    """Shade as a see-through picture: black where the ground is darker than a level one, white where lighter."""
    east, north = gradients(heights.values, heights.across_m / scale, heights.down_m / scale)
    rises = np.hypot(east, north)
    steep = float(np.percentile(rises[np.isfinite(rises)], 90)) if np.isfinite(rises).any() else 0.0
    raised = min(max(SHADED_AS / max(steep, 1e-6), LEAST_RAISED), MOST_RAISED)
    shade, level = hillshade(east * raised, north * raised), math.sin(math.radians(LIGHT_ABOVE_DEG))
    darker = np.clip((level - shade) / level, 0, 1) * alphas[0]
    lighter = np.clip((shade - level) / (1 - level), 0, 1) * alphas[1]
    alpha = np.nan_to_num(darker + lighter) * 255
    dots: Dots = np.empty((*shade.shape, 4), np.uint8)
    dots[..., :3] = np.where(shade > level, alpha, 0)[..., None].astype(np.uint8)
    dots[..., 3] = alpha.astype(np.uint8)
    return halved(dots, heights.bounds)


def _contours(backdrops: Backdrops) -> tuple[np.ndarray, np.ndarray, float]:
    """Heights and lines of the contours, and the interval. [m]."""
    elevation, heights = backdrops.elevation, backdrops.heights
    if elevation is None or heights is None:
        return _NO_CONTOURS
    asked = elevation.contour_m

    def work_out() -> tuple[np.ndarray, np.ndarray, float]:
        interval = asked or suiting_interval_m(heights)
        return *contours(_coarse(heights), interval), interval

    return _CONTOURS.get((heights,), (asked,), work_out)


def _coarse(heights: Heights) -> Heights:
    """Heights averaged over squares of cells, so that there are no more than `CONTOUR_CELLS`."""
    every = math.ceil(math.sqrt(heights.values.size / CONTOUR_CELLS))
    if every <= 1:
        return heights
    rows, columns = (count // every for count in heights.values.shape)
    squares = heights.values[: rows * every, : columns * every].reshape(rows, every, columns, every)
    return Heights(
        squares.mean(axis=(1, 3)), heights.west, heights.north, heights.across_m * every, heights.down_m * every
    )


def _is_index(levels: np.ndarray, interval: float) -> np.ndarray:
    return np.round(levels / interval).astype(np.int64) % INDEX_EVERY == 0
