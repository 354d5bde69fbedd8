"""Readings taken down one after the other: tag, diameter, next tree."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from farmmap.editing.believable import diameter_doubts
from farmmap.editing.guard import guarded
from farmmap.editing.proposed import Proposed, edit_of, rows_of
from farmmap.editing.values import day_done, typed
from farmmap.editing.words import day_words, own_name
from farmmap.errors import BadInput
from farmmap.farm.dates import middle_of
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import MEASUREMENTS
from farmmap.figures.remembered import Remembered

READINGS = {
    "dbh_cm": ("", "cm"),
    "height_m": ("height", "m"),
    "crown_m": ("crown", "m"),
    "pruned_m": ("pruned to", "m"),
    "dos_cm": ("over stubs", "cm"),
}
"""What is read from a tree: word and unit in the name of an edit."""

SHRUNK_M = 1.0
"""A tree's height and crown may be read this much too low before it is pointed out. Common practice. [m]"""

THICKER = 1.5
"""Stubs may stand out so much over the stem at breast height before it is pointed out. Common practice, rough."""

_TAG = r"(?P<letters>[^0-9]*)(?P<number>[0-9]*)(?P<rest>(?s:.*))"


@guarded
def trees_with_tag(farm: Farm, tag: str) -> NDArray[np.int64]:
    """Return ids of the trees with a tag, shape (n,); ``a17`` finds ``A17`` if no tag is written just so."""
    wanted = tag.strip()
    if not wanted:
        return np.empty(0, np.int64)
    tags = farm.trees["tag"]
    fits = (tags == wanted).to_numpy(bool)
    if not fits.any():
        fits = (tags.str.strip().str.casefold() == wanted.casefold()).to_numpy(bool)
    return farm.trees.index.to_numpy(np.int64)[fits]


@guarded
def measured(
    farm: Farm,
    tree: int,
    on: dt.date | str,
    dbh_cm: object = None,
    height_m: object = None,
    crown_m: object = None,
    pruned_m: object = None,
    stem: object = 1,
    dos_cm: object = None,
) -> Proposed:
    """Propose a dated measurement of a tree.

    A reading of the same tree, stem and day is replaced; what is not given
    stays as it was read.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    tree : int
        Id of the tree.
    on : date or str
        The day.
    dbh_cm : float or str, optional
        Diameter at breast height. [cm]
    height_m, crown_m, pruned_m : float or str, optional
        Height, crown diameter, height to which it is pruned. [m]
    stem : int
        Which stem, from 1.
    dos_cm : float or str, optional
        Largest diameter over the stubs of the lift that was just pruned. [cm]

    Returns
    -------
    Proposed
        Notes say what was replaced, and what is hardly believable beside earlier readings.

    Raises
    ------
    BadInput
        Nothing is given, the day has not come, or a value cannot be kept.
    """
    row = rows_of(farm, "trees", tree)
    what = own_name(farm, "trees", tree)
    given = {"dbh_cm": dbh_cm, "height_m": height_m, "crown_m": crown_m, "pruned_m": pruned_m, "dos_cm": dos_cm}
    values = {name: typed(MEASUREMENTS, MEASUREMENTS.column(name), value) for name, value in given.items()}
    values = {name: value for name, value in values.items() if not np.isnan(value)}
    if not values:
        raise BadInput(f"{what}: nothing is given; read the tape and write the diameter in cm")
    for name in ("dbh_cm", "height_m", "crown_m", "dos_cm"):
        if values.get(name) == 0:
            called = "diameter over stubs" if name == "dos_cm" else READINGS[name][0] or "diameter"
            raise BadInput(f"{what}: a {called} is more than 0; leave it empty if it was not taken")
    day = day_done(MEASUREMENTS, "measured_on", on)
    which = typed(MEASUREMENTS, MEASUREMENTS.column("stem"), stem)
    notes: list[str] = []
    if which > int(row["stems"].iloc[0]):
        notes.append(f"{what} is down with {int(row['stems'].iloc[0])} stems, and this is of stem {which}")
    own = readings_of(farm, tree)
    notes += _doubts(farm, own, which, day, values, row)
    taken = farm.measurements
    before = own[((own["stem"] == which) & (own["measured_on"] == day)).to_numpy(bool)].tail(1)
    if len(before):
        after = before.copy(deep=False)
        for name, value in values.items():
            after[name] = np.array([value])
            was = float(before[name].iloc[0])
            if not np.isnan(was) and was != value:
                unit = READINGS[name][1]
                notes.append(
                    f"{what} was read on {day_words(day)} already; {was:g} {unit} is replaced by {value:g} {unit}"
                )
        if after.equals(before):
            raise BadInput(f"{what}: that reading of {day_words(day)} is down already")
        change = Change(before, after)
    else:
        columns = {"tree": [tree], "measured_on": [day], "stem": [which], **{n: [v] for n, v in values.items()}}
        change = Change(taken.iloc[:0], shaped(MEASUREMENTS, columns, next_ids(taken, 1), farm.grid))
    name = f"Measure {what}: {_read_words(values)}"
    return Proposed(edit_of(name, {"measurements": change}), tuple(notes))


