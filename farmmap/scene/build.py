"""From a farm on a day to a scene."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import shapely

from farmmap.farm.farm import Farm
from farmmap.figures.margins import Margin
from farmmap.figures.margins import margins as margins_of
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import standing as standing_on
from farmmap.scene.backdrops import (
    NONE,
    Backdrops,
    contour_layers,
    contour_wordings,
    over_backdrops,
    picture_layers,
    relief_layers,
)
from farmmap.scene.key import key_entries
from farmmap.scene.note_signs import SIGNS, note_signs
from farmmap.scene.photo_signs import photo_layers
from farmmap.scene.plot_signs import plot_layers
from farmmap.scene.scene import Chosen, CrownLayer, Ints, Layer, MarkLayer, Scene, TreeLayer
from farmmap.scene.shapes import area_layer, line_layer, mark_layer
from farmmap.scene.sizes import CROWNS_FROM_M_PER_MM
from farmmap.scene.styles import Theme
from farmmap.scene.styles import theme as theme_of
from farmmap.scene.trees import tree_layer
from farmmap.scene.wordings import label_layer

_KEPT: Remembered[tuple[Layer, ...]] = Remembered(40)
_LOOKS: Remembered[Theme] = Remembered(4)


def build_scene(
    farm: Farm,
    on: dt.date,
    *,
    theme: str | Theme = "light",
    hidden: frozenset[str] = frozenset(),
    chosen: Chosen | None = None,
    margins: Sequence[Margin] | None = None,
    backdrops: Backdrops = NONE,
) -> Scene:
    """Return everything there is to paint of a farm on a day.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date
        Trees stand as they did on this day.
    theme : str or Theme
        One of `farmmap.scene.styles.THEMES`, or one made from these.
    hidden : frozenset of str
        Layers not shown, of `farmmap.scene.scene.LAYER_NAMES` or ``species:CODE``.
    chosen : Chosen, optional
        What is picked out.
    margins : sequence of Margin, optional
        The creek margins; worked out if not given. Give ``()`` to do without.
    backdrops : Backdrops, optional
        What lies under the map, from `farmmap.scene.backdrops.find_backdrops`.

    Raises
    ------
    BadInput
        There is no such theme.
    """
    plain = theme if isinstance(theme, Theme) else theme_of(theme)
    look = _LOOKS.get((plain, backdrops), (hidden,), lambda: over_backdrops(plain, backdrops, hidden))
    margins = margins_of(farm) if margins is None else margins
    trees = tree_layer(farm, on, standing_on(farm, on), hidden)
    layers = [layer for layer in _layers(farm, look, trees, margins, backdrops) if layer.name not in hidden]
    if "labels" not in hidden:
        names = label_layer(farm, look, hidden, None if "trees" in hidden else trees)
        heights = () if "contours" in hidden else contour_wordings(backdrops, look)
        layers.append(replace(names, wordings=names.wordings + heights) if heights else names)
    return Scene(
        tuple(layers),
        key_entries(farm, look, trees, len(margins), hidden, backdrops),
        farm.bounds(),
        look,
        tuple(_picked_out(farm, look, chosen, margins)),
    )


def _layers(
    farm: Farm, look: Theme, trees: TreeLayer | None, margins: Sequence[Margin], backdrops: Backdrops
) -> Iterable[Layer]:
    """All layers but the names, lowest first."""
    yield from _kept(_ground, farm.boundary, look)
    yield from picture_layers(backdrops, farm.grid.epsg, look)
    yield from relief_layers(backdrops, farm, look.name)
    yield from _kept(_blocks, farm.blocks, look)
    polygons = np.array([margin.polygon for margin in margins], object)
    yield from _made(area_layer("margins", look.areas["margins"], np.arange(len(margins)), polygons))
    yield from contour_layers(backdrops, look)
    yield from _kept(_clearances, farm.hazards, look)
    yield from _kept(_creeks, farm.creeks, look)
    yield from _kept(_tracks, farm.tracks, look)
    if trees is not None:
        yield CrownLayer(trees, look.areas[f"crowns{' forecast' if trees.forecast else ''}"], CROWNS_FROM_M_PER_MM)
    yield from _kept(_fences, farm.fences, look)
    yield from _kept(_hazards, farm.hazards, look)
    yield from _kept(_boundary, farm.boundary, look)
    if trees is not None:
        yield trees
    yield from plot_layers(farm, look)
    yield from _kept(_notes, farm.notes, look)
    yield from photo_layers(farm, look)


def _kept(
    make: Callable[[gpd.GeoDataFrame, Theme], Iterable[Layer]], table: gpd.GeoDataFrame, look: Theme
) -> tuple[Layer, ...]:
    """Layers of one table, made once for as long as neither the table nor the look changes."""
    return _KEPT.get((make, table, look), (), lambda: tuple(make(table, look)))


def _ground(boundary: gpd.GeoDataFrame, look: Theme) -> Iterable[Layer]:
    return _made(area_layer("ground", look.areas["farm"], boundary.index, boundary.geometry))


def _boundary(boundary: gpd.GeoDataFrame, look: Theme) -> Iterable[Layer]:
    return _made(area_layer("boundary", look.areas["boundary"], boundary.index, boundary.geometry))


def _blocks(blocks: gpd.GeoDataFrame, look: Theme) -> Iterable[Layer]:
    stages, shapes = blocks["stage"].to_numpy(object), blocks.geometry.to_numpy()
    for stage, ending in (("existing", ""), ("planned", " planned")):
        rows = stages == stage
        yield from _made(area_layer("blocks", look.areas[f"blocks{ending}"], blocks.index[rows], shapes[rows]))


def _notes(notes: gpd.GeoDataFrame, look: Theme) -> Iterable[Layer]:
    signs, shapes = note_signs(notes), notes.geometry.to_numpy()
    return _made(
        area_layer("notes", look.areas["note area"], notes.index, notes.geometry),
        line_layer("notes", look.lines["note line"], notes.index, notes.geometry),
        *(
            mark_layer("notes", look.marks[sign], notes.index[signs == sign], shapes[signs == sign])
            for sign in ("notes", *SIGNS)
        ),
    )


def _made(*layers: Layer | None) -> Iterable[Layer]:
    return [layer for layer in layers if layer is not None]


@dataclass(frozen=True, eq=False)
class _Rows:
    """Rows of one stage as plain arrays, which a few rows are taken from sooner than from a table."""

    ids: Ints
    shapes: np.ndarray
    columns: tuple[np.ndarray, ...]
    ending: str
    """How the names of their styles end."""

    def of(self, which: np.ndarray) -> _Rows:
        return _Rows(self.ids[which], self.shapes[which], tuple(one[which] for one in self.columns), self.ending)


def _staged(table: gpd.GeoDataFrame, *columns: str) -> Iterable[_Rows]:
    """Rows that are planned and rows that stand, with some of their columns."""
    stages = table["stage"].to_numpy(object)
    every = _Rows(
        table.index.to_numpy(), table.geometry.to_numpy(), tuple(table[column].to_numpy() for column in columns), ""
    )
    for stage, ending in (("planned", " planned"), ("existing", "")):
        rows = replace(every.of(stages == stage), ending=ending)
        if len(rows.ids):
            yield rows


def _creeks(creeks: gpd.GeoDataFrame, look: Theme) -> Iterable[Layer]:
    for rows in _staged(creeks, "drawn_as", "flows", "channel_m"):
        drawn_as, flows, widths = rows.columns
        downstream = np.where(flows == "against", shapely.reverse(rows.shapes), rows.shapes)
        by_middle = drawn_as == "centre line"
        yield from _made(
            line_layer("creeks", look.lines[f"bank{rows.ending}"], rows.ids[~by_middle], downstream[~by_middle]),
            line_layer(
                "creeks",
                look.lines[f"creeks{rows.ending}"],
                rows.ids[by_middle],
                downstream[by_middle],
                widths[by_middle],
            ),
        )


def _tracks(tracks: gpd.GeoDataFrame, look: Theme) -> Iterable[Layer]:
    for rows in _staged(tracks, "width_m"):
        widths = rows.columns[0] if not rows.ending else None
        yield from _made(line_layer("tracks", look.lines[f"tracks{rows.ending}"], rows.ids, rows.shapes, widths))


def _fences(fences: gpd.GeoDataFrame, look: Theme) -> Iterable[Layer]:
    for rows in _staged(fences):
        yield from _made(line_layer("fences", look.lines[f"fences{rows.ending}"], rows.ids, rows.shapes))


def _clearances(hazards: gpd.GeoDataFrame, look: Theme) -> Iterable[Layer]:
    """Ground kept free of trees beside what stands."""
    for rows in _staged(hazards, "clear_m"):
        kept = rows.of(rows.columns[0] > 0)
        if not rows.ending and len(kept.ids):
            bands = shapely.buffer(kept.shapes, kept.columns[0], quad_segs=8, cap_style="flat")
            yield from _made(area_layer("hazards", look.areas["clearance"], kept.ids, bands))


def _hazards(hazards: gpd.GeoDataFrame, look: Theme) -> Iterable[Layer]:
    for staged in _staged(hazards, "kind"):
        for kind in sorted(set(staged.columns[0])):
            rows = staged.of(staged.columns[0] == kind)
            area = "building" if kind == "building" else "hazard area"
            mark = "building" if kind == "building" else "hazard"
            yield from _made(
                area_layer("hazards", look.areas[f"{area}{rows.ending}"], rows.ids, rows.shapes),
                line_layer("hazards", look.lines[f"{kind}{rows.ending}"], rows.ids, rows.shapes),
                mark_layer("hazards", look.marks[mark], rows.ids, rows.shapes),
            )


def _picked_out(farm: Farm, look: Theme, chosen: Chosen | None, margins: Sequence[Margin]) -> Iterable[Layer]:
    if chosen is None:
        return
    one = np.array([chosen.id])
    match chosen.kind:
        case "tree" if chosen.id in farm.trees.index:
            x, y = (farm.trees[axis].loc[one].to_numpy(np.float64) for axis in "xy")
            yield MarkLayer("trees", look.marks["tree picked"], one, x, y)
        case "block" if chosen.id in farm.blocks.index:
            yield from _made(area_layer("blocks", look.areas["block picked"], one, farm.blocks.geometry.loc[one]))
        case "margin" if 0 <= chosen.id < len(margins):
            yield from _made(
                area_layer("margins", look.areas["margin picked"], one, np.array([margins[chosen.id].polygon], object))
            )
        case _:
            return
