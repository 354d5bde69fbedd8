"""Which trees are cut when, at which size: by five-year period, species and block.

A tree marked to be taken out, or as thick as its target, is cut in the first
period at its size of today. Any other is cut in the period in which its
forecast reaches the target, at the size that is forecast for the middle of that
period. Where no target is set, or growth is not known well enough, no year is
made up: such trees are counted apart.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.dates import DAYS_A_YEAR
from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of
from farmmap.figures.growth.forecasts import forecast
from farmmap.figures.growth.outlook import Outlook, State, outlook_day, outlook_of
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import newest_day
from farmmap.plans.harvest.product_list import ProductList, product_list
from farmmap.plans.harvest.stems import Stems
from farmmap.plans.harvest.tally import Sized, Tally, tallied
from farmmap.plans.harvest.timber import Timber, timber_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.intp]

PERIOD_YEARS = 5
PERIODS = 12
"""Periods for which harvests are told: 60 years; what comes later is counted, no more."""

LATER, NOT_ENOUGH, NO_TARGET = PERIODS, PERIODS + 1, PERIODS + 2
"""In place of a period: after the last of them, not enough to say, and no target diameter."""

PERIOD, BLOCK, SPECIES = 0, 1, 2
"""Columns of the keys of `Harvest.tally`."""


@dataclass(frozen=True, eq=False)
class Harvest:
    """What a farm's trees give, period by period.

    Attributes
    ----------
    on : date
        The day from which it is looked ahead.
    timber : Timber
        The standing trees.
    listed : ProductList
        What they are cut into.
    tally : Tally
        Sums by period, block (id, -1 for none) and species (place in ``timber.there.species_names``).
    marked : ndarray of bool, shape (n,)
        Trees that are cut because they are marked to be taken out.
    """

    on: dt.date
    timber: Timber
    listed: ProductList
    tally: Tally
    marked: NDArray[np.bool_]

    def years_to_middle(self, period: int) -> float:
        """Return the years from the day to the middle of a period, at least 0."""
        return max(0.0, self.on.year + PERIOD_YEARS * (period + 0.5) - _year_of(self.on))

    def words(self, period: int) -> str:
        """Return a period in words: ``2026 to 2030``."""
        first = self.on.year + PERIOD_YEARS * period
        return {
            LATER: f"after {first - 1}",
            NOT_ENOUGH: "not enough to say",
            NO_TARGET: "no target set",
        }.get(period, f"{first} to {first + PERIOD_YEARS - 1}")


_HARVESTS: Remembered[Harvest] = Remembered(3)
_STANDING: Remembered[Tally] = Remembered(3)


def harvest_of(farm: Farm, on: dt.date | None = None) -> Harvest:
    """Return what a farm's trees give by five-year period, species and block; the last few answers are kept.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day from which it is looked ahead; None for the day of the newest measurement. One still to come counts
        as today, so that the trees start from what was measured.
    """
    day = outlook_day(farm, on)
    timber, listed = timber_of(farm, day), product_list(farm)
    same = (timber, farm.tables["targets"])
    found = _HARVESTS.get(same, (day, listed.cut_alike), lambda: _harvest(farm, timber, listed, outlook_of(farm, day)))
    return replace(found, listed=listed)  # at the prices of now


def standing_tally(farm: Farm, on: dt.date | None = None) -> Tally:
    """Return what the trees would give if all were cut on a day, by block and species (0, block, species)."""
    timber, listed = timber_of(farm, on), product_list(farm)
    return _STANDING.get((timber,), (listed.cut_alike,), lambda: _standing(farm, timber, listed))


def _standing(farm: Farm, timber: Timber, listed: ProductList) -> Tally:
    rows = np.arange(len(timber.there))
    keys = np.column_stack([np.zeros(len(rows), np.int64), timber.block, timber.there.species])
    volume = timber.stems.volume_m3
    low, high = _grown_bounds(farm, timber) if timber.there.forecast else (volume, volume)
    return tallied(timber, Sized(rows, timber.stems, low, high), keys, listed)


def _grown_bounds(farm: Farm, timber: Timber) -> tuple[Floats, Floats]:
    """Stem volumes at the low and the high end of forecast sizes; of a tree left at its size those it has, in m³."""
    there, last = timber.there, timber_of(farm, newest_day(farm))
    rows = np.flatnonzero(there.grown & np.isfinite(timber.stems.volume_m3))
    found = forecast(farm, there.on, there.ids[rows])
    at = _places_in(last.there.ids, there.ids[rows])
    bounds = []
    for edge_cm in (found.low_cm, found.high_cm):
        volume = timber.stems.volume_m3.copy()
        volume[rows] = last.at_size(at, edge_cm).volume_m3
        bounds.append(volume)
    return bounds[0], bounds[1]


def _harvest(farm: Farm, timber: Timber, listed: ProductList, outlook: Outlook) -> Harvest:
    marked = np.asarray(columns_of(farm.trees)["mark"] == "take", bool)[timber.there.places]
    period = _periods(timber, outlook, marked)
    sized = _sized(timber, outlook, period, marked)
    keys = np.column_stack([period[sized.rows], timber.block[sized.rows], timber.there.species[sized.rows]])
    tally = tallied(timber, sized, keys, listed)
    return Harvest(outlook.on, timber, listed, tally, marked)


def _periods(timber: Timber, outlook: Outlook, marked: NDArray[np.bool_]) -> Ints:
    """Period in which each tree is cut, or what is said in its place."""
    at = _places_in(outlook.taken.ids, timber.there.ids)
    state = np.where(at >= 0, outlook.state[at] if len(outlook) else 0, State.NOT_ENOUGH)
    year = outlook.year[at] if len(outlook) else np.full(len(at), np.nan)
    with np.errstate(invalid="ignore"):
        ahead = np.floor((year - outlook.on.year) / PERIOD_YEARS)
    ahead = np.clip(np.nan_to_num(ahead), 0, LATER)
    period = np.select(
        [state == State.READY, state == State.YEAR, state == State.FAR, state == State.NO_TARGET],
        [0.0, ahead, float(LATER), float(NO_TARGET)],
        float(NOT_ENOUGH),
    )
    return np.where(marked, 0, period).astype(np.int64)


def _places_in(ids: Ints, wanted: Ints) -> Places:
    """Place of each wanted id, -1 where it is not among them."""
    if not len(ids):
        return np.full(len(wanted), -1)
    order = np.argsort(ids, kind="stable")
    at = order[np.minimum(np.searchsorted(ids, wanted, sorter=order), len(ids) - 1)]
    return np.where(ids[at] == wanted, at, -1)


def _sized(timber: Timber, outlook: Outlook, period: Ints, marked: NDArray[np.bool_]) -> Sized:
    """Return all trees, those that are cut in a later period at the size that is forecast for its middle."""
    there = timber.there
    dbh, low, high = (there.dbh_cm.copy() for _ in range(3))
    at = _places_in(outlook.taken.ids, there.ids)
    ready = marked | ((outlook.state[at] == State.READY) & (at >= 0) if len(outlook) else False)
    for one in np.unique(period[period < LATER]).tolist():
        rows = np.flatnonzero((period == one) & ~ready)
        if len(rows):
            found = forecast(outlook.then, _middle(outlook.on, one), there.ids[rows])
            dbh[rows], low[rows], high[rows] = found.dbh_cm, found.low_cm, found.high_cm
    rows = np.arange(len(there))
    stems = timber.at_size(rows, dbh)
    return Sized(rows, stems, *(_bound(timber, rows, stems, dbh, edge) for edge in (low, high)))


def _bound(timber: Timber, rows: Places, stems: Stems, dbh: Floats, edge: Floats) -> Floats:
    """Volume at one end of the sizes; that of the stems themselves where the end is the size."""
    out = stems.volume_m3.copy()
    differ = np.flatnonzero((edge != dbh) & np.isfinite(edge))
    out[differ] = timber.at_size(rows[differ], edge[differ]).volume_m3
    return out


def _middle(on: dt.date, period: int) -> dt.date:
    """Day in the middle of a period, not before the day itself."""
    middle = on.year + PERIOD_YEARS * (period + 0.5)
    return max(on, dt.date(int(middle), 1, 1) + dt.timedelta(days=round((middle % 1) * DAYS_A_YEAR)))


def _year_of(day: dt.date) -> float:
    return day.year + (day.timetuple().tm_yday - 1) / DAYS_A_YEAR