def readings_of(farm: Farm, tree: int) -> pd.DataFrame:
    """Return the dated measurements of a tree, oldest first."""
    taken = farm.measurements
    rows = taken.iloc[np.flatnonzero(taken["tree"].to_numpy() == tree)]
    return rows[rows["measured_on"].notna().to_numpy(bool)].sort_values("measured_on", kind="stable")


@guarded
def next_tag(farm: Farm, tag: str) -> str:
    """Return the tag of the next living tree in the order in which people count; "" after the last.

    Parameters
    ----------
    farm : Farm
        The farm.
    tag : str
        The tag that was done; "" for the first tree. It need not be one of the farm's.
    """
    order = _ORDERS.get((farm.trees,), (), lambda: _TagOrder(farm.trees))
    return order.after(tag.strip())


class _TagOrder:
    """Tags of living trees in the order in which people count: by the letters before a number, the number, the rest."""

    def __init__(self, trees: pd.DataFrame) -> None:
        standing = (trees["status"] == "alive").to_numpy(bool) & (trees["stage"] == "existing").to_numpy(bool)
        tags = trees["tag"][standing & (trees["tag"] != "").to_numpy(bool)]
        parts = pc.extract_regex(pa.array(tags.tolist(), pa.string()), pattern=f"^{_TAG}$")
        number = pc.struct_field(parts, "number")
        number = pc.cast(pc.if_else(pc.equal(number, ""), "-1", number), pa.float64()).to_numpy(zero_copy_only=False)
        self._letters, letter = _ranked(pc.struct_field(parts, "letters"))
        self._rests, after = _ranked(pc.struct_field(parts, "rest"))
        order = np.lexsort((after, number, letter))
        self._keys = np.rec.fromarrays([letter[order], number[order], after[order]])
        self._tags = tags.iloc[order]

    def after(self, tag: str) -> str:
        """Return the first tag behind another, "" if there is none."""
        found = re.fullmatch(_TAG, tag)
        assert found is not None
        letters, rest = found["letters"].lower(), found["rest"].lower()
        wanted = (letters, float(found["number"] or -1), rest)
        low, high = 0, len(self._keys)
        while low < high:
            middle = (low + high) // 2
            letter, number, after = self._keys[middle].tolist()
            if (self._letters[letter], number, self._rests[after]) > wanted:
                high = middle
            else:
                low = middle + 1
        return str(self._tags.iloc[low]) if low < len(self._tags) else ""


def _ranked(words: pa.Array) -> tuple[list[str], NDArray[np.int64]]:
    """Return the words that occur, in lower case and in their order, and which of them stands in each row."""
    coded = pc.dictionary_encode(pc.utf8_lower(words))
    known = coded.dictionary.to_pylist()
    order = sorted(range(len(known)), key=lambda place: known[place])
    ranks = np.empty(len(known), np.int64)
    ranks[order] = np.arange(len(known))
    return [known[place] for place in order], ranks[coded.indices.to_numpy(zero_copy_only=False)]


