"""A planting on paper: its ground, plants and fence in millimetres, told apart without their colours."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import shapely

from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.plans.planting.plan import FenceLine, PlantingPlan
from farmmap.scene.page_items import Disc, Item, Shape, Symbol, Text, Type
from farmmap.scene.page_plan_signs import floodgate_sign, gate_sign, strainer_sign, trough_sign
from farmmap.scene.planting_layer import PlantingPicture, ZoneArea, zone_colours
from farmmap.scene.plot_signs import plot_boxes
from farmmap.scene.scene import AreaLayer, Layer, TreeLayer
from farmmap.scene.shapes import area_layer, line_layer
from farmmap.scene.styles import AreaStyle, LineStyle, Theme
from farmmap.scene.view import Bounds, Floats, View

WAYS_DEG = {
    "level": (0.0,),
    "rising": (45.0,),
    "falling": (135.0,),
    "upright": (90.0,),
    "crossed": (0.0, 90.0),
    "diamonds": (45.0, 135.0),
}
"""How the strokes of each hatch run, from east towards north."""

HATCH_MM = 1.1
"""From one stroke of a hatch to the next; half as much again where they cross. [mm]"""

TINT = 0.2
OF_SPACING = 0.66
"""Width of a plant's symbol in parts of its zone's spacing, within `PLANT_MM`."""

PLANT_MM = (0.35, 3.4)
"""Least and greatest width of a plant's symbol. [mm]"""

APART_MM = 0.7
"""Plants that stand closer than this on paper are not drawn, as their dots would hide the zone. [mm]"""

SHAPED_FROM_MM = 0.6
"""Narrower symbols are dots whose shape cannot be seen. [mm]"""

LETTER_ROOM_MM = 4.6
"""A zone this wide carries its letter; a narrower one has it outside, at the end of a stroke. [mm]"""

LETTER_OFF_MM = 4.0
_WITHOUT: Remembered[Farm] = Remembered(4)
FAR_M = 1000.0


def zone_letter(place: int) -> str:
    """Return the letter of a zone, A at the water; numbers beyond Z."""
    return chr(ord("A") + place) if place < 26 else str(place + 1)


def planting_bounds(plan: PlantingPlan) -> Bounds | None:
    """Return the ground that a planting covers with its fences, gates and troughs; None if it has none. [grid m]."""
    shapes = [strip.outline for strip in plan.strips] + [fence.line for fence in plan.fences]
    shapes += [shapely.multipoints(fence.troughs) for fence in plan.fences if len(fence.troughs)]
    box = shapely.total_bounds(np.array(shapes, object)) if shapes else np.full(4, np.nan)
    return None if np.isnan(box).any() else (float(box[0]), float(box[1]), float(box[2]), float(box[3]))


def farm_without(farm: Farm, name: str) -> Farm:
    """Return a farm without what came into it from a plan, so that the plan can be made and drawn anew."""
    return _WITHOUT.get((farm,), (name,), lambda: _without(farm, name)) if name else farm


def _without(farm: Farm, name: str) -> Farm:
    without = {}
    for table in ("trees", "fences", "blocks", "notes"):
        rows = (farm.tables[table]["plan"] == name).to_numpy(bool)
        if rows.any():
            without[table] = farm.tables[table][~rows]
            if table == "trees":
                gone = farm.measurements["tree"].isin(farm.trees.index[rows]).to_numpy(bool)
                without["measurements"] = farm.measurements[~gone]
    return farm.with_tables(**without) if without else farm


def farm_within(farm: Farm, ground: Bounds) -> Farm:
    """Return a farm with only those things that touch a rectangle of ground."""
    box, kept = shapely.box(*ground), {}
    for name, table in farm.tables.items():
        if "geometry" in table.columns:
            kept[name] = table[shapely.intersects(table["geometry"].to_numpy(), box)]
    trees = farm.trees
    x, y = trees["x"].to_numpy(), trees["y"].to_numpy()
    kept["trees"] = trees[(x >= ground[0]) & (x <= ground[2]) & (y >= ground[1]) & (y <= ground[3])]
    points = farm.tables["photo_points"]
    kept["photo_points"] = points[shapely.intersects_xy(box, points["x"], points["y"])]
    kept["plots"] = farm.plots[shapely.intersects(shapely.box(*plot_boxes(farm.plots).T), box)]
    counted = farm.tables["plot_trees"]
    kept["plot_trees"] = counted[counted["plot"].isin(kept["plots"].index).to_numpy(bool)]
    kept["measurements"] = farm.measurements[farm.measurements["tree"].isin(kept["trees"].index).to_numpy(bool)]
    return farm.with_tables(**kept)


