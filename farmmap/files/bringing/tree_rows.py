"""Rows of a source to trees and their measurements, in one go."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids
from farmmap.farm.species import SpeciesFinder, plain
from farmmap.files.bringing.counted import counted
from farmmap.files.bringing.grouping import coded, is_among
from farmmap.files.bringing.new_trees import altered_trees, new_trees
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
from farmmap.files.bringing.same_trees import SAME_PLACE_M, apart_by_species, same_trees
from farmmap.files.bringing.sieve import Sieve

VERY_PLACE_M = 0.01
"""An untagged tree no further than this from one of its species that the farm has, is that one. [m]"""

NAMED_AT_MOST = 12


def tree_changes(
    farm: Farm,
    values: dict[str, Any],
    x: np.ndarray,
    y: np.ndarray,
    sieve: Sieve,
    day: Day,
    said: list[str],
    *,
    anyway: bool,
) -> dict[str, Change]:
    """Return the changes that bring rows in as trees and measurements.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    values : dict of str to ndarray, shape (n,)
        Columns of ours.
    x, y : ndarray, shape (n,)
        Places on the farm's grid. [m]
    sieve : Sieve
        Rows so far good; more are refused here.
    day : Day
        For readings that carry none.
    said : list of str
        What was taken for granted is added.
    anyway : bool
        Also bring in untagged trees that seem to be there already.
    """
    count = len(x)
    tags = values.get("tag", np.full(count, "", object))
    without_noughts(values, sieve.good, said)
    low_and_thick(farm, values, sieve.good, said)
    finder = SpeciesFinder(farm.species)
    species = species_codes(values.get("species"), sieve.good, finder, said, count)
    if not anyway:
        _refuse_untagged_again(farm, tags, species, x, y, sieve)
    first, known = _identities(farm, tags, species, x, y, sieve, said)
    dated(values, sieve.good & has_reading(values, count), day, sieve, said)
    values = {**values, "tag": tags, "species": species, "status": values.get("status", np.full(count, "", object))}
    news = _brings_news(farm, values["status"], first, known, sieve.good)
    _refuse_idle(values, news, first, known, sieve)
    starts, ids = _numbered(farm, first, known, sieve.good)
    keep = news.copy()
    keep[starts] = True
    readings, positions = readings_table(farm, values, ids, keep, sieve, said)
    rows = sieve.good & (ids >= 0)
    trees = with_stems(new_trees(farm, values, x, y, starts, ids, rows), readings)
    altered = altered_trees(farm, values, ids, rows & (known >= 0), readings)
    said.append(summary(len(trees), len(altered), readings, int((np.bincount(ids[positions]) > 0).sum())))
    changes = {
        "trees": Change(farm.trees.loc[altered.index], pd.concat([altered, trees]) if len(altered) else trees),
        "measurements": Change(farm.measurements.iloc[:0], readings),
        "species": Change(farm.species.iloc[:0], finder.added(farm.grid)),
    }
    return {name: change for name, change in changes.items() if len(change.before) or len(change.after)}


def _refuse_idle(values: dict[str, Any], news: np.ndarray, first: np.ndarray, known: np.ndarray, sieve: Sieve) -> None:
    count = len(first)
    idle = ~has_reading(values, count) & ~news & ((first != np.arange(count)) | (known >= 0))
    sieve.refuse(idle, "the same tree is there already, and this row says nothing new of it")


def _numbered(farm: Farm, first: np.ndarray, known: np.ndarray, good: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the first row of each new tree, and for every row the id of its tree, -1 for a bad one."""
    count = len(first)
    starts = np.flatnonzero(good & (known < 0) & (first == np.arange(count)))
    ids = np.full(count, -1, np.int64)
    ids[starts] = next_ids(farm.trees, len(starts))
    return starts, np.where(good, np.where(known >= 0, known, ids[first]), -1)


def species_codes(
    names: np.ndarray | None, good: np.ndarray, finder: SpeciesFinder, said: list[str], count: int
) -> np.ndarray:
    """Return the code of each row's species, "" for none; what was matched otherwise than by code is said."""
    out = np.full(count, "", object)
    if names is None or not good.any():
        return out
    codes, words = coded(names[good])
    found = [finder.code_of(word) for word in words]
    out[good] = np.array([*found, ""], object)[codes]
    new = set(finder.newly_named)
    pairs = [
        f"{word.strip()} as {code}"
        for word, code in zip(words, found, strict=True)
        if word.strip() and word.strip() not in new and plain(word) != plain(code)
    ]
    if pairs:
        said.append(f"Species were found by name: {_listed(pairs)}.")
    if new:
        by_name = dict(zip([word.strip() for word in words], found, strict=True))
        listed = [f"{name} (code {by_name[name]})" for name in finder.newly_named if name in by_name]
        said.append(f"Species that were not known were added to the farm's own list: {_listed(listed)}.")
    return out


