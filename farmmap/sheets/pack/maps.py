"""The maps of a pack: where the farm lies, what stands, and what is planned."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely

from farmmap.farm.farm import Farm
from farmmap.figures.margins import Margin
from farmmap.figures.margins import margins as margins_of
from farmmap.figures.remembered import Remembered
from farmmap.figures.united import united
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.scene.build import build_scene
from farmmap.scene.page_flow_map import Drawn, MapRoom
from farmmap.scene.page_items import Box, Item, Shape, Text, Type
from farmmap.scene.page_key import key_box
from farmmap.scene.page_plan import farm_within, planting_items, with_planting
from farmmap.scene.page_plan_detail import detail_view
from farmmap.scene.page_plan_key import planting_key
from farmmap.scene.page_upon import names_clear_of
from farmmap.scene.planting_layer import PlantingPicture
from farmmap.scene.scene import KeyEntry, LabelLayer, Scene
from farmmap.scene.styles import TextStyle
from farmmap.scene.view import Bounds, View
from farmmap.sheets.pack.context import PackContext, PlanOfPack
from farmmap.sheets.page_words import SAID_IN_WORDS, north_words, under_the_map
from farmmap.sheets.settling import wider

PLAIN = frozenset({"trees", "crowns", "margins", "plots", "contours", "relief", "backdrops"})
"""Layers that a map of the whole farm at a small scale does without."""

AROUND = 0.12
"""Ground shown around a planting, as a share of its longer side."""

_WORKS: Remembered[Scene] = Remembered(4)

DETAIL_MM = (150.0, 92.0)
"""Size of a map that shows single plants, about. [mm]"""

WAY_IN = "way in"
AT_THE_EDGE_M, MOST_WAYS_IN = 4.0, 3
"""A track that comes so near to the boundary meets it; so many are marked. [m]"""

TALL_MM = 1e6
POLYGON = 3
"""Number of the kind in shapely."""


def location_map(pack: PackContext, caption: str) -> MapRoom | None:
    """Return the whole farm with the places of the plans marked; None if nothing is drawn on it."""
    bounds = pack.farm.bounds()
    if bounds is None:
        return None
    scene = build_scene(pack.without, pack.day, theme=pack.look, hidden=PLAIN, margins=())
    sites = [(one.plan.name, one.bounds) for one in pack.plans if one.bounds is not None]

    ways = ways_in(pack.without)

    def drawn(type_: Type, view: View) -> Drawn:
        framed = [item for name, site in sites for item in _site(name, site, view, type_)]
        upon = (*framed, *(item for _, x, y in ways for item in _cross(x, y, view, type_)))
        return names_clear_of(scene, upon, view, type_), upon

    return _room(pack, "location", caption, bounds, drawn, _farm_key(pack, scene), scene)


def existing_map(pack: PackContext, caption: str) -> MapRoom | None:
    """Return what stands: on the whole farm, or around the plans; None if nothing is drawn."""
    bounds = pack.farm.bounds()
    if bounds is None:
        return None
    scene = build_scene(pack.without, pack.day, theme=pack.look, backdrops=pack.backdrops)
    key = _farm_key(pack, scene)
    return _room(pack, "existing", caption, bounds, lambda _type, _view: (scene, ()), key, scene)


def site_map(pack: PackContext, one: PlanOfPack, caption: str) -> MapRoom | None:
    """Return what stands where a plan is for; None if it has no ground."""
    bounds = one.bounds
    if bounds is None:
        return None
    around = wider(bounds, 0.5)
    local = farm_within(pack.without, around)
    scene = build_scene(local, pack.day, theme=pack.look, backdrops=pack.backdrops, margins=_margins(pack, around))
    key = _farm_key(pack, scene, _margins)
    return _room(pack, "site", caption, wider(bounds, AROUND), lambda _type, _view: (scene, ()), key, scene)


def planned_map(pack: PackContext, one: PlanOfPack, caption: str) -> MapRoom | None:
    """Return the planting upon what stands; None if it has no ground."""
    bounds = one.bounds
    if bounds is None:
        return None
    scene = _works_scene(pack, one)

    def drawn(type_: Type, view: View) -> Drawn:
        layers = with_planting(scene.layers, one.picture, view.metres_per_mm, pack.look)
        items = (*planting_items(one.plan, one.picture, view, type_), *_fence_numbers(one, view, type_))
        return names_clear_of(replace(scene, layers=layers), items, view, type_), items

    def key(type_: Type, width: float, view: View) -> Box:
        metres = view.metres_per_mm
        first = planting_key(one.plan, one.picture, type_, width, TALL_MM, metres)
        shown = _entries(pack, one.farm, view)
        also = key_box(shown, type_, width, TALL_MM, metres, title="Also on the map", many=4)
        y = first.height + (2.0 if also.height else 0.0)
        return Box("key", 0, 0, width, y + also.height, (*first.items, *also.moved(0, y).items))

    return _room(pack, "works", caption, wider(bounds, AROUND), drawn, key, scene)


def detail_map(pack: PackContext, one: PlanOfPack, caption: str) -> MapRoom | None:
    """Return ground in the middle of a planting, so close that single plants can be told; None if it has none."""
    view = detail_view(one.plan, DETAIL_MM[0], DETAIL_MM[1])
    if view is None:
        return None
    bounds = view.ground_bounds()
    scene = _works_scene(pack, one)

    def drawn(type_: Type, view: View) -> Drawn:
        plain = [layer for layer in scene.layers if not isinstance(layer, LabelLayer)]
        seen = _within(one.picture, wider(view.ground_bounds(), 0.1))
        layers = with_planting(plain, seen, view.metres_per_mm, pack.look)
        return replace(scene, layers=layers), planting_items(one.plan, one.picture, view, type_)

    def key(type_: Type, width: float, view: View) -> Box:
        plan, picture = _seen(one, view.ground_bounds())
        return planting_key(plan, picture, type_, width, TALL_MM, view.metres_per_mm)

    return replace(_room(pack, "detail", caption, bounds, drawn, key, scene), most_mm=DETAIL_MM[1] + 8.0)


def _within(picture: PlantingPicture, ground: Bounds) -> PlantingPicture:
    """Return a planting with only that ground of its zones that is seen, as hatching all of it takes long."""
    west, south, east, north = ground
    zones = []
    for zone in picture.zones:
        parts = shapely.get_parts(shapely.clip_by_rect(zone.shapes, west, south, east, north))
        shapes = parts[(shapely.get_type_id(parts) == POLYGON) & ~shapely.is_empty(parts)]
        zones.append(replace(zone, shapes=shapes, boxes=np.asarray(shapely.bounds(shapes)).reshape(-1, 4)))
    return replace(picture, zones=tuple(zones))


def _seen(one: PlanOfPack, ground: Bounds) -> tuple[PlantingPlan, PlantingPicture]:
    """Return a planting that counts only those plants, gates, floodgates and troughs that are seen."""

    def inside(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return (x >= ground[0]) & (x <= ground[2]) & (y >= ground[1]) & (y <= ground[3])

    def some(places: np.ndarray) -> np.ndarray:
        places = places.reshape(-1, 2)
        return places[inside(*places.T)]

    picture = one.picture
    counts = np.bincount(picture.symbol[inside(picture.x, picture.y)], minlength=len(picture.symbols))
    fences = tuple(
        replace(fence, gates=some(fence.gates), troughs=some(fence.troughs), floodgates=some(fence.floodgates))
        for fence in one.plan.fences
    )
    return replace(one.plan, fences=fences), replace(picture, counts=tuple(counts.tolist()))


def _fence_numbers(one: PlanOfPack, view: View, type_: Type) -> Iterator[Item]:
    """Yield the number of each fence, on a plate beside its middle."""
    style = type_.style(7.0, "bold")
    for place, fence in enumerate(one.plan.fences, 1):
        line = fence.line
        middle = shapely.line_interpolate_point(line, 0.35, normalized=True)
        x, y = (float(value) for value in view.to_mm(middle.x, middle.y))
        if 6.0 <= x <= view.width_mm - 6.0 and 8.0 <= y <= view.height_mm - 6.0:
            yield from _plate(f"F{place}", x, y - 3.2, style, type_)


def ways_in(farm: Farm) -> tuple[tuple[str, float, float], ...]:
    """Return where tracks meet the farm's boundary: name of the track and place; a few at most. [m]."""
    tracks = farm.tracks[(farm.tracks["stage"] == "existing").to_numpy(bool)]
    outline = shapely.boundary(united(farm.boundary.geometry.to_numpy())) if len(farm.boundary) else None
    if outline is None or outline.is_empty:
        return ()
    edge = shapely.buffer(outline, AT_THE_EDGE_M)
    found = []
    for name, met in zip(tracks["name"], shapely.intersection(tracks.geometry.to_numpy(), edge), strict=True):
        for part in shapely.get_parts(met):
            if not shapely.is_empty(part):
                x, y = shapely.get_coordinates(shapely.line_interpolate_point(part, 0.5, normalized=True))[0].tolist()
                found.append((str(name), x, y))
    return tuple(found[:MOST_WAYS_IN])


