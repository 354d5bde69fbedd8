"""Mean increments by species, stock and age, a table such as growers keep of their own trees."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Literal

import numpy as np
import pandas as pd

from farmmap.errors import BadInput
from farmmap.farm.dates import DAYS_A_YEAR
from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of
from farmmap.figures.growth.increments import Doubt, breast_days, increments, planted_days
from farmmap.figures.growth.outlook_words import species_labels
from farmmap.figures.result import FigureTable, plain_list
from farmmap.figures.standing import UNKNOWN_SPECIES, the_day

Against = Literal["planting", "breast height"]
AGAINST: tuple[Against, ...] = ("planting", "breast height")

COLUMNS = (
    "species",
    "stock",
    "age_class",
    "trees",
    "spans",
    "periodic_increment_cm",
    "periodic_spread_cm",
    "mean_annual_increment_cm",
    "periodic_increment_m2",
    "mean_annual_increment_m2",
)
CLASS_YEARS = 5
"""Width of a class of age. [years]"""

NO_AGE = "age not known"
NO_STOCK = "not given"

Row = dict[str, object]


def increments_by_age(
    farm: Farm, on: dt.date | None = None, against: Against = "planting", class_years: int = CLASS_YEARS
) -> FigureTable:
    """Return mean increments by species, stock and class of age, by all readings up to a day.

    The age is that in the middle between the two readings. A seedling, a
    rooted cutting and a pole start apart, so each has its own rows. Spans in
    which a tree was read to shrink by more than the tape may err, or to grow
    more than it can, are left out and counted.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The last day whose readings count; None for the newest.
    against : str
        ``planting`` or ``breast height``: from where the age is counted.
    class_years : int
        Width of a class of age. [years]

    Raises
    ------
    BadInput
        The classes have no width.
    """
    if class_years < 1:
        raise BadInput(f"a class of age is at least 1 year wide, not {class_years}")
    day = the_day(farm, on)
    frame = _spans_with_ages(farm, day, against, class_years)
    good = frame[frame["doubt"] == Doubt.NONE]
    rows = _rows(good, species_labels(farm), class_years)
    left_out = len(frame) - len(good)
    many = "1 span is" if left_out == 1 else f"{left_out} spans are"
    notes = (
        f"By readings up to {day.isoformat()}; a span is the time between two readings of a tree a fair time apart.",
        f"Age from {against}, in the middle of the span; seed, seedlings, cuttings and poles are kept apart.",
        f"{many} left out, in which a tree shrank by more than the tape may err or grew more than it can.",
    )
    title = f"Increments on {farm.settings.name} by species, stock and age"
    return FigureTable("increments", title, COLUMNS, rows, tuple(range(len(rows))), notes)


def _spans_with_ages(farm: Farm, day: dt.date, against: Against, class_years: int) -> pd.DataFrame:
    spans = increments(farm, day).spans
    at = farm.trees.index.get_indexer(spans.tree)
    here = at >= 0
    at = at[here]
    if against == "planting":
        planted = planted_days(farm)
        start = np.where(np.isnat(planted), np.nan, planted.astype("datetime64[D]").astype(np.int64))
    else:
        start = breast_days(farm, day)
    first, last = (days.astype("datetime64[D]").astype(np.int64)[here] for days in (spans.start, spans.end))
    age, at_end = ((days - start[at]) / DAYS_A_YEAR for days in ((first + last) / 2, last))
    trees = columns_of(farm.trees)
    return pd.DataFrame(
        {
            "species": np.asarray(trees["species"], object)[at],
            "stock": np.asarray(trees["stock"], object)[at],
            "age": np.where(age >= 0, age // class_years, np.nan),
            "tree": spans.tree[here],
            "cm": spans.cm[here],
            "m2": spans.m2[here],
            "mean_cm": spans.to_cm[here] / np.where(at_end > 0, at_end, np.nan),
            "mean_m2": spans.to_m2[here] / np.where(at_end > 0, at_end, np.nan),
            "doubt": spans.doubt[here],
        }
    )


def _rows(good: pd.DataFrame, labels: dict[str, str], class_years: int) -> Sequence[Row]:
    if not len(good):
        return ()
    groups = good.groupby(["species", "stock", "age"], dropna=False)
    found = groups.agg(
        trees=("tree", "nunique"), spans=("tree", "size"), cm=("cm", "mean"), spread=("cm", "std"),
        mean_cm=("mean_cm", "mean"), m2=("m2", "mean"), mean_m2=("mean_m2", "mean"),
    ).reset_index()  # fmt: skip
    found["label"] = [labels.get(code, code) or UNKNOWN_SPECIES for code in found["species"]]
    found = found.sort_values(["label", "stock", "age"], key=_folded, kind="stable")
    values = {name: plain_list(found[name].to_numpy()) for name in found.columns}
    return tuple(
        {
            "species": values["label"][place],
            "code": values["species"][place],
            "stock": values["stock"][place] or NO_STOCK,
            "age_class": _class_words(age, class_years),
            "age_from_years": None if np.isnan(age) else age * class_years,
            "age_to_years": None if np.isnan(age) else (age + 1) * class_years,
            "trees": values["trees"][place],
            "spans": values["spans"][place],
            "periodic_increment_cm": values["cm"][place],
            "periodic_spread_cm": values["spread"][place],
            "mean_annual_increment_cm": values["mean_cm"][place],
            "periodic_increment_m2": values["m2"][place],
            "mean_annual_increment_m2": values["mean_m2"][place],
        }
        for place, age in enumerate(found["age"].to_numpy(np.float64))
    )


def _folded(column: pd.Series) -> pd.Series:
    return column if column.dtype.kind == "f" else column.astype(str).str.casefold()


def _class_words(age: float, class_years: int) -> str:
    return NO_AGE if np.isnan(age) else f"{int(age) * class_years} to {(int(age) + 1) * class_years}"
