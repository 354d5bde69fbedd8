"""Ground that is kept clear of new plants: crowns, fences, tracks, power lines, buildings, pipes, drains, boundary."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.areas import polygons_only
from farmmap.figures.blocks import crown_map
from farmmap.figures.prepared import prepared
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import Standing, standing
from farmmap.figures.united import united
from farmmap.plans.planting.places.lattice import cells_of
from farmmap.plans.planting.recipes.recipe import SetBacks

Floats = NDArray[np.float64]
Shapes = NDArray[np.object_]

ROUND_SEGS = 16
CROWN_SEGS = 6
"""Corners of a quarter circle round things, and round crowns."""

HARDLY = 1e-4
"""A planned fence that stands off by its set-back less this share of it takes nothing away."""

STEM_M = 0.5
"""Kept clear round every living tree, planned ones and those of no known crown too: two do not grow in one place. Own
choice. [ground m]"""

SQUARE_M = 50.0
"""What is near is looked up by squares of this side and those round them, so that it is at hand while a margin is drawn
wider. [grid m]"""

OTHER_PLAN = (
    "On or near this ground {plants} planned already: new plants keep clear of them. If both are for the same ground,"
    " take the other plan back."
)

LOCAL_LAW = "what is asked for differs from place to place: check your local code"

WORDS = {
    "power line": "A power line is near: {kept}; {law}. Ask the lines company before planting or felling near it.",
    "building": "A building is near: {kept}; {law}. Tall trees are often kept as far off as they will grow high.",
    "pipeline": "A pipeline is near: {kept}; {law}. Ask before you dig.",
    "drain": "A drain is near: {kept}; {law}. Leave one side open for the digger.",
    "other": "Another hazard is near: {kept}.",
    "track": "A track is near: {kept}. Leave room for machines to pass, to turn and to see round its bends.",
}
"""What is said of things of each kind that lie near, whether or not a distance from them is given."""


@dataclass(frozen=True, eq=False)
class Clearings:
    """What is kept clear.

    Attributes
    ----------
    ground : shapely geometry
        Polygon or MultiPolygon, empty if nothing is near. [grid]
    notes : tuple of str
        What was kept clear and what to check, in words.
    """

    ground: shapely.Geometry
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Things:
    """Things of one kind with the ground that each keeps clear; all of the whole farm."""

    kind: str
    ground: Shapes
    tree: shapely.STRtree
    least_m: float


_THINGS: Remembered[list[_Things]] = Remembered(4)
_NEAR: Remembered[Clearings] = Remembered(12)


def clearings(
    farm: Farm,
    set_backs: SetBacks,
    near: shapely.Geometry | None,
    scale: float,
) -> Clearings:
    """Return the ground near a planting that is kept clear, and what the grower should know of it.

    Crowns of living trees, measured or estimated, count with the recipe's distance from their edge; fences, tracks
    (from their edges), hazards and the farm's boundary with theirs. Of a hazard the wider of the farm's own clear
    width and the recipe's counts. Where no distance is said only the thing itself is kept clear. What is only planned
    on the farm counts like what stands there; of planned trees the stem's place does.

    Parameters
    ----------
    farm : Farm
        The farm.
    set_backs : SetBacks
        Distances. [ground m]
    near : shapely geometry or None
        The planting; what keeps clear ground further off is left out.
    scale : float
        Grid metres for a metre of ground.
    """
    if near is None or near.is_empty:
        return Clearings(shapely.Polygon(), ())
    near = polygons_only(near if near.is_valid else shapely.make_valid(near))
    row, column = _with_those_beside(*cells_of(near, SQUARE_M)[:2])
    there = standing(farm)
    key = (set_backs, scale, tuple(row.tolist()), tuple(column.tolist()))
    return _NEAR.get(
        (*_tables(farm), farm.trees, there), key, lambda: _kept(farm, set_backs, there, _squares(row, column), scale)
    )


def beside_fences(
    set_backs: SetBacks, near: shapely.Geometry, planned_fences: shapely.Geometry | None, scale: float
) -> shapely.Geometry | None:
    """Return the ground that is kept clear along fences which a planting brings along; None if it takes nothing away.

    Parameters
    ----------
    set_backs : SetBacks
        Distances. [ground m]
    near : shapely geometry
        The planting.
    planned_fences : shapely geometry or None
        Its fences, on the grid.
    scale : float
        Grid metres for a metre of ground.
    """
    reach = (set_backs.fence_m or 0.0) * scale
    if planned_fences is None or not reach or not shapely.dwithin(near, planned_fences, reach * (1 - HARDLY)):
        return None
    along: shapely.Geometry = _grown(np.array([planned_fences], object), reach)[0]
    return along


def _tables(farm: Farm) -> tuple[object, ...]:
    return farm.fences, farm.tracks, farm.hazards, farm.boundary


def _with_those_beside(row: NDArray[np.intp], column: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Squares and the eight round each, each once."""
    south, west, wide = row.min() - 1, column.min() - 1, int(np.ptp(column)) + 3
    steps = np.array([up * wide + across for up in (-1, 0, 1) for across in (-1, 0, 1)])
    squares = np.unique(((row - south) * wide + column - west)[:, None] + steps)
    return squares // wide + south, squares % wide + west