def _cross(x: float, y: float, view: View, type_: Type) -> tuple[Item, ...]:
    """Mark a place with a cross and its words."""
    across, down = (float(value) for value in view.to_mm(x, y))
    half, ink = 1.6, type_.theme.ink
    strokes = (
        Shape(((across - half, down - half), (across + half, down + half)), line=ink, line_mm=0.6),
        Shape(((across - half, down + half), (across + half, down - half)), line=ink, line_mm=0.6),
    )
    style = type_.style(7.0, "semibold")
    room = type_.width(WAY_IN, style) / 2 + 2.0
    at = min(max(across, room), view.width_mm - room)
    base = down + half + style.size_mm * 1.3 if down < view.height_mm - 8.0 else down - half - 1.2
    return (*strokes, *_plate(WAY_IN, at, base, style, type_))


def grid_reference(farm: Farm, bounds: Bounds) -> tuple[tuple[str, str], ...]:
    """Return the middle of some ground on the farm's grid, and in degrees where that is known; names and values."""
    west, south, east, north = bounds
    x, y = (west + east) / 2, (south + north) / 2
    metres = tuple(f"{value:,.0f}".replace(",", "\u202f") for value in (x, y))
    on_grid = (f"{farm.grid.label}" if not farm.grid.local else farm.grid.name, f"E {metres[0]}  N {metres[1]}")
    if farm.grid.local:
        return (on_grid,)
    lon, lat = (float(value) for value in farm.grid.lon_lat(x, y))
    way_n, way_e = "S" if lat < 0 else "N", "W" if lon < 0 else "E"
    return (on_grid, ("latitude and longitude", f"{abs(lat):.5f}° {way_n}, {abs(lon):.5f}° {way_e}"))


