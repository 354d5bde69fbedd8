"""How wide and how tall the plants of a plan are so many years after planting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.recipe import PlantKind

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LOW_FORM = "sedge"


class Kinds(Protocol):
    """Whoever knows kinds of plants by code or name."""

    def find(self, word: str, /) -> PlantKind | None:
        """Return the kind of that code or name, None if it is not known."""


@dataclass(frozen=True, eq=False)
class Sizes:
    """Sizes of each kind of plant of a plan, in the order of `PlantingPlan.kinds`.

    Attributes
    ----------
    crown_m, height_m : ndarray of float, shape (kinds, years)
        Diameter of the crown and height; 0 where nothing is known of its growth. [m]
    low : ndarray of bool, shape (kinds,)
        Whether it is a sedge or other low growth, which makes no crown cover.
    unknown : tuple of str
        Kinds of whose growth nothing is known, as the recipe calls them.
    """

    crown_m: Floats
    height_m: Floats
    low: Bools
    unknown: tuple[str, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """What is to be said of kinds whose growth is not known."""
        if not self.unknown:
            return ()
        return (f"No growth figures for {', '.join(self.unknown)}: counted as without a crown.",)


def sizes_of_kinds(plan: PlantingPlan, kinds: Kinds, years: Sequence[float]) -> Sizes:
    """Return crown and height of each kind of plant at some years after planting.

    Straight lines between the ages given, from 0 at planting, held after the
    last. All plants of a kind are of one size: the spread between plants is
    not known beforehand.

    Parameters
    ----------
    plan : PlantingPlan
        The plan.
    kinds : Kinds
        What is known of kinds of plants.
    years : sequence of float
        Years since planting.
    """
    found = [kinds.find(kin.species) for _, kin in plan.kinds]
    asked = np.asarray(years, np.float64)
    shape = (len(found), len(asked))
    crown, height = np.zeros(shape), np.zeros(shape)
    unknown: dict[str, None] = {}
    for place, (kind, (_, kin)) in enumerate(zip(found, plan.kinds, strict=True)):
        if kind is None or not kind.years or not kind.crown_m:
            unknown[kin.species] = None
        if kind is not None:
            crown[place], height[place] = (
                _grown(kind.years, kind.crown_m, asked),
                _grown(kind.years, kind.height_m, asked),
            )
    low = np.array([kind is not None and kind.form == LOW_FORM for kind in found], bool)
    return Sizes(crown, height, low, tuple(unknown))


def sizes_at(plan: PlantingPlan, kinds: Kinds, year: float) -> tuple[Floats, Floats]:
    """Return crown diameter and height of every plant of a plan, each of shape (n,), in m.

    Parameters
    ----------
    plan, kinds
        As for `sizes_of_kinds`.
    year : float
        Years since planting.
    """
    sizes = sizes_of_kinds(plan, kinds, (year,))
    return sizes.crown_m[plan.plants.kin, 0], sizes.height_m[plan.plants.kin, 0]


def _grown(ages: tuple[float, ...], size_m: tuple[float, ...], years: Floats) -> Floats:
    """Sizes at some years, 0 where none are given."""
    if not ages or len(ages) != len(size_m):
        return np.zeros(len(years))
    begins: tuple[float, ...] = () if ages[0] <= 0 else (0.0,)
    return np.where(years < 0, 0.0, np.interp(years, (*begins, *ages), (*begins, *size_m)))
