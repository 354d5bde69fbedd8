"""Where a block is forecast to stand in the density diagram in years to come."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import members_of
from farmmap.figures.grounds import grounds
from farmmap.figures.room.density import spacing_m
from farmmap.figures.room.diagram import Stand
from farmmap.figures.stand import dbh_from_basal_area_cm
from farmmap.figures.standing import Standing, is_ahead, newest_day, standing
from farmmap.figures.standing_ahead import grown_on
from farmmap.figures.stocking import Stocking

YEARS_ON = (5, 10, 15, 20, 30, 40)
"""So many years after the day that is shown. [years]"""


def forecast_path(farm: Farm, block: int, on: dt.date | None = None) -> tuple[Stand, ...]:
    """Return the stocking and mean diameter of a block in years to come, if nothing dies or is felled.

    Rests on the trees for which there is enough to say; the others stay as they are.

    Parameters
    ----------
    farm : Farm
        The farm.
    block : int
        Id of an existing block.
    on : date or None
        The day from which it runs on; None for the day of the newest measurement.

    Returns
    -------
    tuple of Stand
        Empty for a block without a diameter.
    """
    day = on or newest_day(farm)
    there, ground = standing(farm, newest_day(farm) if is_ahead(farm, day) else day), grounds(farm)
    area = float(ground.net_ha[int(ground.ids.searchsorted(block))])
    own = there.some(Stocking(there, members_of(farm), np.array([block])).trees)
    if not own.measured.any() or not area > 0:
        return ()
    days = [dt.date(min(day.year + years, dt.MAXYEAR), day.month, min(day.day, 28)) for years in YEARS_ON]
    return tuple(_stand(grown_on(farm, replace(own, on=later)), area) for later in days)


def _stand(there: Standing, area_ha: float) -> Stand:
    stems = there.diameters.sum()
    qmd = float(dbh_from_basal_area_cm(np.nansum(there.basal_area_m2) / stems))
    crowns = there.crown_m[there.crown_m > 0]
    part = float(crowns.mean() / spacing_m(len(there) / area_ha)) if len(crowns) else math.nan
    return Stand(qmd, float(stems) / area_ha, str(there.on.year), forecast=there.forecast, crown_to_spacing=part)


def crowns_meet(now: float, path: Sequence[Stand]) -> float | None:
    """Return the year in which the mean crown of a block becomes as wide as the mean spacing of its trees.

    Parameters
    ----------
    now : float
        Mean crown over mean spacing on the day from which the path runs on.
    path : sequence of Stand
        As `forecast_path` gives it; between its years the share is taken to rise evenly.

    Returns
    -------
    float or None
        None if they are as wide already, do not become so within the path, or it is not known.
    """
    if not path or not now < 1:
        return None
    start = int(path[0].words) - YEARS_ON[0]
    years, shares = [start, *(int(one.words) for one in path)], [now, *(one.crown_to_spacing for one in path)]
    for at in range(1, len(years)):
        if shares[at] >= 1:
            return years[at - 1] + (years[at] - years[at - 1]) * (1 - shares[at - 1]) / (shares[at] - shares[at - 1])
    return None
