"""The fence along a planting: where it runs, strainers, posts, wire, gates, floodgates, troughs, flood-prone spans.

It is built on the farm's own ground only: where the planting reaches the
boundary no fence is counted, since the land beyond is not the grower's and the
boundary has its own fence. A fence that stands near enough already is used.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.heights import Heights
from farmmap.figures.creek_lines import Creek, creeks_of
from farmmap.figures.remembered import Remembered
from farmmap.figures.united import united
from farmmap.plans.planting.fences.crossings import Crossings, crossings_of, own_water
from farmmap.plans.planting.fences.farm_lines import farm_boundary, farm_tracks
from farmmap.plans.planting.fences.flood_spans import flood_spans
from farmmap.plans.planting.fences.gates import APART_M, Gated, at_tracks, gated, posts_between, wanted_gates
from farmmap.plans.planting.fences.outer_edge import LEAST_GIVE_M, Corridor, corridors
from farmmap.plans.planting.fences.standing_fences import without_standing
from farmmap.plans.planting.fences.stock_water import Kept, kept_from_creeks, kept_from_grounds, troughs
from farmmap.plans.planting.fences.strains import split_evenly, strainers, turns_deg
from farmmap.plans.planting.fences.words import said_of
from farmmap.plans.planting.ground.stretch import CreekPart
from farmmap.plans.planting.plan import FenceLine
from farmmap.plans.planting.recipes.recipe import FenceWish

Floats = NDArray[np.float64]
Grounds = Mapping[int, shapely.Geometry]


@dataclass(frozen=True, eq=False)
class Fencing:
    """The fence of a planting, and what is to be said of it."""

    lines: tuple[FenceLine, ...]
    notes: tuple[str, ...]


MOST_LEAST_M = 5.0
"""Longer strains are built without more ado, however far apart posts stand; our own choice. [ground m]"""

_CREEKS: Remembered[list[Creek]] = Remembered(2)
_KEPT: Remembered[Kept] = Remembered(2)
_LAST: Remembered[Fencing] = Remembered(4)


def fencing(
    farm: Farm, part: CreekPart, grounds: Grounds, wish: FenceWish, heights: Heights | None, scale: float
) -> Fencing:
    """Work the fence of a planting out.

    It runs outside the ground by the set-back at least, and by set-back and
    give at most, straight between as few strainer posts as looking one strain
    ahead finds, and no strain longer than is wished.

    Parameters
    ----------
    farm : Farm
        The farm.
    part : CreekPart
        The stretch of creek.
    grounds : mapping of int to shapely geometry
        Ground of the planting beside each bank, 0 left and 1 right, on the grid.
    wish : FenceWish
        How it is to be built.
    heights : Heights or None
        Elevation grid, for the flood-prone spans.
    scale : float
        Grid metres for a metre of ground.

    Returns
    -------
    Fencing
        Lines with the planting to their left; the same for the same input. The last few answers are kept.
    """
    if not wish.wanted:
        return Fencing((), ())
    same = (farm.creeks, farm.fences, farm.tracks, farm.boundary, part.line, heights, *grounds.values())
    equal = (wish, scale, tuple(grounds), farm.settings.margin_m, farm.grid)  # troughs keep off other creeks' margins
    return _LAST.get(same, equal, lambda: _worked_out(farm, part, grounds, wish, heights, scale))


def _worked_out(
    farm: Farm, part: CreekPart, grounds: Grounds, wish: FenceWish, heights: Heights | None, scale: float
) -> Fencing:
    set_back, give = wish.set_back_m * scale, max(wish.give_m, LEAST_GIVE_M) * scale
    others = _other_creeks(farm, part)
    whole = {side: _over_creeks(ground, others) for side, ground in grounds.items()}
    found = corridors(whole, part.reaches, set_back, give, from_bank=wish.from_bank, ends=wish.ends)
    notes: list[str] = []
    found = without_standing(farm, found, set_back + give, scale, notes)
    crossed = shapely.MultiLineString([line for line, _ in others])
    own = own_water(part, 2 * (set_back + give), crossed)
    tracks, boundary, creeks = farm_tracks(farm), farm_boundary(farm), _creeks(farm)
    outlines = kept_from_grounds(grounds.values(), wish.water_off_m * scale)
    lines: list[FenceLine] = []
    crossings: list[Crossings] = []
    unseen, dry = 0.0, 0
    for corridor in found:
        corners = strainers(corridor.inner, corridor.outer, least_strain_m(wish) * scale, closed=corridor.closed)
        plain = shapely.LineString(corners)
        fence = _hung(corners, corridor, tracks, wish, scale)
        line = shapely.LineString(fence.posts)
        met = crossings_of(line, own, crossed, whole, max(reach.half for reach in part.reaches))
        crossings.append(met)
        lengths = np.hypot(*np.diff(fence.posts, axis=0).T) / scale
        posts_in = np.where(fence.openings, 0, posts_between(lengths, wish.post_m))
        bays = int((posts_in + 1)[~fence.openings].sum())
        flooded: shapely.Geometry = shapely.MultiLineString()
        if heights is not None and wish.flood_m > 0:
            back = _runs_back(corners, corridor, wish)
            flooded, unknown = flood_spans(farm, heights, line, wish.flood_m, back)
            unseen += unknown * (line.length - sum(back))
        mends = any(corridor.cut) and plain.length < wish.water_every_m * scale / 2  # others' troughs serve it
        water, without = troughs(
            plain,
            0.0 if mends else wish.water_every_m * scale,
            wish.water_off_m * scale,
            outlines,
            _KEPT.get((creeks,), (), lambda: kept_from_creeks([reach for creek in creeks for reach in creek.reaches])),
            boundary,
        )
        dry += without
        lines.append(
            FenceLine(
                side=corridor.side,
                line=line,
                length_m=float(lengths.sum()),
                strains_m=lengths,
                angles_deg=turns_deg(fence.posts),
                posts=int(posts_in.sum()),
                battens=bays * wish.battens,
                wire_m=float(lengths[~fence.openings].sum()) * wish.wires,
                gates=fence.middles,
                gate_m=wish.gate_m,
                troughs=water,
                flooded=flooded,
                flooded_m=float(flooded.length) / scale,
                floodgates=np.vstack([met.own, met.others]),
            )
        )
    if unseen > 0:
        notes.append(
            f"No heights are known under {unseen / scale:.0f} m of the fence; see there yourself whether floods "
            "reach it."
        )
    if dry:
        notes.append(
            f"{dry} {'trough' if dry == 1 else 'troughs'} found no place {wish.water_off_m:g} m outside the fence "
            f"on the farm and clear of creeks and their margins; place {'it' if dry == 1 else 'them'} yourself."
        )
    return Fencing(tuple(lines), (*notes, *said_of(lines, crossings, wish, part.creek.name, heights)))


def least_strain_m(wish: FenceWish) -> float:
    """Return the shortest strain that is built if it can be helped: from post to post, in ground metres."""
    return min(wish.post_m, MOST_LEAST_M)


def _creeks(farm: Farm) -> list[Creek]:
    return _CREEKS.get((farm.creeks,), (farm.settings.margin_m, farm.grid), lambda: creeks_of(farm))


def _other_creeks(farm: Farm, part: CreekPart) -> list[tuple[shapely.LineString, float]]:
    """Middle lines of the other creeks and half their channels."""
    return [
        (reach.line, reach.half) for creek in _creeks(farm) if creek.ids != part.creek.ids for reach in creek.reaches
    ]


def _over_creeks(ground: shapely.Geometry, others: list[tuple[shapely.LineString, float]]) -> shapely.Geometry:
    """Ground with the channels of other creeks that cross it filled in, so that the fence goes on across them."""
    if ground.is_empty or not others:
        return ground
    west, south, east, north = ground.bounds
    lines = np.array([line for line, _ in others], object)
    halves = np.array([half for _, half in others])
    bounds = shapely.bounds(lines)
    near = np.flatnonzero(
        (bounds[:, 0] - halves <= east)
        & (bounds[:, 2] + halves >= west)
        & (bounds[:, 1] - halves <= north)
        & (bounds[:, 3] + halves >= south)
    )
    filled = [ground]
    for line, half in zip(lines[near], halves[near], strict=True):
        if half > 0 and shapely.dwithin(ground, line, half + 0.05):
            reach = half + 0.05
            around = shapely.intersection(ground, shapely.buffer(line, 2 * reach + 1))
            closed = shapely.buffer(shapely.buffer(around, reach, join_style="mitre"), -reach, join_style="mitre")
            filled.append(shapely.intersection(closed, shapely.buffer(line, reach)))
    return united(filled) if len(filled) > 1 else ground


def _returns(corridor: Corridor, wish: FenceWish) -> tuple[bool, bool]:
    """Whether the first and the last run of a fence go back to the bank."""
    begins, ends = corridor.cut
    returns = wish.ends and not corridor.closed
    return returns and not begins, returns and not ends


def _runs_back(corners: Floats, corridor: Corridor, wish: FenceWish) -> tuple[float, float]:
    """Length of the runs that go back to the bank, 0 where none does; on the grid."""
    lengths = np.hypot(*np.diff(corners, axis=0).T)
    begins, ends = _returns(corridor, wish)
    return float(lengths[0]) if begins else 0.0, float(lengths[-1]) if ends else 0.0


def _hung(corners: Floats, corridor: Corridor, tracks: shapely.Geometry | None, wish: FenceWish, scale: float) -> Gated:
    """Return a fence with its gates, and strainers between these and the corners where a strain would be too long.

    A short piece that joins a fence that stands gets a gate only at a track; between two, it is nothing but a gate if
    it is no longer than one.
    """
    line = shapely.LineString(corners)
    gate = wish.gate_m * scale
    if any(corridor.cut) and line.length < APART_M * scale:
        if all(corridor.cut) and len(corners) == 2 and line.length <= gate:
            return Gated(corners, np.array([True]))
        wanted = at_tracks(line, tracks, scale)
    else:
        wanted = wanted_gates(line, tracks, wish.gates_every_m * scale, _returns(corridor, wish), scale)
    fence = gated(corners, wanted, gate, APART_M * scale, least_strain_m(wish) * scale)
    posts, owner = split_evenly(fence.posts, wish.strain_most_m * scale, fence.openings)
    return Gated(posts, fence.openings[owner])
