"""The days that a farm's date line runs over."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # heavy to import: the window paints before it is needed
    from farmmap.farm.farm import Farm


@dataclass(frozen=True)
class FarmDays:
    """Days of a farm's life.

    Attributes
    ----------
    first, last : date
        Ends of the date line: the first planting or measurement, and today or
        the newest measurement if that is later.
    newest : date
        Day of the newest measurement; today if there is none.
    measured : tuple of date
        Every day on which something was measured, in order.
    today : date
        Today.
    """

    first: dt.date
    last: dt.date
    newest: dt.date
    measured: tuple[dt.date, ...]
    today: dt.date


def farm_days(farm: Farm, today: dt.date | None = None) -> FarmDays:
    """Return the days of a farm's life.

    Parameters
    ----------
    farm : Farm
        The farm.
    today : date, optional
        Today, unless given.
    """
    import numpy as np
    import pandas as pd

    from farmmap.farm.dates import middles_of

    today = today or dt.datetime.now().astimezone().date()
    days = pd.unique(np.asarray(farm.measurements["measured_on"], "datetime64[D]"))
    measured = tuple(day.item() for day in np.sort(days[~np.isnat(days)]))
    written = {str(when) for table in ("trees", "blocks") for when in farm.tables[table]["planted"].drop_duplicates()}
    planted = middles_of(pd.Series(sorted(written), dtype="str"))
    planted = planted[~np.isnat(planted)]
    starts = [*measured[:1], *([planted.min().item()] if len(planted) else [])]
    newest = measured[-1] if measured else today
    last = max(newest, today)
    first = min(starts, default=last - dt.timedelta(days=365))
    return FarmDays(min(first, last - dt.timedelta(days=30)), last, newest, measured, today)


def in_words(day: dt.date) -> str:
    """Return a day as people write it: ``31 May 2026``."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
