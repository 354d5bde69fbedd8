"""docs/recipes.md tells every key with its limits and default, every rate, choice and rule, and its examples work."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from farmmap.plans.planting.recipes import keys
from farmmap.plans.planting.recipes.keys import Holds
from farmmap.plans.planting.recipes.rates import UNITS
from farmmap.plans.planting.recipes.recipe import FenceWish, Kin, Pattern, SetBacks, Share, StockOrder, WidthRule, Zone
from farmmap.plans.planting.recipes.recipe_file import recipe_from_text
from farmmap.plans.planting.recipes.rules import rule_sets
from farmmap.plans.planting.recipes.set_back_choices import set_back_choices

DOCS = (Path(__file__).resolve().parents[3] / "docs" / "recipes.md").read_text(encoding="utf-8")

SECTIONS = (
    ("## The whole recipe", keys.TOP, None),
    ("## `[[width]]`", keys.WIDTH, WidthRule),
    ("Steps of `by_channel`", keys.CHANNEL_STEP, None),
    ("Steps of `by_slope`", keys.SLOPE_STEP, None),
    ("### `[[rule]]`", keys.RULE, None),
    ("Each `[[rule.row]]`", keys.RULE_ROW, None),
    ("## `[[zone]]`", keys.ZONE, Zone),
    ("### `[[zone.plant]]`", keys.PLANT, Kin),
    ("## `[set_backs]`", keys.SET_BACKS, SetBacks),
    ("## `[fence]`", keys.FENCE, FenceWish),
    ("## `[order.seedling]`", keys.ORDER, StockOrder),
    ("## `[shares.plants]`", keys.SHARE, Share),
    ("## `[[kind]]`", keys.KIND, None),
)


def _rows(heading: str) -> dict[str, list[str]]:
    """Return the first table below a heading by its first cells."""
    below = DOCS[DOCS.index(f"\n{heading}") :]
    table = re.search(r"\n\| key .*\n\| ---.*\n((?:\|.*\n)+)", below)
    rows = [[cell.strip() for cell in line.strip("|").split(" | ")] for line in table.group(1).splitlines()]
    return {row[0].strip("|` "): row for row in rows}


@pytest.mark.parametrize(("heading", "keys", "made"), SECTIONS, ids=[heading for heading, _, _ in SECTIONS])
def test_every_key_is_told_with_its_limits_and_default(heading, keys, made):
    rows = _rows(heading)
    assert list(rows) == [key.name for key in keys]
    defaults = {field.name: field.default for field in dataclasses.fields(made)} if made else {}
    for key in keys:
        _, words, written, left_out = rows[key.name]
        assert words == key.words
        assert left_out.strip("| ")
        if key.holds in {Holds.NUMBER, Holds.WHOLE, Holds.NUMBERS}:
            assert f"{'over ' if key.over_least else ''}{key.least:.10g} to {key.most:.10g}" in written
            assert key.most < float("inf")
            assert ('"none"' in written) == key.or_none
            default = defaults.get(key.name)
            if isinstance(default, int | float) and key.name not in {"between_m", "within_m"}:  # must be given
                assert re.match(rf"{default:g}\b", left_out), key.name
        else:
            assert key.holds.value in written
        if isinstance(defaults.get(key.name), bool):
            assert left_out.startswith(str(defaults[key.name]).lower())


def test_units_stand_beside_the_numbers():
    for heading, described, _ in SECTIONS:
        rows = _rows(heading)
        for key in described:
            if key.holds in {Holds.NUMBER, Holds.NUMBERS}:
                for ending, unit in (("_m", " m"), ("_deg", " degrees"), ("percent", " %")):
                    assert not key.name.endswith(ending) or unit in rows[key.name][2], key.name


def test_set_backs_without_a_published_figure_say_so():
    rows = _rows("## `[set_backs]`")
    for field in dataclasses.fields(SetBacks):
        if field.default is None:
            assert rows[field.name][3] == "none: law differs from place to place"


def test_every_rate_choice_rule_and_pattern_is_told():
    for name, unit in UNITS.items():
        assert f"| `{name}` | {unit.words} | {unit.unit} | {unit.kind} |" in DOCS
    for choice in set_back_choices():
        assert f'| `{choice.thing}` | "{choice.choice}" | {choice.distance_m:g} |' in DOCS
    for name, rule in rule_sets().items():
        assert f'| "{name}" |' in DOCS
        assert all(f'"{purpose}"' in DOCS for purpose in rule.purposes if purpose)
    assert all(f'"{word}"' in DOCS for word in (*keys.PATTERNS, *(pattern.value for pattern in Pattern)))
    assert "check your local code" in DOCS


def test_the_examples_work():
    blocks = re.findall(r"```toml\n(.*?)```", DOCS, re.DOTALL)
    assert len(blocks) == 4
    for block in blocks:
        recipe_from_text(block, "docs/recipes.md")


def test_every_fault_that_a_recipe_can_have_is_explained():
    told = DOCS[DOCS.index("## When a recipe cannot be used") :].replace("`", "")
    for begins in (
        "there is no such key",
        "must be a number, not",
        "share and percent are both given",
        "gives both a share of the margin and a width",
        "does not say how wide it is",
        "the shares of the mix add up to",
        "the zones' shares of the margin's width add up to",
        "the zones are 12 m wide together, but the margin",
        "is no plant that the farm or farmmap knows",
        "stands in this zone already",
        "has no plants",
        "nothing is planted in a zone left in grass",
        "is no rule that farmmap or your own file knows",
        "has several purposes",
        "nothing lies between those limits",
        "a character that cannot be printed",
        "not more than that of the step before",
        "there is no [[width]]",
        "this key stands there twice",
    ):
        assert begins in told