def plant_mm(plan: PlantingPlan, zone: int, metres_per_mm: float) -> float:
    """Return how wide the symbols of a zone's plants are at a scale. [mm]."""
    wanted = plan.recipe.zones[zone]
    steps = [step for step in (wanted.between_m, wanted.within_m) if step > 0]
    least, most = PLANT_MM
    return float(np.clip(OF_SPACING * min(steps, default=1.0) * plan.scale / metres_per_mm, least, most))


def plants_apart(plan: PlantingPlan, zone: int, metres_per_mm: float) -> bool:
    """Whether a zone's plants can be told from each other at a scale, so that they are drawn."""
    wanted = plan.recipe.zones[zone]
    steps = [step for step in (wanted.between_m, wanted.within_m) if step > 0]
    return min(steps, default=1.0) * plan.scale / metres_per_mm >= APART_MM


def with_planting(
    layers: Iterable[Layer], picture: PlantingPicture, metres_per_mm: float, theme: Theme
) -> tuple[Layer, ...]:
    """Return layers of a map with the ground of a planting under its creeks and its fences under its trees.

    Parameters
    ----------
    layers : iterable of Layer
        The map, lowest first.
    picture : PlantingPicture
        The planting.
    metres_per_mm : float
        Scale of the map, as strokes of a hatch are so many millimetres apart.
    theme : Theme
        The look.
    """
    ground = [layer for zone in picture.zones for layer in _zone(zone, metres_per_mm, theme)]
    fences = list(_fences(picture.fences, theme))
    made: list[Layer] = []
    for layer in layers:
        if ground and not isinstance(layer, AreaLayer) and layer.name in _OVER_GROUND:
            made += ground
            ground = []
        if fences and (isinstance(layer, TreeLayer) or layer.name in {"notes", "photo_points", "labels"}):
            made += [*ground, *fences]
            ground, fences = [], []
        made.append(layer)
    return (*made, *ground, *fences)


_OVER_GROUND = {"creeks", "tracks", "crowns", "fences", "hazards", "trees", "notes", "photo_points", "labels"}


def zone_style(zone: ZoneArea, theme: Theme) -> tuple[AreaStyle, LineStyle]:
    """Return how a zone's ground is tinted, and its strokes are drawn."""
    tint, dark = zone_colours(zone, theme)
    return AreaStyle(tint, TINT, dark, 0.25), LineStyle(dark, 0.12)


def new_fence_style(theme: Theme) -> LineStyle:
    """Return how a fence that is to be built is drawn."""
    return LineStyle(theme.lines["fences"].colour, 0.5, dash=(2.0, 0.8))


def flooded_style(theme: Theme) -> LineStyle:
    """Return how a span that a flood may reach is drawn: as a comb of strokes across it."""
    return LineStyle(theme.lines["creeks"].colour, 0.2, tick_mm=3.0, tick_every_mm=1.0)


def hatch(ground: shapely.Geometry, kind: str, apart: float) -> list[shapely.Geometry]:
    """Return the strokes of a hatch within some ground.

    Parameters
    ----------
    ground : shapely geometry
        What is hatched.
    kind : str
        One of `farmmap.scene.planting_layer.HATCHES`.
    apart : float
        From one stroke to the next, in the units of ``ground``.
    """
    if ground.is_empty:
        return []
    ways, made = WAYS_DEG[kind], list[shapely.Geometry]()
    apart *= 1.5 if len(ways) > 1 else 1.0
    west, south, east, north = ground.bounds
    corners = np.array([(west, south), (west, north), (east, south), (east, north)])
    for way in np.radians(ways):
        along, across = np.array([np.cos(way), np.sin(way)]), np.array([-np.sin(way), np.cos(way)])
        low, high = (corners @ across).min(), (corners @ across).max()
        first, last = (corners @ along).min(), (corners @ along).max()
        off = np.arange(np.ceil(low / apart), np.floor(high / apart) + 1)[:, None] * apart
        ends = np.stack([along * first + across * off, along * last + across * off], axis=1)
        cut = shapely.intersection(shapely.linestrings(ends), ground)
        made += [stroke for stroke in cut if not stroke.is_empty]
    return made


