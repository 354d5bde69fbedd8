"""Ground of a margin and of its zones: from the bank outwards, each bank by itself."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.areas import polygons_only
from farmmap.figures.bank_walk import across_the_flow
from farmmap.figures.banks import Reach, channel, joined, pieces
from farmmap.figures.creek_lines import creeks_of
from farmmap.figures.remembered import Remembered
from farmmap.figures.united import united, without_on_a_grid
from farmmap.plans.planting.ground.sides import BANK_FINE_M, channel_of, reaches_near, shared_out
from farmmap.plans.planting.ground.stretch import CreekPart
from farmmap.plans.planting.ground.sweeps import Run, runs_of, swept
from farmmap.plans.planting.ground.widths import BankWidths
from farmmap.plans.planting.recipes.recipe import Zone

Edge = tuple[float, float]
"""How far from the bank an edge of a zone runs: metres of ground, and a share of the margin's width on top."""

FIRST_FAR_M = 8.0
FURTHER = 1.5
"""Ground is shared out between the banks up to a distance from this row, so that it holds for many widths. [m]"""

SPARE_M = 0.5
"""How much wider than the margin the ground is shared out at least. [m]"""

LEAST_M2 = 1e-6
"""Smaller pieces of ground come from the rounding of numbers only, in grid m²."""

PAST_THE_END_M = 0.5
"""How far a channel is drawn on past a creek's ends, so that its flat end is no bank, in grid m."""

TOUCHING_M = 2e-3
BESIDE_M = 0.01
"""Ground no further from its own channel than this is beside it, in grid m."""

WIDTH_TOLERANCE_M = 0.005
"""Zones may add up to so much more than the margin's width without being called too wide. [m]"""

HAIR_M = 1e-5
"""How far behind a line that is a bank inner zones are drawn on when the outer ones are cut from them, in grid m."""

NARROW_M = 1e-3
"""A channel of which half is no wider is but a line. [grid m]"""

LOST_M = 1e-4
"""A zone is as large as it should be if it is off by no more than a strip so wide along its edges. [grid m]"""

STRAIGHT_BACK = 1e-5
"""An outline that turns back within this angle has no width there. [radians]"""

SAME_M = 1e-6
"""Corners nearer to each other than this are one. [grid m]"""

_SIDES: Remembered[tuple[shapely.Geometry, shapely.Geometry]] = Remembered(6)
_OWN: Remembered[shapely.Geometry] = Remembered(12)
_RUNS: Remembered[tuple[Run, ...]] = Remembered(24)
_SWEPT: Remembered[shapely.Geometry] = Remembered(48)
_REACHED: Remembered[shapely.Geometry] = Remembered(48)


def margin_ground(farm: Farm, part: CreekPart, side: int, widths: BankWidths) -> shapely.Geometry:
    """Return the ground of a margin along a stretch.

    It runs from the bank outwards by the width there, square to the bank, and ends flat at the ends of the stretch.
    Channels of all existing creeks are taken out of it, and it is cut to the farm's boundary if there is one. Ground
    that both banks of the creek claim goes to the nearer.

    Parameters
    ----------
    farm : Farm
        The farm.
    part : CreekPart
        The stretch, from `find_part`.
    side : int
        0 for the left bank, 1 for the right, looking downstream.
    widths : BankWidths
        Its widths, from `bank_widths`.

    Returns
    -------
    shapely Polygon or MultiPolygon
        On the farm's grid; left and right never overlap.
    """
    return _reached(farm, part, side, widths, (0.0, 1.0))


def bands(
    farm: Farm,
    part: CreekPart,
    side: int,
    widths: BankWidths,
    zones: Sequence[Zone],
    lines: Mapping[str, int] | None = None,
) -> tuple[shapely.Geometry, ...]:
    """Return the ground of each zone, from the water outwards.

    Where the margin is narrower than zones of a fixed width, the outer ones are cut off at its edge.

    Parameters
    ----------
    farm, part, side, widths
        As for `margin_ground`.
    zones : sequence of Zone
        Each with a share of the width, or a width.
    lines : mapping of str to int, optional
        Lines of the recipe's file, for messages: ``Recipe.lines``.

    Returns
    -------
    tuple of shapely Polygon or MultiPolygon
        One for each zone, empty ones among them; they do not overlap.

    Raises
    ------
    BadInput
        The zones are wider together than the margin is anywhere.
    """
    edges = _edges(zones, widths, lines or {})
    out: list[shapely.Geometry] = []
    before: Edge = (0.0, 0.0)
    inner_m2 = 0.0
    for edge in edges:
        if edge == before:
            out.append(Polygon())
            continue
        ground = _reached(farm, part, side, widths, edge)
        within = Polygon() if ground.is_empty or before == (0.0, 0.0) else _within(part, side, widths, before)
        out.append(ground if within.is_empty else _beyond(ground, within, ground.area - inner_m2))
        before, inner_m2 = edge, ground.area
    return tuple(out)


