"""One reading of the tape as it was typed, and how much the tree has grown since the one before."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm

_DAYS_A_YEAR = 365.25
_LEAST_YEARS = 0.25
"""Over a shorter time no yearly growth is told."""


@dataclass(frozen=True)
class Entry:
    """One reading as it was typed.

    Attributes
    ----------
    tree : int
        Id of the tree.
    stem : int
        Which of its stems, from 1.
    on : date
        The day.
    dbh_cm, height_m, pruned_m, dos_cm : str
        What was typed, "" for nothing.
    """

    tree: int
    stem: int
    on: dt.date
    dbh_cm: str
    height_m: str
    pruned_m: str
    dos_cm: str = ""

    def proposed(self, farm: Farm) -> Proposed:
        """Return the measurement that it comes to.

        Raises
        ------
        BadInput
            It cannot be kept; the message says why.
        """
        from farmmap.editing.tape_entry import measured

        return measured(
            farm,
            self.tree,
            self.on,
            dbh_cm=self.dbh_cm,
            height_m=self.height_m,
            pruned_m=self.pruned_m,
            stem=self.stem,
            dos_cm=self.dos_cm,
        )


def last_diameter(farm: Farm, tree: int, stem: int, before: dt.date) -> tuple[dt.date, float] | None:
    """Return the last diameter of a stem before a day, and the day it was taken [cm]; None if there is none."""
    import numpy as np

    taken = farm.measurements
    rows = taken[(taken["tree"].to_numpy() == tree) & (taken["stem"].to_numpy() == stem)]
    rows = rows[(rows["measured_on"] < np.datetime64(before)).to_numpy() & rows["dbh_cm"].notna().to_numpy()]
    if not len(rows):
        return None
    last = rows.sort_values("measured_on", kind="stable").iloc[-1]
    return last["measured_on"].date(), float(last["dbh_cm"])


def increment_words(farm: Farm, entry: Entry) -> str:
    """Return how much a stem has grown since it was measured last: ``, +2.1 cm (1.4 cm a year)``; "" if not known."""
    last = last_diameter(farm, entry.tree, entry.stem, entry.on)
    change = entry.proposed(farm).edit.changes["measurements"].after["dbh_cm"]
    if last is None or not len(change) or change.isna().all():
        return ""
    grown = float(change.iloc[0]) - last[1]
    years = (entry.on - last[0]).days / _DAYS_A_YEAR
    a_year = f" ({grown / years:+.1f} cm a year)" if years >= _LEAST_YEARS else ""
    return f", {grown:+.1f} cm{a_year}".replace("-", "−")