def _squares(row: NDArray[np.intp], column: NDArray[np.intp]) -> shapely.Geometry:
    return united(shapely.box(column * SQUARE_M, row * SQUARE_M, (column + 1) * SQUARE_M, (row + 1) * SQUARE_M))


def _kept(farm: Farm, set_backs: SetBacks, there: Standing, near: shapely.Geometry, scale: float) -> Clearings:
    things = _THINGS.get(_tables(farm), (set_backs, scale), lambda: _things(farm, set_backs, scale))
    near = prepared(near)
    ground: list[shapely.Geometry] = []
    notes: list[str] = []
    for kind in things:
        here = np.sort(kind.tree.query(near, predicate="intersects"))
        if len(here):
            ground += list(kind.ground[here])
            notes += _said_of(kind, set_backs)
    crowns, said = _crowns(there, set_backs.crown_m, near, scale)
    planned = _planned_stems(farm, near, scale)
    if planned:
        notes.append(OTHER_PLAN.format(plants="1 tree is" if len(planned) == 1 else f"{len(planned)} trees are"))
    return Clearings(united([*ground, *crowns, *planned]), (*notes, *said))


def _things(farm: Farm, set_backs: SetBacks, scale: float) -> list[_Things]:
    """All things of the farm that keep ground clear, by kind."""
    found = [
        _of_kind("fence", farm.fences.geometry.to_numpy(), set_backs.fence_m, 0.0, scale),
        _of_kind(
            "track",
            farm.tracks.geometry.to_numpy(),
            set_backs.track_m,
            np.nan_to_num(farm.tracks["width_m"].to_numpy(np.float64)) / 2,
            scale,
        ),
        _of_kind("boundary", _edges(farm), set_backs.boundary_m, 0.0, scale),
    ]
    own = np.nan_to_num(farm.hazards["clear_m"].to_numpy(np.float64))
    kinds = farm.hazards["kind"].to_numpy()
    shapes = farm.hazards.geometry.to_numpy()
    asked = {
        "power line": set_backs.power_line_m,
        "building": set_backs.building_m,
        "pipeline": set_backs.pipeline_m,
        "drain": set_backs.drain_m,
        "other": None,
    }
    for kind, distance in asked.items():
        these = kinds == kind
        wider = np.maximum(own[these], distance or 0.0)
        found.append(_of_kind(kind, shapes[these], 0.0, wider, scale))
    return found


def _edges(farm: Farm) -> Shapes:
    """Outlines of the farm, without the sides that its parts share."""
    shapes = [shape for shape in farm.boundary.geometry.to_numpy() if shape is not None and not shape.is_empty]
    whole = united(shapely.make_valid(np.array(shapes, object)))
    return shapely.get_parts(shapely.boundary(whole)) if shapes else np.empty(0, object)


