"""Outlook of trees, a row each: increments, target and the year in which each is ready."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of, rows_at
from farmmap.figures.growth.increments import Doubt
from farmmap.figures.growth.outlook import Outlook, State, outlook_part
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.result import ColumnRows, FigureTable
from farmmap.figures.standing import later_note

Places = NDArray[np.intp]

FIELDS = (
    "tag",
    "species",
    "dbh_cm",
    "mean_annual_increment_cm",
    "recent_increment_cm",
    "target_cm",
    "ready_year",
    "ready_year_low",
    "ready_year_high",
    "method",
)
"""What an outlook says of a tree when it is handed on; `fields_only` leaves out the rest."""

COLUMNS = (
    *FIELDS,
    "block",
    "product",
    "stock",
    "measured_on",
    "age_measured_years",
    "age_from",
    "breast_age_years",
    "tree_basal_area_m2",
    "mean_annual_increment_m2",
    "recent_increment_m2",
    "recent_years",
    "recent_error_cm",
    "reading_doubt",
    "ready",
)
BRIEF = ("tag", "species", "block", "dbh_cm", "mean_annual_increment_cm", "recent_increment_cm", "target_cm", "ready")

NO_ADVICE = "Forecasts, no advice: a year comes with its 80 % interval, or not at all where there is not enough to say."


def tree_outlook(
    farm: Farm,
    on: dt.date | None = None,
    *,
    block: int | None = None,
    target_cm: float | None = None,
    product: str = "",
    ids: tuple[int, ...] | None = None,
    first: int | None = None,
) -> FigureTable:
    """Return the outlook of every tree that stands on a day.

    Parameters
    ----------
    farm, on, block, target_cm, product
        As for `farmmap.figures.growth.outlook.outlook_part`.
    ids : tuple of int or None
        Only these trees.
    first : int or None
        Only so many, those that are ready first, in that order; None for all, in the order of their ids.

    Raises
    ------
    BadInput
        No tree has such a diameter as ``target_cm``.
    """
    part = outlook_part(farm, on, block=block, target_cm=target_cm, product=product)
    found, places = part.found, np.flatnonzero(part.here)
    if ids is not None:
        places = places[np.isin(found.taken.ids[places], ids)]
    said: tuple[str, ...] = ()
    if first is not None:
        if len(places) > first:
            said = (f"The {first} trees that are ready first of {len(places)}; choose a block to see all of its own.",)
        places = places[_soonest(found, places)[:first]]
    rows = ColumnRows(_columns(farm, found, places, part.block_of))
    return FigureTable(
        "outlook",
        f"Outlook of trees, {part.where}",
        COLUMNS,
        rows,
        found.taken.ids[places].tolist(),
        (*said, *notes_of(farm, found)),
        BRIEF,
    )


def fields_only(table: FigureTable) -> FigureTable:
    """Return an outlook of trees with nothing but its `FIELDS`."""
    return replace(table, columns=FIELDS, rows=ColumnRows({name: table.column(name) for name in FIELDS}), brief=())


def notes_of(farm: Farm, found: Outlook) -> tuple[str, ...]:
    """Return what holds for every outlook."""
    return (
        NO_ADVICE,
        f"By readings on or before {found.on.isoformat()}; the tree itself and its species' curve: see method.",
        *later_note(farm, found.on),
        *_doubted(found),
        f"Diameters at {farm.settings.breast_height_m:.1f} m (breast height), over bark; quadratic mean of several.",
        "Mean increment from planting, of a pole with the thickness that it had when planted.",
        "Recent increment between the last reading and one about two years or more before it.",
    )


def _doubted(found: Outlook) -> tuple[str, ...]:
    """Say how many trees have a reading that cannot be right."""
    many = int(np.count_nonzero(found.taken.doubt >= Doubt.SHRANK))
    if not many:
        return ()
    of = "1 tree was" if many == 1 else f"{many} trees were"
    return (f"{of} read thinner than before, or thicker than can be; look at them. The table of trees says which.",)


def _soonest(found: Outlook, places: Places) -> Places:
    """Order in which trees are ready, those without a year last."""
    year = np.where(found.state == State.READY, -np.inf, found.year)[places]
    return np.lexsort((found.state[places], np.where(np.isnan(year), np.inf, year)))


def _columns(farm: Farm, found: Outlook, places: Places, block_of: NDArray[np.int64]) -> dict[str, object]:
    taken, rows = found.taken, found.taken.places[places]
    trees = columns_of(farm.trees)
    names = np.array([*farm.blocks["name"], ""], object)
    inside = block_of[places]
    at = np.where(inside == NO_BLOCK, len(names) - 1, farm.blocks.index.get_indexer(inside))
    species = found.species[places]
    of_species = [found.targets.of(code) for code in found.codes]
    products = np.array([*("" if one is None else one.product for one in of_species), ""], object)
    sources = np.array([*("" if one is None else one.source for one in of_species), ""], object)
    dbh, recent, years = taken.dbh_cm[places], taken.recent_cm[places], taken.recent_years[places]
    return {
        "tag": rows_at(trees["tag"], rows).tolist(),
        "species": np.array([*found.labels, ""], object)[species].tolist(),
        "dbh_cm": dbh,
        "mean_annual_increment_cm": taken.mean_cm[places],
        "recent_increment_cm": recent,
        "target_cm": found.target_cm[places],
        "ready_year": _whole(found.year[places]),
        "ready_year_low": _whole(found.low[places]),
        "ready_year_high": _whole(found.high[places]),
        "method": [found.method[place] for place in places.tolist()],
        "code": np.array([*found.codes, ""], object)[species].tolist(),
        "block": names[at].tolist(),
        "product": products[species].tolist(),
        "target_source": sources[species].tolist(),
        "stock": rows_at(trees["stock"], rows).tolist(),
        "planted": rows_at(trees["planted"], rows).tolist(),
        "measured_on": taken.measured_on[places],
        "age_measured_years": taken.age_years[places],
        "age_from": taken.age_from[places].tolist(),
        "breast_age_years": taken.breast_age_years[places],
        "tree_basal_area_m2": taken.basal_area_m2[places],
        "mean_annual_increment_m2": taken.mean_m2[places],
        "recent_increment_m2": taken.recent_m2[places],
        "recent_years": years,
        "recent_error_cm": taken.recent_error_cm[places],
        "recent_from": taken.recent_from[places],
        "recent_from_cm": dbh - recent * years,
        "reading_doubt": [taken.doubt_words[place] for place in places.tolist()],
        "ready": found.words(places),
    }


def _whole(years: NDArray[np.float64]) -> list[object]:
    """Calendar years as whole numbers, None where there is none."""
    return [None if np.isnan(year) else int(year) for year in years.tolist()]