def zone_reach(
    widths: BankWidths, zones: Sequence[Zone], lines: Mapping[str, int] | None = None
) -> tuple[tuple[float, float], ...]:
    """Return the least and greatest distance from the bank of each zone's ground, in ground m.

    Raises
    ------
    BadInput
        As for `bands`.
    """
    edges = [(0.0, 0.0), *_edges(zones, widths, lines or {})]
    return tuple(
        (_at(inner, widths.least_m), _at(outer, widths.greatest_m)) for inner, outer in itertools.pairwise(edges)
    )


def bank_of(farm: Farm, part: CreekPart, side: int) -> shapely.Geometry:
    """Return the bank along a stretch, inside the farm, mouths of creeks left open.

    Where the channel widens from one stretch to the next, the step across the flow is no bank.

    Returns
    -------
    shapely LineString or MultiLineString
        On the farm's grid; empty if the bank is not drawn or not inside the boundary.
    """
    lines: list[shapely.Geometry] = [reach.line for reach in part.reaches if reach.half == 0 and reach.widths[side] > 0]
    runs = runs_of([reach for reach in part.reaches if reach.half > 0], side)
    if runs:
        near = _near(part)
        edge = channel_of([_past_ends(reach, part.creek.reaches) for reach in near]).boundary
        beside = swept(runs, side, (TOUCHING_M, 0.0), 1.0, BANK_FINE_M)
        lines.append(shapely.intersection(edge, beside))
    bank = shapely.difference(joined(shapely.union_all(lines)), _other_channels(farm, part))
    if len(farm.boundary):
        bank = shapely.intersection(bank, _inside(farm))
    begins, ends, _ = pieces(shapely.get_parts(joined(bank)))
    if not len(begins):
        return LineString()
    along = ~across_the_flow(begins, ends, part.creek.reaches)
    return joined(shapely.multilinestrings(shapely.linestrings(np.stack([begins, ends], axis=1)[along])))


def _edges(zones: Sequence[Zone], widths: BankWidths, lines: Mapping[str, int]) -> list[Edge]:
    """Outer edge of each zone."""
    out: list[Edge] = []
    fixed, share = 0.0, 0.0
    for place, zone in enumerate(zones):
        fixed, share = fixed + (zone.width_m or 0.0), share + (zone.share or 0.0)
        room = widths.greatest_m
        if fixed + share * room > room + WIDTH_TOLERANCE_M:
            line = lines.get(f"zones.{place}.width_m", lines.get(f"zones.{place}.share", lines.get(f"zones.{place}")))
            raise BadInput(
                (f"line {line}: " if line else "")
                + f"with zone '{zone.name}' the zones are {fixed + share * room:,.2f} m wide, but the margin is only "
                + f"{room:,.2f} m; make the margin wider or the zones narrower"
            )
        out.append((fixed, min(share, 1.0)) if fixed else (0.0, 1.0 if abs(share - 1.0) < 1e-9 else share))
    return out


def _at(edge: Edge, width_m: float) -> float:
    """How far from the bank an edge runs where the margin is so wide, in ground m."""
    return min(edge[0] + edge[1] * width_m, width_m)


def _reached(farm: Farm, part: CreekPart, side: int, widths: BankWidths, edge: Edge) -> shapely.Geometry:
    """Ground of a side from the bank out to an edge."""
    if widths.greatest_m <= 0 or edge == (0.0, 0.0):
        return Polygon()
    own = _own_ground(farm, part, side, widths.greatest_m)

    def work_out() -> shapely.Geometry:
        ground = shapely.intersection(_swept(part, side, widths, edge), own)
        if widths.steady_m is None and edge[0] > 0:
            ground = shapely.intersection(ground, _reached(farm, part, side, widths, (0.0, 1.0)))
        return _tidy(ground)

    same, edge = _key(part, widths, edge)
    return _REACHED.get((own, *same), (side, edge), work_out)


def _swept(part: CreekPart, side: int, widths: BankWidths, edge: Edge, *, past: bool = False) -> shapely.Geometry:
    """All that lies within an edge of the middle line, whatever is there."""
    same, edge = _key(part, widths, edge)
    runs = _runs(part, side, widths)
    return _SWEPT.get(same, (side, edge, past), lambda: swept(runs, side, edge, part.creek.scale, past=past))


def _runs(part: CreekPart, side: int, widths: BankWidths) -> tuple[Run, ...]:
    stations = None if widths.steady_m is not None else widths.stations(part)
    return _RUNS.get(
        (part,) if stations is None else (part, widths),
        (side,),
        lambda: runs_of(part.reaches, side, stations),
    )


def _key(part: CreekPart, widths: BankWidths, edge: Edge) -> tuple[tuple[object, ...], Edge]:
    """Return what ground out to an edge is kept under; where the width is the same everywhere, by its metres alone."""
    steady = widths.steady_m
    return ((part, widths), edge) if steady is None else ((part,), (_at(edge, steady), 0.0))


def _within(part: CreekPart, side: int, widths: BankWidths, edge: Edge) -> shapely.Geometry:
    """Return all that lies within an edge, with no side in common with the ground beyond: that takes much less work.

    Where the line itself is the bank, a hair's breadth behind it is put in.
    """
    ground = _swept(part, side, widths, edge, past=True)
    if all(reach.half > NARROW_M for reach in part.reaches):
        return ground
    behind = swept(_runs(part, side, widths), 1 - side, (HAIR_M, 0.0), 1.0, past=True)
    return united([ground, behind])


