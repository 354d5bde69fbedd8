"""What the list of trees shows of a farm on a day, as columns, kept while the same farm is asked about."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_of_each_tree
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import Standing, standing


@dataclass(frozen=True, eq=False)
class TreeRows:
    """Trees that stand on a day, all columns of the same length.

    Attributes
    ----------
    ids : ndarray of int64, shape (n,)
        Ids of the trees, rising.
    tag : Series of str
        What is written on the tag.
    tag_lower : Series of str
        The same in small letters, to be looked through.
    species, block : Series of category
        Trade name of the species; name of the block, none where the tree stands in none.
    dbh_cm : ndarray
        Latest diameter, nan where not measured. [cm]
    """

    ids: np.ndarray
    tag: pd.Series
    tag_lower: pd.Series
    species: pd.Series
    block: pd.Series
    dbh_cm: np.ndarray

    def column(self, name: str) -> pd.Series:
        """Return a column by name."""
        values = getattr(self, name)
        return values if isinstance(values, pd.Series) else pd.Series(values)


_ROWS: Remembered[TreeRows] = Remembered(3)
_NAMES: Remembered[tuple[pd.Series, pd.Series, pd.Series]] = Remembered(3)


def tree_rows(farm: Farm, on: dt.date) -> TreeRows:
    """Return the trees that stand on a day; the last few answers are kept."""
    return _ROWS.get((farm,), (on,), lambda: _work_out(farm, on))


def _work_out(farm: Farm, on: dt.date) -> TreeRows:
    there = standing(farm, on)
    block = block_of_each_tree(farm)[there.places]
    names = farm.blocks["name"].to_numpy(object)
    kinds, code_of = np.unique(names.astype(str), return_inverse=True)
    place = farm.blocks.index.get_indexer(pd.Index(block))
    codes = np.append(code_of, -1)[place] if len(names) else np.full(len(block), -1)
    tag, tag_lower, species = _NAMES.get((there, farm.trees), (), lambda: _names(farm, there))
    blocks = pd.Series(pd.Categorical.from_codes(codes, kinds))
    return TreeRows(there.ids, tag, tag_lower, species, blocks, there.dbh_cm)


def _names(farm: Farm, there: Standing) -> tuple[pd.Series, pd.Series, pd.Series]:
    """Tags, tags in small letters and species, which stay while only blocks change."""
    tag = farm.trees["tag"].iloc[there.places].reset_index(drop=True)
    labels, label_of = np.unique(np.array(there.species_labels, str), return_inverse=True)
    species = label_of[there.species] if len(there) else np.empty(0, np.int64)
    return tag, tag.str.lower(), pd.Series(pd.Categorical.from_codes(species, labels))
