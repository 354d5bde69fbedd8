"""The days that a farm's date line runs over."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # heavy to import: the window paints before it is needed
    import numpy as np
    from numpy.typing import NDArray

    from farmmap.farm.edits import Edit
    from farmmap.farm.farm import Farm


YEARS_AHEAD = 60
"""So many years the date line runs on: from planting to the harvest of most timber. [years]"""

TAKEN = ("measurements", "plots")
"""Tables whose rows carry the day on which they were measured."""

FEW = 20
"""Days or plantings gone up to which a whole farm is searched for others of the same; beyond, all is looked at anew."""


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
    planted : date or None
        Day of the first planting, None if none is known.
    """

    first: dt.date
    last: dt.date
    newest: dt.date
    measured: tuple[dt.date, ...]
    today: dt.date
    planted: dt.date | None = None

    @property
    def ahead(self) -> dt.date:
        """Last day of the date line."""
        return dt.date(min(self.last.year + YEARS_AHEAD, dt.MAXYEAR), 12, 31)

    def is_forecast(self, day: dt.date) -> bool:
        """Whether sizes on a day are forecast, as it has not come and nothing was measured on it or later."""
        return day > self.last


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

    days = pd.unique(
        np.concatenate([np.asarray(farm.tables[table]["measured_on"], "datetime64[s]") for table in TAKEN])
    )
    written = {str(when) for table in ("trees", "blocks") for when in farm.tables[table]["planted"].drop_duplicates()}
    return _farm_days(_dates(days), _first_planting(written), today or dt.datetime.now().astimezone().date())


def farm_days_after(days: FarmDays, farm: Farm, edit: Edit) -> FarmDays:
    """Return the days of a farm after an edit, looking only at what the edit touched.

    Parameters
    ----------
    days : FarmDays
        Days of the farm before.
    farm : Farm
        The farm after the edit.
    edit : Edit
        What was done.
    """
    import numpy as np

    measured = set(days.measured)
    planted = days.planted
    for name, change in edit.changes.items():
        if name in TAKEN:
            old, new = (set(_dates(rows["measured_on"].to_numpy())) for rows in (change.before, change.after))
            gone = old - new
            if len(gone) > FEW:
                return farm_days(farm, days.today)
            all_days = [farm.tables[table]["measured_on"].to_numpy() for table in TAKEN]
            measured |= new
            measured -= {day for day in gone if not any((of == np.datetime64(day, "s")).any() for of in all_days)}
        elif name in ("trees", "blocks"):
            old_texts, new_texts = (set(rows["planted"]) - {""} for rows in (change.before, change.after))
            if old_texts == new_texts:
                continue
            if any(planted == _first_planting({text}) for text in old_texts - new_texts):
                return farm_days(farm, days.today)  # it may have been the first of all
            planted = min((day for day in (planted, _first_planting(new_texts)) if day is not None), default=None)
    return _farm_days(measured, planted, days.today)


def _farm_days(measured: Iterable[dt.date], planted: dt.date | None, today: dt.date) -> FarmDays:
    in_order = tuple(sorted(measured))
    newest = in_order[-1] if in_order else today
    last = max(newest, today)
    starts = [*in_order[:1], *([] if planted is None else [planted])]
    first = min(starts, default=last - dt.timedelta(days=365))
    return FarmDays(min(first, last - dt.timedelta(days=30)), last, newest, in_order, today, planted)


def _dates(days: NDArray[np.datetime64]) -> list[dt.date]:
    import numpy as np

    return [day.item() for day in np.unique(days[~np.isnat(days)]).astype("datetime64[D]")]


def _first_planting(written: set[str]) -> dt.date | None:
    import numpy as np
    import pandas as pd

    from farmmap.farm.dates import middles_of

    days = middles_of(pd.Series(sorted(written), dtype="str"))
    days = days[~np.isnat(days)]
    return days.min().item() if len(days) else None
