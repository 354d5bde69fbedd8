"""Open repeat readings of trees, as the growth fits take them."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.growth.readings import Readings

DATA = Path(__file__).parent / "data"
Floats = NDArray[np.float64]


def columns(name: str) -> dict[str, Floats]:
    """Columns of a file of numbers; nan where nothing is written."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {key: np.array([float(row[key] or "nan") for row in rows]) for key in rows[0]}


def as_rows(tree: Floats, age: Floats, size: Floats) -> tuple[Floats, Floats]:
    """Ages and sizes of trees that were all measured equally often, a row for each tree."""
    order = np.lexsort((age, tree))
    shape = (len(np.unique(tree)), -1)
    return age[order].reshape(shape), size[order].reshape(shape)


def readings(
    tree: Iterable[float],
    year: Iterable[float],
    size: Iterable[float],
    planted: float | Floats,
    species: NDArray[np.int64] | None = None,
) -> Readings:
    """Readings of trees planted at a time; of species "A", "B" and so on."""
    tree, year, size = (np.asarray(list(one), np.float64) for one in (tree, year, size))
    order = np.lexsort((year, tree))
    _, at = np.unique(tree[order], return_inverse=True)
    many = int(at.max()) + 1
    count = np.bincount(at, minlength=many)
    of = np.zeros(many, np.int64) if species is None else species
    return Readings(
        np.arange(1, many + 1),
        of,
        tuple("ABCDEFGHIJ"[: int(of.max()) + 1]),
        np.broadcast_to(np.asarray(planted, np.float64), many).copy(),
        np.zeros(many),
        np.zeros(many, np.int64),
        ("seedling",),
        np.cumsum(count) - count,
        count,
        at,
        year[order],
        size[order],
    )


def orange() -> Readings:
    """Orange trees: girths in mm, time in hundreds of days, for they are full grown at 16 of these; planted on day 0."""
    data = columns("orange.csv")
    return readings(data["tree"], 2000 + data["age_days"] / 100, data["girth_mm"], 2000.0)


def loblolly() -> Readings:
    """Loblolly pines by seed source: heights in feet."""
    data = columns("loblolly.csv")
    return readings(data["seed"], 2000 + data["age_years"], data["height_ft"], 2000.0)