_ORDERS: Remembered[_TagOrder] = Remembered(2)


def _read_words(values: dict[str, float]) -> str:
    words = []
    for name, value in values.items():
        word, unit = READINGS[name]
        words.append(f"{word} {value:g} {unit}".strip())
    return ", ".join(words)


def _doubts(
    farm: Farm, own: pd.DataFrame, stem: int, day: np.datetime64, values: dict[str, float], row: pd.DataFrame
) -> list[str]:
    """Say what is hardly believable of a reading."""
    notes: list[str] = []
    what = own_name(farm, "trees", int(row.index[0]))
    date = day.astype("datetime64[D]").astype(object)
    status, ended = str(row["status"].iloc[0]), row["status_on"].iloc[0]
    if status != "alive" and (pd.isna(ended) or ended <= pd.Timestamp(day)):
        since = "" if pd.isna(ended) else f" since {day_words(ended)}"
        notes.append(f"{what} is down as {status}{since}; is it the right tree?")
    planted = middle_of(str(row["planted"].iloc[0]))
    if not np.isnat(planted) and np.datetime64(date, "D") < planted - np.timedelta64(366, "D"):
        notes.append(f"{day_words(day)} is before {what} was planted ({row['planted'].iloc[0]}); is the day right?")
    if "dbh_cm" in values:
        notes += diameter_doubts(
            farm, own[(own["stem"] == stem).to_numpy(bool)], date, values["dbh_cm"], str(row["species"].iloc[0])
        )
    return notes + _height_doubts(farm, own, date, values)


def _height_doubts(farm: Farm, own: pd.DataFrame, on: dt.date, values: dict[str, float]) -> list[str]:
    """Compare height, crown and pruned height with each other and with the latest ones before."""
    before = {name: _latest(own, name, on) for name in ("height_m", "crown_m", "pruned_m")}
    now = before | {name: value for name, value in values.items() if name in before}
    notes = []
    if {"pruned_m", "height_m"} & set(values) and now["pruned_m"] >= now["height_m"]:
        notes.append(f"pruned to {now['pruned_m']:g} m is not below the tree's height of {now['height_m']:g} m")
    if "pruned_m" in values and values["pruned_m"] < before["pruned_m"]:
        notes.append(f"pruned to {values['pruned_m']:g} m is less than the {before['pruned_m']:g} m recorded earlier")
    if "height_m" in values and values["height_m"] < before["height_m"] - SHRUNK_M:
        notes.append(
            f"height {values['height_m']:g} m is {before['height_m'] - values['height_m']:.1f} m less than before "
            f"({before['height_m']:g} m); has its top broken?"
        )
    if "crown_m" in values and values["crown_m"] > 2 * now["height_m"]:
        notes.append(f"a crown of {values['crown_m']:g} m is more than twice the height of {now['height_m']:g} m")
    stem = values.get("dbh_cm", _latest(own, "dbh_cm", on))
    if "dos_cm" in values and values["dos_cm"] > THICKER * stem:
        notes.append(
            f"{values['dos_cm']:g} cm over stubs is much thicker than the stem at breast height ({stem:g} cm); "
            "look whether it is right"
        )
    breast = farm.settings.breast_height_m
    if "dbh_cm" in values and now["height_m"] < breast:
        notes.append(
            f"a tree of {now['height_m']:g} m is lower than breast height ({breast:g} m); the diameter will not count"
        )
    return notes


def _latest(own: pd.DataFrame, quantity: str, on: dt.date) -> float:
    """Latest reading of a tree by a day, nan if there is none."""
    rows = own[(own["measured_on"] <= pd.Timestamp(on)).to_numpy(bool) & own[quantity].notna().to_numpy(bool)]
    return float(rows[quantity].iloc[-1]) if len(rows) else float("nan")
