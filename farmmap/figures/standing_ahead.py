"""The trees that stand on a day that has not come yet, grown on to their forecast sizes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.figures.stand import basal_area_m2
from farmmap.figures.standing import BASAL_UNIT_M2, Standing, crowns_of_stems_m

if TYPE_CHECKING:  # heavy to import: most days have come
    from farmmap.figures.growth.farm_growth import FarmGrowth

_GROWTH: Remembered[FarmGrowth] = Remembered(3)

GROWTH_READS = ("species", "planted", "stage", "stock")
"""Columns of trees that their growth rests on."""


def growth_for(farm: Farm) -> FarmGrowth:
    """Return how the farm's species and trees grow, worked out once for the same trees and readings."""
    from farmmap.figures.growth.farm_growth import growth_of  # noqa: PLC0415 - heavy

    return _GROWTH.get(*_key(farm), lambda: growth_of(farm))


def is_growth_at_hand(farm: Farm) -> bool:
    """Whether `growth_for` answers at once."""
    return _GROWTH.find(*_key(farm)) is not None


def keep_growth(before: Farm, after: Farm, edit: Edit) -> None:
    """Keep how trees grow over an edit that changes nothing it rests on, such as marks or places of trees.

    Parameters
    ----------
    before, after : Farm
        The farm before and after.
    edit : Edit
        What was changed.
    """
    change = edit.changes.get("trees")
    if change is None or {"measurements", "species"} & set(edit.changes) or edit.settings is not None:
        return
    growth = _GROWTH.find(*_key(before))
    if growth is None or _GROWTH.find(*_key(after)) is not None or not change.before.index.equals(change.after.index):
        return
    if all(change.before[name].equals(change.after[name]) for name in GROWTH_READS):
        _GROWTH.put(*_key(after), growth)


def _key(farm: Farm) -> tuple[tuple[object, ...], tuple[object, ...]]:
    return (farm.trees, farm.measurements, farm.species), (farm.settings.breast_height_m,)


def grown_on(farm: Farm, there: Standing) -> Standing:
    """Return trees with the sizes that are forecast for their day.

    Diameters are those of `farmmap.figures.growth.forecasts.forecast`. A crown
    that was measured widens by as much as the species' figures give for what
    the stem gains, so it goes on from where it was; one that was estimated
    stays the one that goes with the stem. Heights and pruned heights stay as
    measured, but the height of a tree whose stem had not been measured is that
    of a plant and is left out. A tree of which there is not enough to say stays as it was.

    Parameters
    ----------
    farm : Farm
        The farm.
    there : Standing
        Its trees as last known, on the day that is forecast.
    """
    from farmmap.figures.growth.forecasts import forecast_from  # noqa: PLC0415 - heavy

    found = forecast_from(growth_for(farm), there.on, there.ids)
    grown = found.forecast & np.isfinite(found.dbh_cm)
    diameters = np.where(grown & (there.diameters == 0), there.stems, there.diameters)
    basal = np.where(grown, basal_area_m2(found.dbh_cm) * diameters, there.basal_area_m2)
    free_before = crowns_of_stems_m(there, farm.species)
    free = crowns_of_stems_m(there, farm.species, basal)
    widened = there.crown_m + np.maximum(np.nan_to_num(free - free_before), 0.0)
    by_stem = there.crown_estimated | ~(there.crown_m > 0)
    crown = np.where(grown, np.where(by_stem, free, widened), there.crown_m)
    measured = there.measured | grown
    return replace(
        there,
        dbh_cm=np.where(grown, found.dbh_cm, there.dbh_cm),
        height_m=np.where(grown & ~there.measured, np.nan, there.height_m),
        basal_area_m2=basal,
        basal_units=np.rint(np.where(measured, basal, 0.0) / BASAL_UNIT_M2).astype(np.int64),
        diameters=diameters,
        crown_m=crown,
        crown_estimated=there.crown_estimated | grown,
        measured=measured,
        measured_on=np.where(grown, np.datetime64("NaT", "D"), there.measured_on),
        age_measured_years=np.where(grown, there.age_years, there.age_measured_years),
        grown=grown,
        forecast=True,
    )
