"""Invented forests whose figures are known, and middles of plots drawn on them by the thousand."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import shapely
from shapely import Polygon, box

from farmmap.figures.sampling.tally import Tally, tally
from farmmap.figures.sampling.zones import PlotShape, counted_stem_per_ha, per_ha_of
from farmmap.figures.stand import basal_area_m2
from farmmap.plans.sampling.drawing import uniform_points

DRAWS = 2_000

SQUARE = box(0, 0, 200, 200)
LONG = box(0, 0, 500, 60)
NECK = Polygon([(0, 0), (140, 0), (140, 60), (170, 62), (170, 0), (300, 0), (300, 150), (170, 150), (170, 78), (140, 80),
                (140, 150), (0, 150)])  # fmt: skip
"""Two parts of a block joined by a neck 16 to 20 m wide."""


@dataclass(frozen=True, eq=False)
class Forest:
    """Trees on a region."""

    region: shapely.Geometry
    trees: np.ndarray
    dbh_cm: np.ndarray

    @property
    def stems(self) -> float:
        return len(self.trees) / self.region.area * 1e4

    @property
    def basal_area(self) -> float:
        return float(basal_area_m2(self.dbh_cm).sum()) / self.region.area * 1e4


@cache
def forest(kind: str, region: str) -> Forest:
    """Return a clustered, regular or graded forest, denser and thicker at the edge than inside."""
    random = np.random.default_rng([len(kind), len(region), 5])
    ground = {"square": SQUARE, "long": LONG, "neck": NECK}[region]
    west, south, east, north = ground.bounds
    match kind:
        case "clustered":
            parents = random.uniform((west - 10, south - 10), (east + 10, north + 10), (900, 2))
            trees = (parents[:, None] + random.normal(0, 4.0, (900, 3, 2))).reshape(-1, 2)
        case "regular":
            x, y = np.meshgrid(np.arange(west, east, 4.0) + 2, np.arange(south, north, 5.0) + 2)
            trees = np.stack([x.ravel(), y.ravel()], -1) + random.uniform(-0.6, 0.6, (x.size, 2))
        case _:
            trees = random.uniform((west, south), (east, north), (6000, 2))
            trees = trees[random.random(6000) < 0.1 + 0.5 * (trees[:, 0] - west) / (east - west)]
    trees = trees[shapely.contains_xy(ground, trees[:, 0], trees[:, 1])]
    edge = shapely.distance(shapely.boundary(ground), shapely.points(trees))
    dbh = random.gamma(16, 2.0, len(trees)) + 12 * np.exp(-edge / 6)  # thicker at the edge, so that a bias shows
    return Forest(ground, trees, dbh)


def values(there: Forest, shape: PlotShape, count: Tally, plots: int) -> tuple[np.ndarray, np.ndarray]:
    """Stems and basal area a hectare that each plot gives."""
    dbh = there.dbh_cm[count.tree]
    each = counted_stem_per_ha(dbh, shape.baf_m2) if shape.kind == "angle count" else per_ha_of(shape.area_m2)
    each = np.broadcast_to(each, dbh.shape) * count.weight
    return np.bincount(count.plot, each, plots), np.bincount(count.plot, each * basal_area_m2(dbh), plots)


def draws(there: Forest, shape: PlotShape, n: int, edge: str, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Stems and basal area a hectare of n plots drawn at random, DRAWS times. Shape (DRAWS, n) each."""
    middles = uniform_points(there.region, DRAWS * n, np.random.default_rng(seed))
    count = tally(middles, there.trees, there.dbh_cm, shape, region=there.region, edge=edge)
    stems, basal = values(there, shape, count, len(middles))
    return stems.reshape(DRAWS, n), basal.reshape(DRAWS, n)