def _zone(zone: ZoneArea, metres_per_mm: float, theme: Theme) -> Iterator[Layer]:
    if not len(zone.shapes):
        return
    tint, stroke = zone_style(zone, theme)
    strokes = hatch(shapely.multipolygons(zone.shapes), zone.hatch, HATCH_MM * metres_per_mm)
    for layer in (
        area_layer("zones", tint, np.arange(len(zone.shapes)), zone.shapes),
        line_layer("zones", stroke, np.arange(len(strokes)), strokes) if strokes else None,
    ):
        if layer is not None:
            yield layer


def _fences(fences: tuple[FenceLine, ...], theme: Theme) -> Iterator[Layer]:
    places = np.arange(len(fences))
    for style, lines in (
        (flooded_style(theme), [fence.flooded for fence in fences]),
        (new_fence_style(theme), [fence.line for fence in fences]),
    ):
        layer = line_layer("fences", style, places, lines) if fences else None
        if layer is not None:
            yield layer


def planting_items(
    plan: PlantingPlan, picture: PlantingPicture, view: View, type_: Type, *, letters: bool = True
) -> tuple[Item, ...]:
    """Return what of a planting is drawn over the map, in millimetres from the map's upper left corner.

    Parameters
    ----------
    plan, picture
        The planting.
    view : View
        What the map shows; what lies outside it is left out.
    type_ : Type
        Sizes of type.
    letters : bool
        Whether zones carry their letters.
    """
    items: list[Item] = [*_plants(plan, picture, view), *_signs(picture.fences, view, type_.theme)]
    if letters:
        items += _letters(plan, view, type_)
    return tuple(items)


def _plants(plan: PlantingPlan, picture: PlantingPicture, view: View) -> Iterator[Item]:
    if not len(picture.x):
        return
    zones = np.array([strip.zone for strip in plan.strips], np.intp)[plan.plants.strip]
    sizes = np.array([plant_mm(plan, zone, view.metres_per_mm) for zone in range(len(plan.recipe.zones))])[zones]
    across, down = view.to_mm(picture.x, picture.y)
    apart = np.array([plants_apart(plan, zone, view.metres_per_mm) for zone in range(len(plan.recipe.zones))])[zones]
    inside = apart & _inside(across, down, view, sizes / 2)
    for x, y, size, symbol in zip(
        across[inside].tolist(), down[inside].tolist(), sizes[inside].tolist(), picture.symbol[inside].tolist(),
        strict=True,
    ):  # fmt: skip
        yield Symbol(x, y, size, picture.symbols[symbol])


def _signs(fences: tuple[FenceLine, ...], view: View, theme: Theme) -> Iterator[Item]:
    for fence in fences:
        for x, y in _places(shapely.get_coordinates(fence.line), view):
            yield from strainer_sign(x, y, theme)
    for fence in fences:
        for x, y in _places(fence.floodgates, view):
            yield from floodgate_sign(x, y, theme)
        for x, y in _places(fence.troughs, view):
            yield from trough_sign(x, y, theme)
        for gate in np.asarray(fence.gates).reshape(-1, 2):
            for x, y in _places(gate, view):
                yield from gate_sign(x, y, theme, _turn_deg(fence, gate), fence.gate_m / view.metres_per_mm)


def _turn_deg(fence: FenceLine, gate: Floats) -> float:
    """How a fence runs at a gate, clockwise from left to right on the page. [degrees]."""
    along = shapely.line_locate_point(fence.line, shapely.Point(gate))
    ends = shapely.line_interpolate_point(fence.line, [max(along - 0.5, 0.0), min(along + 0.5, fence.line.length)])
    (x0, y0), (x1, y1) = shapely.get_coordinates(ends).tolist()
    return float(np.degrees(np.arctan2(y0 - y1, x1 - x0)))


def _places(points: Floats, view: View) -> list[tuple[float, float]]:
    """Those of some places on the ground that lie in a view. [mm]."""
    points = np.asarray(points, np.float64).reshape(-1, 2)
    across, down = view.to_mm(points[:, 0], points[:, 1])
    inside = _inside(across, down, view, 1.0)
    return list(zip(across[inside].tolist(), down[inside].tolist(), strict=True))


