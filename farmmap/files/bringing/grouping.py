"""Which rows of a column are alike, without a loop over rows."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd


def coded(texts: np.ndarray) -> tuple[np.ndarray, list[str]]:
    """Return a number for each different text, int64, shape (n,), and the texts in order of first appearance."""
    codes, words = pd.factorize(np.asarray(texts, object))
    return np.asarray(codes, np.int64), [str(word) for word in words]


def is_among(texts: np.ndarray, known: Iterable[str]) -> np.ndarray:
    """Return which texts are known; bool, shape (n,)."""
    found = set(known)
    if not found or not len(texts):
        return np.zeros(len(texts), bool)
    codes, words = coded(texts)
    return np.array([word in found for word in words], bool)[codes]


def nth_of_its_kind(*keys: np.ndarray) -> np.ndarray:
    """Return how many rows before it are the same in every key; int64, shape (n,).

    Parameters
    ----------
    *keys : ndarray, shape (n,)
        Numbers; nan is the same as nan.
    """
    count = len(keys[0])
    if not count:
        return np.zeros(0, np.int64)
    plain = [np.nan_to_num(key, nan=-1e300) if key.dtype.kind == "f" else key for key in keys]
    order = np.lexsort(plain)
    starts = np.ones(count, bool)
    starts[1:] = np.any([key[order][1:] != key[order][:-1] for key in plain], axis=0)
    begin = np.flatnonzero(starts)
    out = np.empty(count, np.int64)
    out[order] = np.arange(count) - np.repeat(begin, np.diff(np.append(begin, count)))
    return out