def _beyond(ground: shapely.Geometry, within: shapely.Geometry, wanted_m2: float) -> shapely.Geometry:
    """Return what of a ground lies beyond another; worked out on a grid where plain numbers lose some of it."""
    band = _tidy(shapely.difference(ground, within))
    if abs(band.area - wanted_m2) <= LOST_M * ground.length:
        return band
    return _tidy(without_on_a_grid(ground, within))


def _own_ground(farm: Farm, part: CreekPart, side: int, width_m: float) -> shapely.Geometry:
    """Ground of a side out to further than a width, all that is no margin taken out."""
    far_m = FIRST_FAR_M
    while far_m < width_m + SPARE_M:
        far_m *= FURTHER

    def work_out() -> shapely.Geometry:
        ground = _shared(part, far_m)[side]
        ground = shapely.difference(ground, channel_of(_near(part)))
        others = _other_channels(farm, part)
        if shapely.intersects(ground, others):
            ground = _on_this_side(shapely.difference(ground, others), part)
        return polygons_only(shapely.intersection(ground, _inside(farm)) if len(farm.boundary) else ground)

    return _OWN.get((part, farm.creeks, farm.boundary), (side, far_m), work_out)


def _shared(part: CreekPart, far_m: float) -> tuple[shapely.Geometry, shapely.Geometry]:
    return _SIDES.get((part,), (far_m,), lambda: shared_out(part.reaches, part.creek.reaches, far_m * part.creek.scale))


def _near(part: CreekPart) -> list[Reach]:
    """Return what of the whole creek may touch the stretch's ground."""
    far = FIRST_FAR_M * FURTHER**11 * part.creek.scale
    west, south, east, north = part.line.bounds
    return reaches_near(part.creek.reaches, (west - far, south - far, east + far, north + far))


def _other_channels(farm: Farm, part: CreekPart) -> shapely.Geometry:
    return united([channel(creek.reaches) for creek in creeks_of(farm) if creek.name != part.creek.name])


def _on_this_side(ground: shapely.Geometry, part: CreekPart) -> shapely.Geometry:
    """Return ground without what lies beyond another creek, which is that creek's own margin."""
    pieces_of = shapely.get_parts(polygons_only(ground))
    beside = shapely.multipolygons(shapely.get_parts(polygons_only(channel_of(part.reaches))))
    near = part.line if beside.is_empty else shapely.union(beside, part.line)
    return shapely.multipolygons(pieces_of[shapely.dwithin(pieces_of, near, BESIDE_M)])


def _inside(farm: Farm) -> shapely.Geometry:
    return united(shapely.make_valid(farm.boundary.geometry.to_numpy()))


def _past_ends(reach: Reach, whole: Sequence[Reach]) -> Reach:
    """Return a stretch drawn on past those of its ends that no other stretch touches."""
    corners = shapely.get_coordinates(reach.line)
    if reach.line.is_closed:
        return reach
    for at, next_to in ((0, 1), (-1, -2)):
        end = shapely.Point(corners[at])
        if sum(other.line.distance(end) <= other.half + TOUCHING_M for other in whole) == 1:
            step = corners[at] - corners[next_to]
            corners[at] = corners[at] + step / np.hypot(*step) * PAST_THE_END_M
    return Reach(LineString(corners), reach.half, reach.widths)


def _tidy(ground: shapely.Geometry) -> shapely.Geometry:
    """Return the polygons of a shape, without those that come from the rounding of numbers."""
    parts = shapely.get_parts(polygons_only(ground))
    kept = [_without_spikes(part) for part in parts[shapely.area(parts) > LEAST_M2]]
    return kept[0] if len(kept) == 1 else shapely.multipolygons(np.array(kept, object))


def _without_spikes(ground: shapely.Geometry) -> shapely.Geometry:
    """Return a polygon without spikes of no width, as rounding leaves them where two cuts run along one end."""
    rings = [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(ground)]
    cut = [_cut_back(ring) for ring in rings]
    if all(len(one) == len(ring) for one, ring in zip(cut, rings, strict=True)):
        return ground
    made = Polygon(cut[0], [ring for ring in cut[1:] if len(ring) > 2])
    return made if made.is_valid else ground


def _cut_back(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a ring without the corners at which it turns straight back; the very same where there are none."""
    apart = np.hypot(*(corners - np.roll(corners, 1, axis=0)).T) > SAME_M
    left, tips = corners[apart], _tips(corners[apart])
    if not tips.any():
        return corners
    while tips.any() and len(left) > 3:
        left = np.delete(left, int(tips.argmax()), axis=0)
        tips = _tips(left)
    return left


def _tips(corners: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether a ring turns straight back at each corner."""
    back, ahead = np.roll(corners, 1, axis=0) - corners, np.roll(corners, -1, axis=0) - corners
    turn = np.arctan2(back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0], (back * ahead).sum(axis=1))
    return np.asarray(np.abs(turn) < STRAIGHT_BACK)
