"""How much of the farm's creek margins will lie under crowns once plantings have grown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import crown_map
from farmmap.figures.canopy import covered_area
from farmmap.figures.margins import Margin, margins
from farmmap.figures.standing import standing
from farmmap.plans.planting.outcome.growth import Kinds, sizes_of_kinds
from farmmap.plans.planting.plan import PlantingPlan

Floats = NDArray[np.float64]


def margin_covers(
    farm: Farm, on: dt.date, plantings: Sequence[tuple[PlantingPlan, Kinds]], years: Sequence[float]
) -> Floats:
    """Return the cover of every creek margin with some plantings upon it.

    As for the cover of margins today only trees and shrubs count, each spot
    once. Every plant is taken to live, and crowns that stand today stay as
    they are.

    Parameters
    ----------
    farm : Farm
        The farm without the plantings, for its margins and the crowns that stand there.
    on : date
        The day on which those crowns stand.
    plantings : sequence of (PlantingPlan, Kinds)
        Each planting, and what is known of the growth of its kinds of plants.
    years : sequence of float
        Years since planting; below 0 for before.

    Returns
    -------
    ndarray, shape (margins, years)
        In the order of `farmmap.figures.margins.margins`. [%]
    """
    crowns = crown_map(standing(farm, on))
    drawn = margins(farm)
    out = np.zeros((len(drawn), len(years)))
    plants = [_woody(plan, kinds, years) for plan, kinds in plantings]
    for place, margin in enumerate(drawn):
        if margin.polygon.area <= 0:
            continue
        out[place] = 100.0 * crowns.over(margin.polygon, margin.scale)[0]
        near = [_reaching(margin, *of) for of in plants]
        if not any(len(x) for x, _, _ in near):
            continue
        there = crowns.reaching(margin.polygon, margin.scale)
        x = np.concatenate([crowns.x[there], *(one[0] for one in near)])
        y = np.concatenate([crowns.y[there], *(one[1] for one in near)])
        radius = np.concatenate([
            np.repeat(crowns.radius[there, None] * margin.scale, len(years), axis=1), *(one[2] for one in near)
        ])  # fmt: skip
        for year in range(len(years)):
            if any(one[2][:, year].any() for one in near):
                out[place, year] = 100.0 * covered_area(x, y, radius[:, year], margin.polygon) / margin.polygon.area
    return np.clip(out, 0.0, 100.0)


def _woody(plan: PlantingPlan, kinds: Kinds, years: Sequence[float]) -> tuple[Floats, Floats, Floats]:
    """Trees and shrubs of a planting: their places, and the radius of each in each year, shape (n, years). [grid m]."""
    sizes = sizes_of_kinds(plan, kinds, years)
    kept = np.flatnonzero(~sizes.low[plan.plants.kin])
    radius = sizes.crown_m[plan.plants.kin[kept]] * (plan.scale / 2)
    return plan.plants.x[kept], plan.plants.y[kept], radius


def _reaching(margin: Margin, x: Floats, y: Floats, radius: Floats) -> tuple[Floats, Floats, Floats]:
    """Those plants whose crowns will reach a margin in one of the years."""
    widest = float(radius.max(initial=0.0))
    near = shapely.contains_xy(shapely.buffer(margin.polygon, widest), x, y)
    return x[near], y[near], radius[near]
