"""Trees as they are to stand in the farm: those that are new, and those that fare otherwise than was known."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from farmmap.farm.farm import Farm, shaped
from farmmap.farm.schema import TREES
from farmmap.files.bringing.readings import with_stems

_NO_DAY = np.datetime64("NaT", "s")
_LONG_AGO = np.iinfo(np.int64).min


def new_trees(
    farm: Farm,
    values: Mapping[str, Any],
    x: np.ndarray,
    y: np.ndarray,
    starts: np.ndarray,
    ids: np.ndarray,
    rows: np.ndarray,
) -> pd.DataFrame:
    """Return rows of the trees table.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    values : mapping of str to ndarray, shape (n,)
        Columns of the source's rows.
    x, y : ndarray, shape (n,)
        Places. [m]
    starts : ndarray of int64, shape (k,)
        First row of each new tree.
    ids : ndarray of int64, shape (n,)
        Id of each row's tree; those of the new ones follow on each other.
    rows : ndarray of bool, shape (n,)
        Good rows.
    """
    own = ids[starts]
    slots = ids - (own[0] if len(own) else 0)
    mine = rows & (slots >= 0) & (slots < len(own)) if len(own) else np.zeros(len(ids), bool)
    often = np.bincount(slots[mine], minlength=len(own)) > 1
    more = np.flatnonzero(mine)[often[slots[mine]]]
    columns: dict[str, Any] = {"x": x[starts], "y": y[starts]}
    for name in ("tag", "species", "planted", "stock", "stage", "note"):
        if name in values:
            columns[name] = values[name][starts].copy()
            told = more[values[name][more] != ""][::-1]  # the first one that is told is written last, and stays
            columns[name][slots[told]] = values[name][told]
    stems = np.ones(len(starts))
    if "stems" in values:
        np.fmax.at(stems, slots[mine], values["stems"][mine])
    columns["stems"] = stems.astype(np.int64)
    columns["status"], columns["status_on"] = _fates(values, starts, slots, more)
    columns["tag"] = _numbered(farm, columns["tag"])
    return shaped(TREES, columns, own, farm.grid)


def altered_trees(
    farm: Farm,
    values: Mapping[str, Any],
    ids: np.ndarray,
    rows: np.ndarray,
    readings: pd.DataFrame,
) -> pd.DataFrame:
    """Return trees that the farm has and that now fare otherwise, or have more stems than was known.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    values : mapping of str to ndarray, shape (n,)
        Columns of the source's rows.
    ids : ndarray of int64, shape (n,)
        Id of each row's tree.
    rows : ndarray of bool, shape (n,)
        Good rows that speak of trees which the farm has.
    readings : DataFrame
        Measurements that come in.
    """
    before = farm.trees.loc[np.isin(farm.trees.index.to_numpy(), ids[rows])]
    after = with_stems(before, readings)
    told = _by_day(values, np.flatnonzero(rows & (values["status"] != "")))
    at = before.index.get_indexer(pd.Index(ids[told]))
    known = before["status"].to_numpy(object)
    status, since = known.copy(), before["status_on"].to_numpy("datetime64[s]").copy()
    status[at] = values["status"][told]
    days = _since(values)
    fallen = np.where(np.isnat(days), values["measured_on"], days)
    last = np.full(len(before), -1, np.int64)
    last[at] = told
    changed = status != known
    since[changed] = fallen[last[changed]]
    since[status == "alive"] = _NO_DAY
    after = after.assign(status=pd.array(status, dtype="str"), status_on=since)
    return after.loc[changed | (after["stems"].to_numpy() != before["stems"].to_numpy())]


def _since(values: Mapping[str, Any]) -> np.ndarray:
    return values.get("status_on", np.full(len(values["status"]), _NO_DAY))


def _by_day(values: Mapping[str, Any], rows: np.ndarray) -> np.ndarray:
    return rows[np.argsort(values["measured_on"][rows], kind="stable")]


def _fates(
    values: Mapping[str, Any], starts: np.ndarray, slots: np.ndarray, more: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return how each new tree fares by its latest row, and since when, if rows from before say otherwise."""
    status = np.where(values["status"][starts] == "", "alive", values["status"][starts])
    days = _since(values)
    since = days[starts].copy()
    told = _by_day(values, more[values["status"][more] != ""])
    at = slots[told]
    status[at] = values["status"][told]
    since[at] = days[told]
    alive = values["status"][told] == "alive"
    when = values["measured_on"][told].astype(np.int64)
    last_alive = np.full(len(starts), _LONG_AGO)
    np.maximum.at(last_alive, at[alive], when[alive])
    gone = ~alive & (last_alive[at] > _LONG_AGO) & (when > last_alive[at])
    first_gone = np.full(len(starts), np.iinfo(np.int64).max)
    np.minimum.at(first_gone, at[gone], when[gone])
    guess = np.isnat(since) & (first_gone < np.iinfo(np.int64).max)
    since[guess] = first_gone[guess].astype("datetime64[s]")
    since[status == "alive"] = _NO_DAY
    return status, since


def _numbered(farm: Farm, tags: np.ndarray) -> np.ndarray:
    """Give trees without a tag numbers, on from the greatest number that is a tag."""
    without = tags == ""
    if not without.any():
        return tags
    greatest = 0
    for used in (farm.trees["tag"].to_numpy(object), tags[~without]):
        numbers = [int(tag) for tag in used.tolist() if len(tag) < 10 and tag.isascii() and tag.isdigit()]
        greatest = max(greatest, *numbers, 0)
    out = tags.copy()
    out[without] = np.arange(greatest + 1, greatest + 1 + without.sum()).astype(str).astype(object)
    return out
