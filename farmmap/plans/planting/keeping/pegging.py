"""Plants in the order in which they are pegged out: bank by bank, zone by zone, up one row and down the next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import SIDES
from farmmap.files.waypoints import lon_lat
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.kinds import plant_kinds

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

LANE_M = 6.0
"""Where plants stand in no rows, they are walked to across the margin, a lane so wide after the other. [ground m]"""


@dataclass(frozen=True, eq=False)
class Pegging:
    """Plants in walking order; the first is number 1.

    Attributes
    ----------
    x, y : ndarray of float, shape (n,)
        On the farm's grid. [grid m]
    lon, lat : ndarray of float, shape (n,)
        On WGS 84; nan on a local grid. [degrees]
    row : ndarray of int, shape (n,)
        Row within zone and bank from 1, 0 where there are none.
    lot : ndarray of int, shape (n,)
        Place in ``lots``.
    lots : tuple of Lot
        What is the same for many plants.
    """

    x: Floats
    y: Floats
    lon: Floats
    lat: Floats
    row: Ints
    lot: Ints
    lots: tuple[Lot, ...]

    def __len__(self) -> int:
        """Return the number of plants."""
        return len(self.x)


@dataclass(frozen=True)
class Lot:
    """Plants of one kind in one zone on one bank.

    Attributes
    ----------
    bank, zone, code, name, stock : str
        ``left`` or ``right``, name of the zone, short code and trade name of the species, and its stock.
    """

    bank: str
    zone: str
    code: str
    name: str
    stock: str


def pegging(plan: PlantingPlan, farm: Farm) -> Pegging:
    """Return the plants of a planting in walking order.

    Rows follow each other from the water outwards, every other one the other
    way. Plants that stand in no rows are walked to in lanes across the margin,
    downstream.

    Parameters
    ----------
    plan : PlantingPlan
        The planting.
    farm : Farm
        The farm, for its grid and the names of its species.
    """
    plants = plan.plants
    order = _walk(plan)
    x, y = plants.x[order], plants.y[order]
    strip, kin, row = plants.strip[order], plants.kin[order], plants.row[order]
    pairs, lot = np.unique(np.column_stack([strip, kin]).reshape(-1, 2), axis=0, return_inverse=True)
    kinds = plant_kinds(farm, plan.recipe)
    lots: list[Lot] = []
    for at, which in pairs.tolist():
        found, one = plan.strips[at], plan.kinds[which][1]
        kind = kinds.find(one.species)
        code, name = (one.species, "") if kind is None else (kind.code, kind.name)
        lots.append(Lot(SIDES[found.side], plan.recipe.zones[found.zone].name, code, name, one.stock))
    lon, lat = lon_lat(farm.grid, x, y)
    return Pegging(x, y, lon, lat, row + 1, np.asarray(lot, np.intp).reshape(-1), tuple(lots))


def _walk(plan: PlantingPlan) -> Ints:
    """Places of the plants in walking order."""
    plants = plan.plants
    count = len(plants)
    side = np.array([strip.side for strip in plan.strips], np.intp)[plants.strip] if count else np.zeros(0, np.intp)
    along = np.arange(count, dtype=np.float64)
    lane = plants.row.astype(np.float64)
    for one in np.unique(side[plants.row < 0]):
        loose = np.flatnonzero((plants.row < 0) & (side == one))
        down, off = _beside(plan.banks[int(one)], plants.x[loose], plants.y[loose])
        lane[loose], along[loose] = np.floor(down / (LANE_M * plan.scale)), off
    turned = np.where(lane % 2 == 1, -along, along)
    return np.lexsort((turned, lane, plants.strip, side))


def _beside(bank: shapely.Geometry, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """How far along a bank places lie, by the nearest of points a metre or so apart along it, and how far off it."""
    from scipy.spatial import cKDTree  # noqa: PLC0415

    lines = shapely.get_parts(bank)
    lines = lines[shapely.get_type_id(lines) == shapely.GeometryType.LINESTRING]
    if not len(lines):
        return np.zeros(len(x)), np.asarray(x, np.float64)
    corners, line = shapely.get_coordinates(shapely.segmentize(lines, 1.0), return_index=True)
    steps = np.hypot(*np.diff(corners, axis=0).T)
    steps[np.diff(line) != 0] = 0.0
    off, nearest = cKDTree(corners).query(np.column_stack([x, y]))
    return np.append(0.0, np.cumsum(steps))[nearest], off
