"""A planting as worked out: ground, plants and fence. Plain values, the same for the same input."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.recipes.recipe import Kin, Recipe

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Strip:
    """Ground of one zone along one bank.

    Attributes
    ----------
    side : int
        0 for the left bank, 1 for the right, looking downstream.
    zone : int
        Place of the zone in the recipe.
    outline : shapely Polygon or MultiPolygon
        All of it, on the farm's grid.
    clear : shapely Polygon or MultiPolygon
        What is left of it to plant once the set-backs are taken out.
    area_m2, clear_m2 : float
        Their ground areas on the ellipsoid. [m2]
    """

    side: int
    zone: int
    outline: shapely.Geometry
    clear: shapely.Geometry
    area_m2: float
    clear_m2: float


@dataclass(frozen=True, eq=False)
class Plants:
    """Where plants stand: strip by strip, row by row.

    Attributes
    ----------
    x, y : ndarray of float, shape (n,)
        Places on the farm's grid. [grid m]
    strip : ndarray of int, shape (n,)
        Place of its strip in `PlantingPlan.strips`.
    kin : ndarray of int, shape (n,)
        Place of its kind in `PlantingPlan.kinds`.
    row : ndarray of int, shape (n,)
        Number of its row within the strip, from 0; -1 where there are none.
    """

    x: Floats
    y: Floats
    strip: Ints
    kin: Ints
    row: Ints

    def __len__(self) -> int:
        """Return the number of plants."""
        return len(self.x)


@dataclass(frozen=True, eq=False)
class FenceLine:
    """One unbroken fence to be built, straight from strainer post to strainer post.

    Attributes
    ----------
    side : int
        0 for the left bank, 1 for the right.
    line : LineString
        Its run, a corner at each strainer post (those that gates hang on too), on the farm's grid.
    length_m : float
        Ground length, gates included. [m]
    strains_m : ndarray of float, shape (n,)
        Ground length from each strainer post to the next, openings of gates among them. [m]
    angles_deg : ndarray of float, shape (n + 1,)
        How much the fence turns at each strainer; 0 at its ends. [degrees]
    posts : int
        Posts between the strainers.
    battens : int
        Battens between posts.
    wire_m : float
        Wire, all wires together. [m]
    gates : ndarray of float, shape (g, 2)
        Middle of each gate, on the grid.
    gate_m : float
        Width of a gate. [m]
    troughs : ndarray of float, shape (t, 2)
        Where stock are given water, on the grid.
    flooded : MultiLineString or LineString
        Spans that a flood may reach; empty if none, or not looked at.
    flooded_m : float
        Their ground length. [m]
    floodgates : ndarray of float, shape (f, 2)
        Where it crosses a creek, its own among them, on the grid.
    """

    side: int
    line: shapely.LineString
    length_m: float
    strains_m: Floats
    angles_deg: Floats
    posts: int
    battens: int
    wire_m: float
    gates: Floats
    gate_m: float
    troughs: Floats
    flooded: shapely.Geometry
    flooded_m: float
    floodgates: Floats = field(default_factory=lambda: np.zeros((0, 2)))


@dataclass(frozen=True, eq=False)
class PlantingPlan:
    """A planting along a stretch of creek.

    Attributes
    ----------
    name : str
        What the grower calls it.
    stretch : Stretch
        Where it lies, with from and to filled in.
    recipe : Recipe
        What was asked for.
    scale : float
        Grid metres for a metre of ground.
    kinds : tuple of (int, Kin)
        The zone of each kind of plant in the recipe's order, and the kind.
    strips : tuple of Strip
        Left bank first, from the water outwards.
    plants : Plants
        What is planted where.
    fences : tuple of FenceLine
        What is to be fenced.
    banks : mapping of int to shapely geometry
        Bank line of each side within the stretch, on the grid.
    margin_length_m : float
        Length of bank, both sides together, on the ground. [m]
    area_m2 : float
        Ground of all strips. [m2]
    margin_m2 : float
        Ground of the margin, that beyond its last zone included. [m2]
    notes : tuple of str
        What the grower should know or check, cautions first.
    """

    name: str
    stretch: Stretch
    recipe: Recipe
    scale: float
    kinds: tuple[tuple[int, Kin], ...]
    strips: tuple[Strip, ...]
    plants: Plants
    fences: tuple[FenceLine, ...]
    banks: Mapping[int, shapely.Geometry]
    margin_length_m: float
    area_m2: float
    margin_m2: float
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class PlanSketch(PlantingPlan):
    """A planting before its plants have places: its ground, no plants and no fence, and about what it will hold.

    The set-back from its own fence is not taken out of its strips, and areas are by the grid's scale at the creek.

    Attributes
    ----------
    about : ndarray of int, shape (kinds,)
        About how many plants of each kind it will hold: ground by plants for a square metre far from edges.
    """

    about: Ints
