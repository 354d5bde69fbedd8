"""Rows of a source to measurements of trees that the farm has already, found by tag."""

from __future__ import annotations

from typing import Any

import numpy as np

from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm
from farmmap.files.bringing.grouping import coded
from farmmap.files.bringing.readings import (
    Day,
    dated,
    has_reading,
    low_and_thick,
    readings_table,
    summary,
    with_stems,
    without_noughts,
)
from farmmap.files.bringing.same_trees import same_trees
from farmmap.files.bringing.sieve import Sieve


def measurement_changes(
    farm: Farm,
    values: dict[str, Any],
    places: tuple[np.ndarray, np.ndarray] | None,
    sieve: Sieve,
    day: Day,
    said: list[str],
) -> dict[str, Change]:
    """Return the changes that bring rows in as measurements of trees that the farm has, found by tag.

    Parameters
    ----------
    places : tuple of ndarray, shape (n,), or None
        x and y, where given; they decide between trees with one tag. [m]

    Raises
    ------
    BadInput
        There is no column of tags.
    """
    if "tag" not in values:
        raise BadInput("measurements go by the tag of the tree, and no column holds it; say --column tag=THEIRS")
    count = len(sieve.good)
    tags = values["tag"]
    without_noughts(values, sieve.good, said)
    low_and_thick(farm, values, sieve.good, said)
    sieve.refuse(tags == "", "has no tag")
    sieve.refuse(~has_reading(values, count), "has no diameter, height, crown or pruned height")
    ids = _found_by_tag(farm, tags, places, sieve)
    dated(values, sieve.good, day, sieve, said)
    none = np.zeros(count, bool)
    trees = np.where(sieve.good, ids, -1)
    readings, positions = readings_table(farm, values, trees, none, sieve, said, by="tag", notes=True)
    before = farm.trees.loc[np.isin(farm.trees.index.to_numpy(), ids[positions])]
    after = with_stems(before, readings)
    after = after.loc[after["stems"].to_numpy() != before["stems"].to_numpy()]
    said.append(summary(None, 0, readings, len(before)))
    changes = {
        "trees": Change(farm.trees.loc[after.index], after),
        "measurements": Change(farm.measurements.iloc[:0], readings),
    }
    return {name: change for name, change in changes.items() if len(change.after)}


def _found_by_tag(
    farm: Farm, tags: np.ndarray, places: tuple[np.ndarray, np.ndarray] | None, sieve: Sieve
) -> np.ndarray:
    own = farm.trees["tag"].to_numpy(object)
    own_ids = farm.trees.index.to_numpy()
    codes, words = coded(np.concatenate([own, tags]))
    mine, wanted = codes[: len(own)], codes[len(own) :]
    uses = np.bincount(mine, minlength=len(words))
    holder = np.full(len(words), -1, np.int64)
    holder[mine] = own_ids
    ids = np.where(uses[wanted] == 1, holder[wanted], -1)
    several = uses[wanted] > 1
    twice = np.flatnonzero(uses[mine] > 1)
    if places is not None and len(twice):
        rows = np.flatnonzero(several & sieve.good & np.isfinite(places[0]))
        first = same_trees(
            np.concatenate([own[twice], tags[rows]]),
            np.concatenate([farm.trees["x"].to_numpy()[twice], places[0][rows]]),
            np.concatenate([farm.trees["y"].to_numpy()[twice], places[1][rows]]),
        )[len(twice) :]
        here = first < len(twice)
        ids[rows[here]] = own_ids[twice[first[here]]]
    ambiguous = several & (ids < 0)
    sieve.refuse(ambiguous, lambda i: f"more than one tree has the tag '{tags[i]}'; give x and y as well")
    sieve.refuse(ids < 0, lambda i: f"the farm has no tree with the tag '{tags[i]}'")
    return ids
