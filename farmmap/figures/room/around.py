"""One tree and those around it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_of_each_tree, members_of, tree_index
from farmmap.figures.grounds import grounds
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.room.blocks import mapped_ground
from farmmap.figures.room.indices import Indices, hegyi_part, indices, usual_reach_m
from farmmap.figures.room.space import space_of_one
from farmmap.figures.standing import Standing, crowns_of_stems_m

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

LOOK_M = 45.0
"""Trees up to this far are looked at: the widest reach, or half of two very wide crowns. [m]"""

CIRCLE_SEGS = 32
"""Corners of a quarter circle of a crown."""


@dataclass(frozen=True)
class Neighbour:
    """A tree on the plan of a neighbourhood.

    Attributes
    ----------
    id : int
        Its id.
    tag, code : str
        Its tag, and the code of its species.
    east_m, north_m : float
        Where it stands, from the tree in the middle. [m of ground]
    crown_m, dbh_cm : float
        Crown and stem diameter, nan where not known. [m, cm]
    """

    id: int
    tag: str
    code: str
    east_m: float
    north_m: float
    crown_m: float
    dbh_cm: float


class Surroundings:
    """One tree and those around it, in metres of ground from it.

    Parameters
    ----------
    farm : Farm
        The farm.
    there : Standing
        Trees that count on the day.
    place : int
        Place of the tree among them.

    Attributes
    ----------
    near : Standing
        The trees around, itself among them.
    own : int
        Its place among those.
    east, north, apart : ndarray, shape (n,)
        Where they stand from it, and how far. [m]
    reach_m : float
        How far neighbours press on it. [m]
    parts : ndarray, shape (n,)
        What each adds to its Hegyi index; 0 for those beyond reach or not measured. [1/m]
    """

    def __init__(self, farm: Farm, there: Standing, place: int) -> None:
        self._farm, self._there, self._place = farm, there, place
        x, y = float(there.x[place]), float(there.y[place])
        self._scale = scale = farm.grid.scale(x, y)
        wide = LOOK_M * scale
        rows = np.sort(tree_index(farm).in_box(x - wide, y - wide, x + wide, y + wide))
        near = np.unique(np.append(there.at_row(rows), place))
        self.near = there.some(near[near >= 0])
        self.own = int(np.searchsorted(self.near.ids, there.ids[place]))
        self.east, self.north = (self.near.x - x) / scale, (self.near.y - y) / scale
        self.apart = np.hypot(self.east, self.north)
        self.reach_m = usual_reach_m(self.near.crown_m)
        dbh = np.where(self.near.dbh_cm > 0, self.near.dbh_cm, np.nan)
        parts = hegyi_part(dbh[self.own], dbh, self.apart)
        self.parts = np.where((self.apart <= self.reach_m) & np.isfinite(parts), parts, 0.0)
        self.parts[self.own] = 0.0

    def strongest(self) -> list[int]:
        """Places of the competitors, the strongest first, the nearer of equals before."""
        order = np.lexsort((self.apart, -self.parts))
        return order[self.parts[order] > 0].tolist()

    @cached_property
    def unmeasured(self) -> int:
        """Trees within reach that have no diameter and so add nothing."""
        near = (self.apart <= self.reach_m) & ~(self.near.dbh_cm > 0)
        near[self.own] = False
        return int(near.sum())

    def bearing_deg(self, one: int) -> float | None:
        """Bearing to a neighbour from true north (from the grid's on a local one), None at the same place."""
        if not self.apart[one]:
            return None
        turn = (
            0.0
            if self._farm.grid.local
            else self._farm.grid.convergence_deg(self.near.x[self.own], self.near.y[self.own])
        )
        return (math.degrees(math.atan2(self.east[one], self.north[one])) + turn) % 360.0

    def plan(self, tags: list[str]) -> tuple[Neighbour, ...]:
        """Return the tree itself and whoever stands within reach or touches its crown, the nearest first."""
        wide = np.nan_to_num(self.near.crown_m) / 2
        seen = (self.apart <= self.reach_m) | (self.apart < wide + wide[self.own])
        order = np.lexsort((self.near.ids, self.apart, np.arange(len(wide)) != self.own))
        return tuple(
            Neighbour(
                int(self.near.ids[one]),
                tags[one],
                self.near.species_names[int(self.near.species[one])],
                float(self.east[one]),
                float(self.north[one]),
                float(self.near.crown_m[one]),
                float(self.near.dbh_cm[one]),
            )
            for one in order[seen[order]].tolist()
        )

    @cached_property
    def corrected(self) -> Indices:
        """Indices of the tree, corrected for the edge of the mapped ground."""
        free = crowns_of_stems_m(self.near, self._farm.species)
        return indices(
            self.near,
            free,
            scale=self._scale,
            chosen=np.array([self.own]),
            reach_m=self.reach_m,
            ground=mapped_ground(self._farm),
        )

    @cached_property
    def beyond_percent(self) -> float:
        """Share of the circle that was looked at that lies beyond all blocks, in percent."""
        x, y = float(self.near.x[self.own]), float(self.near.y[self.own])
        circle = shapely.Point(x, y).buffer(self.reach_m * self._scale, CIRCLE_SEGS)
        return 100.0 * (1.0 - float(shapely.intersection(circle, mapped_ground(self._farm)).area / circle.area))

    @cached_property
    def _block(self) -> tuple[Places, shapely.Geometry] | None:
        """Trees of its block, as places among all, and the block's net ground; None if it stands in none."""
        farm, there = self._farm, self._there
        block = int(block_of_each_tree(farm)[there.places[self._place]])
        if block == NO_BLOCK:
            return None
        ground = grounds(farm)
        trees = there.at_row(members_of(farm).trees_of(block))
        return np.sort(trees[trees >= 0]), ground.net[int(ground.ids.searchsorted(block))]

    def space_m2(self, without: int | None = None) -> float | None:
        """Growing space of the tree, with or without one neighbour; None if it stands in no block, in m²."""
        if self._block is None:
            return None
        trees, net = self._block
        if without is not None:
            trees = trees[self._there.ids[trees] != self.near.ids[without]]
        own = int(np.searchsorted(trees, self._place))
        return space_of_one(self._there.x[trees], self._there.y[trees], own, net) / self._scale**2

    @cached_property
    def _crowns(self) -> NDArray[np.object_]:
        """Circles of the crowns that overlap its own; None for all others."""
        radius = np.nan_to_num(self.near.crown_m) / 2
        met = (radius > 0) & (self.apart < radius + radius[self.own])
        out = np.full(len(radius), None, object)
        out[met] = shapely.buffer(shapely.points(self.east[met], self.north[met]), radius[met], quad_segs=CIRCLE_SEGS)
        return out

    def crown_freed(self, one: int) -> tuple[float, float] | None:
        """Part of its crown that only one neighbour's crown overlaps [m², %]; None if either crown is not known."""
        if not (self.near.crown_m[self.own] > 0 and self.near.crown_m[one] > 0):
            return None
        crowns = self._crowns
        if crowns[one] is None:
            return 0.0, 0.0
        others = np.ones(len(crowns), bool)
        others[[one, self.own]] = False
        shared = shapely.intersection(crowns[self.own], crowns[one])
        left = shapely.difference(shared, shapely.union_all(crowns[others]))
        return float(left.area), 100.0 * float(left.area / crowns[self.own].area)
