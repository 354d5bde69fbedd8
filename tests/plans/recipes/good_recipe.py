"""A recipe that can be used, and what is said of one that cannot."""

from __future__ import annotations

import dataclasses

import pytest

from farmmap.plans.planting.recipes.recipe import Recipe
from farmmap.plans.planting.recipes.recipe_file import RecipeError, recipe_from_text

GOOD = """\
title = "Ten"
[[width]]
width_m = 10
[[zone]]
name = "Edge"
width_m = 2
pattern = "triangular"
spacing_m = 0.75
[[zone.plant]]
species = "pukio"
percent = 60
[[zone.plant]]
species = "swamp sedge"
share = 0.4
[[zone]]
name = "Bank"
share = 0.8
between_m = 2
within_m = 1.5
groups_of = 3
[[zone.plant]]
species = "manuka"
stock = "Pole"
[fence]
wanted = false
[order.rooted_cutting]
months = ["Jun", 7, "august"]
[shares.others]
grant_percent = 50
[prices]
LSCO = 3
"""


def faults(text: str, **kwargs) -> list[tuple[int, str]]:
    """Return line and words of each fault of a recipe that cannot be used."""
    with pytest.raises(RecipeError) as error:
        recipe_from_text(text, "r.toml", **kwargs)
    assert all(fault.words in str(error.value) for fault in error.value.faults[:40])
    assert "r.toml cannot be used" in str(error.value)
    return [(fault.line, fault.words) for fault in error.value.faults]


def same(one: Recipe, other: Recipe) -> bool:
    """Whether two recipes are the same, lines aside."""
    return dataclasses.replace(one, lines={}) == dataclasses.replace(other, lines={})