def _identities(
    farm: Farm,
    tags: np.ndarray,
    species: np.ndarray,
    x: np.ndarray,
    y: np.ndarray,
    sieve: Sieve,
    said: list[str],
) -> tuple[np.ndarray, np.ndarray]:
    """Return for each row the first row of its tree, and the id of the farm's tree that it is (-1: a new one)."""
    count = len(tags)
    rows = np.flatnonzero(sieve.good)
    own_tags = farm.trees["tag"].to_numpy(object)
    named = is_among(own_tags, set(tags[rows].tolist()) - {""}) if len(own_tags) else np.zeros(0, bool)
    own_ids = farm.trees.index.to_numpy()[named]
    many = len(own_ids)
    all_tags = np.concatenate([own_tags[named], tags[rows]])
    all_x = np.concatenate([farm.trees["x"].to_numpy()[named], x[rows]])
    all_y = np.concatenate([farm.trees["y"].to_numpy()[named], y[rows]])
    first = same_trees(all_tags, all_x, all_y)
    fixed = np.arange(len(first)) < many
    all_species = np.concatenate([farm.trees["species"].to_numpy(object)[named], species[rows]])
    first = apart_by_species(first, all_species, fixed)
    mine = first[many:]
    known = np.full(count, -1, np.int64)
    start = np.arange(count, dtype=np.int64)
    old = mine < many
    known[rows[old]] = own_ids[mine[old]]
    start[rows[~old]] = rows[mine[~old] - many]
    _say_tags(all_tags, first, many, said)
    return start, known


def _say_tags(tags: np.ndarray, first: np.ndarray, many: int, said: list[str]) -> None:
    leads = first == np.arange(len(first))
    touched = np.zeros(len(first), bool)
    touched[first[many:]] = True
    codes, words = coded(tags)
    often = np.bincount(codes[leads], minlength=len(words)) > 1
    again = np.unique(codes[leads & touched & often[codes] & (tags != "")])
    if len(again):
        said.append(
            f"{counted(len(again), 'tag is', 'tags are')} used for more than one tree (such as {words[again[0]]}); "
            f"rows more than {SAME_PLACE_M} m apart, or of different species, were taken as different trees."
        )


def _refuse_untagged_again(
    farm: Farm, tags: np.ndarray, species: np.ndarray, x: np.ndarray, y: np.ndarray, sieve: Sieve
) -> None:
    rows = np.flatnonzero(sieve.good & (tags == ""))
    if not len(rows) or not len(farm.trees):
        return
    here = pd.MultiIndex.from_arrays(
        [np.round(x[rows] / VERY_PLACE_M), np.round(y[rows] / VERY_PLACE_M), species[rows].astype(str)]
    )
    own = pd.MultiIndex.from_arrays(
        [
            np.round(farm.trees["x"].to_numpy() / VERY_PLACE_M),
            np.round(farm.trees["y"].to_numpy() / VERY_PLACE_M),
            farm.trees["species"].to_numpy(object).astype(str),
        ]
    )
    sieve.refuse_at(
        rows[here.isin(own)],
        "a tree of that species stands at this very place already; give it a tag, or say --anyway to have both",
    )


def _brings_news(farm: Farm, status: np.ndarray, first: np.ndarray, known: np.ndarray, good: np.ndarray) -> np.ndarray:
    """Return which rows say of their tree that it fares otherwise than was known; bool, shape (n,)."""
    before = np.where(status[first] == "", "alive", status[first])
    old = known >= 0
    if old.any():
        before[old] = farm.trees["status"].to_numpy(object)[farm.trees.index.get_indexer(pd.Index(known[old]))]
    return good & (status != "") & (status != before)


def _listed(words: list[str]) -> str:
    more = len(words) - NAMED_AT_MOST
    return ", ".join(words[:NAMED_AT_MOST]) + (f" and {more} more" if more > 0 else "")