def _works_scene(pack: PackContext, one: PlanOfPack) -> Scene:
    """Return what stands around a plan, for the maps of its works; kept for the last few."""
    bounds = one.bounds
    assert bounds is not None

    def made() -> Scene:
        local = farm_within(one.farm, wider(bounds, 0.5))
        return build_scene(local, pack.day, theme=pack.look, margins=(), backdrops=pack.backdrops)

    return _WORKS.get((one, pack.look, pack.backdrops), (pack.day,), made)


def _room(
    pack: PackContext,
    name: str,
    caption: str,
    bounds: Bounds,
    drawn: Callable[[Type, View], Drawn],
    key: Callable[[Type, float, View], Box],
    scene: Scene,
) -> MapRoom:
    middle = (f"Middle of the map: {', '.join(value for _, value in grid_reference(pack.farm, bounds))}.",)
    return MapRoom(
        name=name,
        caption=caption,
        bounds=bounds,
        drawn=drawn,
        key=key,
        north=north_words(pack.farm, bounds),
        words=(*middle, *under_the_map(scene)),
        paper=pack.options.paper.upper(),
    )


def _farm_key(
    pack: PackContext, scene: Scene, margins: Callable[[PackContext, Bounds], Sequence[Margin]] | None = None
) -> Callable[[Type, float, View], Box]:
    """Key of what stands; of all of a scene where that shows the whole farm, else of what is seen, margins too."""

    def key(type_: Type, width: float, view: View) -> Box:
        seen = () if margins is None else margins(pack, view.ground_bounds())
        entries = _printed(scene.key) if margins is None else _entries(pack, pack.without, view, seen)
        return key_box(entries, type_, width, TALL_MM, view.metres_per_mm)

    return key


def _entries(pack: PackContext, farm: Farm, view: View, margins: Sequence[Margin] = ()) -> tuple[KeyEntry, ...]:
    """Lines of the key of those things of a farm that a map shows."""
    local = farm_within(farm, view.ground_bounds())
    return _printed(build_scene(local, pack.day, theme=pack.look, margins=margins).key)


def _margins(pack: PackContext, ground: Bounds) -> tuple[Margin, ...]:
    """Creek margins that reach over some ground."""
    box = shapely.box(*ground)
    return tuple(margin for margin in margins_of(pack.without) if shapely.intersects(margin.polygon, box))


def _printed(entries: tuple[KeyEntry, ...]) -> tuple[KeyEntry, ...]:
    return tuple(entry for entry in entries if entry.layer not in SAID_IN_WORDS)


def _site(name: str, bounds: Bounds, view: View, type_: Type) -> tuple[Item, ...]:
    """Frame around a site with its name beside it."""
    west, south, east, north = bounds
    across, down = (values.tolist() for values in view.to_mm([west, east], [north, south]))
    left, right = across[0] - 1.5, across[1] + 1.5
    top, bottom = down[0] - 1.5, down[1] + 1.5
    frame = Shape(
        ((left, top), (right, top), (right, bottom), (left, bottom)), closed=True, line=type_.theme.ink, line_mm=0.7
    )
    style = type_.style(8.0, "bold")
    base = top - 1.0 if top > 2 * style.size_mm else bottom + style.size_mm * 1.2
    half = type_.width(name, style) / 2
    at = min(max((left + right) / 2, half + 1.0), view.width_mm - half - 1.0)
    return (frame, *_plate(name, at, base, style, type_))


def _plate(words: str, x: float, base: float, style: TextStyle, type_: Type) -> tuple[Item, ...]:
    """Words on a plate that covers what lies under them."""
    half, high = type_.width(words, style) / 2 + 0.8, style.size_mm
    top, bottom = base - 0.95 * high, base + 0.35 * high
    corners = ((x - half, top), (x + half, top), (x + half, bottom), (x - half, bottom))
    return (Shape(corners, closed=True, fill=type_.theme.inside), Text(x, base, words, style, "middle"))