def _of_kind(kind: str, shapes: Shapes, beyond: float | None, half: Floats | float, scale: float) -> _Things:
    """Things of a kind: ``half`` is how far each reaches itself, ``beyond`` what is kept clear besides, in ground m."""
    there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    own = np.broadcast_to(np.asarray(half, np.float64), len(shapes))[there]
    whole = np.where(shapely.is_valid(shapes[there]), shapes[there], shapely.make_valid(shapes[there]))
    reach = own + (beyond or 0.0)
    ground = _grown(whole, reach * scale)
    return _Things(kind, ground, shapely.STRtree(ground), float(reach.min(initial=math.inf)))


def _grown(shapes: Shapes, reach: Floats | float) -> Shapes:
    """Ground within reach of shapes, drawn so that its round corners hold all of it; lines without reach stay lines."""
    outside = np.asarray(reach, np.float64) / math.cos(math.pi / (4 * ROUND_SEGS))
    grown = shapely.buffer(shapes, outside, quad_segs=ROUND_SEGS)
    return np.where(shapely.is_empty(grown), shapes, grown)


def _crowns(
    there: Standing, beyond: float, near: shapely.Geometry, scale: float
) -> tuple[list[shapely.Geometry], list[str]]:
    """Crowns near, grown by what is kept clear round them, and what is said of them."""
    wide = shapely.buffer(near, beyond * scale, join_style="mitre") if beyond > 0 else near
    here = crown_map(there).reaching(wide, scale)
    notes: list[str] = []
    unknown = np.flatnonzero(~(there.crown_m > 0))
    unknown = unknown[shapely.intersects_xy(near, there.x[unknown], there.y[unknown])]
    if len(here) or len(unknown):
        notes.append(
            "Trees that stand there stay: plants keep clear of their crowns. Standing vegetation beside water is often"
            " protected; check your local code before any of it is felled or cleared."
        )
    if len(unknown):
        few = "1 tree near has" if len(unknown) == 1 else f"{len(unknown)} trees near have"
        kept = max(beyond, STEM_M)
        notes.append(f"{few} no crown or diameter on record; {kept:g} m round the stem are kept clear.")
    if there.crown_estimated[here].any():
        notes.append("Some of those crowns were estimated from the stem's diameter.")
    all_here = np.concatenate([here, unknown])
    radius = np.maximum(np.nan_to_num(there.crown_m[all_here]) / 2 + beyond, STEM_M) * scale
    return _round(there.x[all_here], there.y[all_here], radius), notes


def _planned_stems(farm: Farm, near: shapely.Geometry, scale: float) -> list[shapely.Geometry]:
    """Places where other plans would have trees."""
    trees = farm.trees
    x, y = trees["x"].to_numpy(), trees["y"].to_numpy()
    west, south, east, north = near.bounds
    rows = np.flatnonzero((x >= west) & (x <= east) & (y >= south) & (y <= north))
    here = trees.iloc[rows]
    rows = rows[((here["stage"] == "planned") & (here["status"] == "alive")).to_numpy(bool)]
    rows = rows[shapely.intersects_xy(near, x[rows], y[rows])]
    return _round(x[rows], y[rows], np.full(len(rows), STEM_M * scale))


def _round(x: Floats, y: Floats, radius: Floats) -> list[shapely.Geometry]:
    """Ground round places, no nearer to them than so far anywhere along its corners."""
    outside = radius / math.cos(math.pi / (4 * CROWN_SEGS))
    return list(shapely.buffer(shapely.points(x, y), outside, quad_segs=CROWN_SEGS))


def _said_of(things: _Things, set_backs: SetBacks) -> list[str]:
    """Cautions for a kind of thing that lies near."""
    if things.kind in WORDS:
        if things.least_m > 0:
            kept = f"at least {things.least_m:g} m {'from its middle ' if things.kind == 'track' else ''}is kept clear"
        else:
            kept = "no distance is given for it, so only the thing itself is kept clear"
        return [WORDS[things.kind].format(kept=kept, law=LOCAL_LAW)]
    if things.kind == "boundary" and not set_backs.boundary_m:
        return [f"The farm's boundary is near and no distance from it is given: {LOCAL_LAW}, and ask the neighbour."]
    return []