def _inside(across: Floats, down: Floats, view: View, edge_mm: Floats | float) -> np.ndarray:
    wide, high = view.width_mm, view.height_mm
    return (across >= edge_mm) & (across <= wide - edge_mm) & (down >= edge_mm) & (down <= high - edge_mm)


def cut_across(plan: PlantingPlan, side: int, aside: float = 0.0) -> tuple[Floats, list[tuple[int, float, float]]]:
    """Look from the bank square out over the zones near the middle of a stretch.

    Parameters
    ----------
    plan : PlantingPlan
        The planting.
    side : int
        0 for the left bank, 1 for the right.
    aside : float
        How far downstream of the middle. [grid m]

    Returns
    -------
    line : ndarray, shape (2, 2)
        The place on the bank and a step of 1 m outwards from it. [grid m]
    zones : list of (int, float, float)
        Place of each zone that is met, and from where to where; nearest first. [grid m]
    """
    bank = max(shapely.get_parts(plan.banks[side]), key=lambda part: part.length)
    at = float(np.clip(bank.length / 2 + aside, 0.0, bank.length))
    ends = shapely.line_interpolate_point(bank, [max(at - 1.0, 0.0), at, min(at + 1.0, bank.length)])
    before, foot, after = shapely.get_coordinates(ends)
    step = (after - before) / max(float(np.hypot(*(after - before))), 1e-9)
    best: list[tuple[int, float, float]] = []
    out = np.array([-step[1], step[0]])
    for way in (out, -out):
        ray = shapely.LineString([foot, foot + way * FAR_M])
        found = []
        for strip in plan.strips:
            pieces = shapely.get_parts(shapely.intersection(ray, strip.outline)) if strip.side == side else []
            spans = [(piece.bounds, shapely.get_coordinates(piece)) for piece in pieces if not piece.is_empty]
            if spans:
                away = np.hypot(*(spans[0][1] - foot).T)
                found.append((strip.zone, float(away.min()), float(away.max())))
        found.sort(key=lambda one: one[1])
        if found and (not best or found[0][1] < best[0][1]):
            best, out = found, way
    return np.array([foot, out]), best


def _letters(plan: PlantingPlan, view: View, type_: Type) -> Iterator[Item]:
    """Letters of the zones: in them where they are wide, else beside the planting at the end of a stroke."""
    for side, bank in plan.banks.items():
        if bank.is_empty:
            continue
        (_, _), met = cut_across(plan, side)
        for place, (zone, _, _) in enumerate(met):
            aside = (place - (len(met) - 1) / 2) * (LETTER_OFF_MM + 1.0) * view.metres_per_mm
            (foot, out), here = cut_across(plan, side, aside)
            span = next(((low, high) for one, low, high in here if one == zone), None)
            if span is None:
                continue
            inner, outer = (np.array(view.to_mm(*(foot + out * away))) for away in (sum(span) / 2, here[-1][2]))
            outwards = np.array([out[0], -out[1]])
            label = outer + outwards * (LETTER_OFF_MM + 2.0)
            if (span[1] - span[0]) / view.metres_per_mm >= LETTER_ROOM_MM or not _fits(label, view):
                label = inner
            if not _fits(inner, view):
                continue
            yield from _letter(zone_letter(zone), inner, label, type_)


def _fits(label: Floats, view: View) -> bool:
    return bool(2.5 <= label[0] <= view.width_mm - 2.5 and 2.5 <= label[1] <= view.height_mm - 2.5)


def _letter(letter: str, at: Floats, label: Floats, type_: Type) -> Iterator[Item]:
    ink, style = type_.theme.ink, type_.style(7.2, "bold")
    if not _fits_at(at, label):
        yield Shape(((float(at[0]), float(at[1])), (float(label[0]), float(label[1]))), line=ink, line_mm=0.18)
        yield Disc(float(at[0]), float(at[1]), 0.7, ink, 0.0, ink)
    yield Disc(float(label[0]), float(label[1]), style.size_mm * 1.35, ink, 0.18, type_.theme.inside)
    yield Text(float(label[0]), float(label[1]) + style.size_mm * 0.34, letter, style, "middle")


def _fits_at(at: Floats, label: Floats) -> bool:
    return bool(np.hypot(*(label - at)) < 1e-6)
