"""What each tree of a block is worth as a crop tree, from 0 to 1, by weights that can be changed."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.figures.growth.targets import targets_of
from farmmap.figures.margins import margins
from farmmap.figures.prepared import prepared
from farmmap.plans.thinning.stand import BlockTrees
from farmmap.resource_files import resource_path

Floats = NDArray[np.float64]

FORM_SCORES: Mapping[str, float] = MappingProxyType({"good": 1.0, "fair": 0.55, "poor": 0.0, "": 0.5})
"""Score of each form; common practice."""

UNKNOWN = 0.4
"""Score where nothing was measured: a little under the middle."""

PRUNED_FULL_M = 6.0
"""Pruned height that counts in full: one long butt log. Common practice. [m]"""

FALL_M = 20.0
"""How far a tree of unknown height is taken to fall. [m]"""

WORKS_M = 3.0
"""Planned fences, tracks and hazards are kept clear so far, for lack of a width. [m]"""

BESIDE = 1.5
"""Neighbours are looked at so many mean spacings away."""

LEAST_WORTH = 0.01
"""Worth of a tree with nothing to speak for it, so that a free place is rather filled than not."""


@dataclass(frozen=True)
class Weight:
    """How much one thing counts.

    Attributes
    ----------
    key : str
        Its name.
    weight : float
        How much it counts beside the others.
    words : str
        What is looked at.
    source : str
        Where the weight comes from.
    """

    key: str
    weight: float
    words: str
    source: str


@cache
def usual_weights() -> Mapping[str, Weight]:
    """Return the weights of ``resources/crop_weights.csv`` by key."""
    with resource_path("crop_weights.csv").open(encoding="utf-8", newline="") as file:
        return MappingProxyType(
            {
                row["key"]: Weight(row["key"], float(row["weight"]), row["words"], row["source"])
                for row in csv.DictReader(file)
            }
        )


def weights_with(changed: Mapping[str, float]) -> dict[str, float]:
    """Return the usual weights with some of them changed.

    Raises
    ------
    BadInput
        A key is not known, a weight is no number or less than 0, or all are 0.
    """
    usual = usual_weights()
    for key, value in changed.items():
        if key not in usual:
            raise BadInput(f"nothing called '{key}' counts for crop trees; there are {', '.join(usual)}")
        if not (np.isfinite(value) and 0 <= value <= 1000):
            raise BadInput(f"the weight of {key} is 0 to 1000, not {value:g}")
    weights = {key: float(changed.get(key, one.weight)) for key, one in usual.items()}
    if not any(weights.values()):
        raise BadInput("all weights are 0; give at least one thing a weight, so that trees can be told apart")
    return weights


def worths(trees: BlockTrees, weights: Mapping[str, float], species: Mapping[str, float] | None = None) -> Floats:
    """Return what each tree is worth as a crop tree: Σ weight·score ÷ Σ weight, shape (n,), more than 0 up to 1.

    Parameters
    ----------
    trees : BlockTrees
        The trees.
    weights : mapping of str to float
        Weight of every key of `usual_weights`.
    species : mapping of str to float, optional
        How much a species is wanted, by code.
    """
    found = scores(trees, species or {})
    together = sum(weights.values())
    total = sum((weights[key] * found[key] for key in found), np.zeros(len(trees)))
    return np.maximum(total / together, LEAST_WORTH)


def scores(trees: BlockTrees, species: Mapping[str, float]) -> dict[str, Floats]:
    """Return the score of each tree under each key of `usual_weights`, 0 to 1, shape (n,)."""
    dominance, room = _beside(trees)
    return {
        "form": np.array([FORM_SCORES.get(str(form), UNKNOWN) for form in trees.forms], np.float64).reshape(-1),
        "diameter": _diameter(trees),
        "species": _species(trees, species),
        "dominance": dominance,
        "room": room,
        "pruned": np.clip(np.nan_to_num(trees.pruned_m) / PRUNED_FULL_M, 0.0, 1.0),
        "clear": _clear(trees),
    }


def _diameter(trees: BlockTrees) -> Floats:
    """Half of the mean diameter of the block scores 0, half as much again 1."""
    dbh = trees.dbh_cm
    if not np.isfinite(dbh).any():
        return np.full(len(dbh), UNKNOWN)
    mean = float(np.sqrt(np.nanmean(np.square(dbh))))
    return np.where(np.isfinite(dbh), np.clip(dbh / max(mean, 1e-9) - 0.5, 0.0, 1.0), UNKNOWN)


def _species(trees: BlockTrees, wanted: Mapping[str, float]) -> Floats:
    aimed = targets_of(trees.farm).own
    others = 0.5 if aimed and "" not in aimed else 1.0
    each = [wanted.get(code, 1.0 if code in aimed else others) for code in trees.there.species_names]
    return np.array(each, np.float64)[trees.species] if each else np.zeros(len(trees))


def _beside(trees: BlockTrees) -> tuple[Floats, Floats]:
    """Share of near neighbours that are thinner, and how free it stands, each 0 to 1."""
    from scipy.spatial import cKDTree  # noqa: PLC0415

    count = len(trees)
    if count < 2 or trees.net_ha <= 0:
        return np.ones(count), np.ones(count)
    spacing = float(np.sqrt(trees.net_ha * 1e4 / count))
    tree = cKDTree(np.column_stack([trees.east_m, trees.north_m]))
    nearest = tree.query(tree.data, k=2)[0][:, 1]
    room = np.clip(nearest / spacing, 0.0, 1.0)
    many = min(count, 13)  # a tree has no more than a dozen neighbours that matter
    away, other = tree.query(tree.data, k=many)
    own = np.where(np.isfinite(trees.dbh_cm), trees.dbh_cm, np.nan)
    near = (away[:, 1:] <= BESIDE * spacing) & np.isfinite(own[other[:, 1:]])
    thinner = near & (own[other[:, 1:]] <= own[:, None])
    beside = near.sum(axis=1)
    share = thinner.sum(axis=1) / np.maximum(beside, 1)
    return np.where(np.isnan(own), UNKNOWN, np.where(beside > 0, share, 1.0)), room


def _clear(trees: BlockTrees) -> Floats:
    """0 in a creek margin, beside planned works and under lines; up to 1 where it can be felled clear of hazards."""
    if not len(trees):
        return np.zeros(0)
    points = shapely.points(trees.x, trees.y)
    fall = np.where(np.isfinite(trees.height_m), trees.height_m, FALL_M)
    score = np.ones(len(trees))
    for hazard, clear in zip(*_near(trees, "hazards", "existing", "clear_m"), strict=True):
        away = shapely.distance(prepared(hazard), points) / trees.scale - clear
        score = np.minimum(score, np.clip(away / np.maximum(fall, 1.0), 0.0, 1.0))
    for margin in margins(trees.farm):
        if margin.polygon.intersects(trees.net.envelope):
            score[shapely.intersects(prepared(margin.polygon), points)] = 0.0
    for table, width in (("tracks", "width_m"), ("hazards", "clear_m"), ("fences", "")):
        for works, wide in zip(*_near(trees, table, "planned", width), strict=True):
            reach = (wide / 2 if table == "tracks" else wide) + WORKS_M
            score[shapely.distance(prepared(works), points) / trees.scale <= reach] = 0.0
    return score


def _near(trees: BlockTrees, table: str, stage: str, width: str) -> tuple[list[shapely.Geometry], list[float]]:
    """Shapes of a table near the block, and the width that each has. [ground m]."""
    frame = trees.farm.tables[table]
    shapes = frame["geometry"].to_numpy()
    here = (frame["stage"] == stage).to_numpy(bool) & (
        shapely.distance(shapes, trees.net.envelope) <= 60.0 * trees.scale
    )
    wide = frame[width].fillna(0.0).to_numpy(np.float64) if width else np.zeros(len(frame))
    return list(shapes[here]), wide[here].tolist()
