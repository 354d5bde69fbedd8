"""Recipes as properties: any is written and read back the same, and no scribble ends in anything but a message."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.plans.planting.recipes.keys import FENCE, KIND, ORDER, PLANT, SET_BACKS, SHARE, STOCKS, WIDTH, ZONE, Holds
from farmmap.plans.planting.recipes.limits import Span
from farmmap.plans.planting.recipes.printable import printable
from farmmap.plans.planting.recipes.rates import KINDS, UNITS
from farmmap.plans.planting.recipes.recipe import (
    FenceWish,
    Kin,
    Pattern,
    PlantKind,
    Recipe,
    SetBacks,
    Share,
    Step,
    StockOrder,
    WidthRule,
    Zone,
)
from farmmap.plans.planting.recipes.recipe_file import RecipeError, read_recipe, recipe_as_text, recipe_from_text
from farmmap.plans.planting.recipes.rule_set import RuleRow, RuleSet
from farmmap.plans.planting.recipes.rules import rule_sets

RULES = [(name, purpose) for name, rule in rule_sets().items() for purpose in rule.purposes]
SAMPLES = sorted((Path(__file__).resolve().parents[3] / "sample_farm").glob("*.toml"))


def same(one: Recipe, other: Recipe) -> bool:
    """Whether two recipes are the same, lines aside."""
    return dataclasses.replace(one, lines={}) == dataclasses.replace(other, lines={})


@given(st.data())
def test_mutated_recipes_give_a_recipe_or_say_why_not(data):
    text = data.draw(st.sampled_from([path.read_text(encoding="utf-8") for path in SAMPLES]))
    lines = text.splitlines()
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(lines) - 1))
        how = data.draw(st.sampled_from(["drop", "twice", "value", "move", "scribble"]))
        if how == "drop":
            lines[place] = ""
        elif how == "twice":
            lines.insert(place, lines[place])
        elif how == "value" and "=" in lines[place]:
            bad = data.draw(
                st.sampled_from(["nan", "inf", "-1", "0", "true", '"x"', "[]", "{}", "1e999", "[[1]]", "07:00:00"])
            )
            lines[place] = f"{lines[place].split('=')[0]}= {bad}"
        elif how == "move":
            lines.insert(data.draw(st.integers(0, len(lines) - 1)), lines.pop(place))
        else:
            at = data.draw(st.integers(0, len(lines[place])))
            lines[place] = lines[place][:at] + data.draw(st.text(max_size=5)) + lines[place][at:]
    _recipe_or_error("\n".join(lines))


@given(st.text(max_size=200) | st.text("[]{}=\"'\n\\#.,abwidth_m10 ", max_size=200))
def test_scribbles_give_a_message(text):
    _recipe_or_error(text)


def _recipe_or_error(text: str) -> None:
    try:
        recipe = recipe_from_text(text, "r.toml")
    except RecipeError as error:
        lines = [fault.line for fault in error.faults]
    else:
        lines = []
    if lines:
        assert min(lines) >= 0
        assert max(lines) <= text.count("\n") + 1
        return
    assert same(recipe, recipe_from_text(recipe_as_text(recipe), "again"))
    assert recipe.zones
    assert all(sum(kin.share for kin in zone.mix) == pytest.approx(1) for zone in recipe.zones if zone.mix)


@given(raw=st.binary(max_size=100))
def test_any_bytes_give_a_message(tmp_path_factory, raw):
    path = tmp_path_factory.mktemp("bytes") / "r.toml"
    path.write_bytes(raw)
    with pytest.raises(BadInput):
        read_recipe(path)


words = st.text(max_size=12).map(lambda text: printable(text).strip())
names = words.filter(lambda text: any(letter.isalnum() for letter in text))
share_lists = st.lists(st.integers(1, 1000), min_size=1, max_size=4).map(lambda n: [one / sum(n) for one in n])


def numbers(least: float, most: float):
    return st.floats(least, most) | st.integers(int(least) + 1, int(most)).map(float)


def from_keys(cls, keys):
    """Return a strategy for a part of a recipe, within the limits of its keys."""
    kinds = {
        Holds.TEXT: lambda key: words,
        Holds.YES_NO: lambda key: st.booleans(),
        Holds.NUMBER: lambda key: numbers(key.least, key.most),
        Holds.WHOLE: lambda key: st.integers(int(key.least), int(key.most)),
        Holds.MONTHS: lambda key: st.lists(st.integers(1, 12), unique=True).map(tuple),
    }
    return st.builds(cls, **{key.name: kinds[key.holds](key) for key in keys})


@st.composite
def steps(draw, most):
    limits = sorted(draw(st.sets(numbers(0.1, most), max_size=3)))
    return tuple(Step(limit, draw(numbers(0, 500))) for limit in [*limits, None])


@st.composite
def width_rules(draw):
    least, most = sorted((draw(numbers(0, 500)), draw(numbers(1, 500))))
    way = draw(
        st.one_of(
            st.builds(dict, width_m=numbers(0.1, 500)),
            st.builds(dict, by_channel=steps(500)),
            st.builds(dict, by_slope=steps(90)),
            st.sampled_from(RULES).map(lambda rule: {"rule_set": rule[0], "purpose": rule[1]}),
            st.just({"to_fence": True}),
        )
    )
    return WidthRule(**way, slope_within_m=draw(numbers(1, 500)), least_m=least, most_m=max(most, 0.5))


@st.composite
def spans(draw):
    low, high = sorted((draw(numbers(0, 30) | st.just(-math.inf)), draw(numbers(0, 30) | st.just(math.inf))))
    with_low, with_high = (draw(st.booleans()) or math.isinf(end) or low == high for end in (low, high))
    return Span(low, high, with_low, with_high)


@st.composite
def own_rules(draw):
    made = []
    for place in range(draw(st.integers(0, 2))):
        rows = []
        for _ in range(draw(st.integers(1, 3))):
            more = draw(numbers(0.1, 500))
            rows.append(
                RuleRow(
                    draw(words),
                    draw(words),
                    *(draw(spans()) for _ in range(4)),
                    draw(numbers(0, 500)),
                    more,
                    draw(numbers(0, 500)),
                )
            )
        made.append(
            RuleSet(f"own rule {place}", draw(words), draw(words), draw(words), draw(words), tuple(rows), own=True)
        )
    return made


@st.composite
def recipes(draw):
    kinds = [
        PlantKind(f"own{n}", f"own plant {n}", draw(words), draw(st.sampled_from(["tree", "shrub", "sedge"])), *growth)
        for n in range(draw(st.integers(0, 2)))
        for growth in [
            draw(st.sampled_from([("", (), (), (), ""), ("native", (1.0, 2.5), (0.1, 3.0), (0.2, 9.0), "me")]))
        ]
    ]
    grown = ["PTOT", "mānuka", "AGLU", "Carex secta", *(kind.name for kind in kinds)]
    widths = tuple(draw(st.lists(width_rules(), min_size=1, max_size=3)))
    zones = []
    for place, share in enumerate(draw(share_lists)):
        pattern = draw(st.sampled_from(list(Pattern)))
        apart = (0.0, 0.0) if pattern is Pattern.NONE else (draw(numbers(0.1, 100)), draw(numbers(0.1, 100)))
        if pattern in {Pattern.SQUARE, Pattern.TRIANGLE, Pattern.SCATTERED}:
            apart = (apart[0], apart[0])
        shares = [] if pattern is Pattern.NONE else draw(share_lists)
        species = draw(st.permutations(grown))
        stocks = st.sampled_from(STOCKS)
        mix = tuple(Kin(one, part, draw(stocks), draw(words)) for one, part in zip(species, shares, strict=False))
        rest = (draw(st.integers(1, 1000)), draw(numbers(0, 100)), draw(numbers(0, 200)), draw(words), draw(words))
        zones.append(Zone(f"{place} {draw(words)}".strip(), share, None, pattern, *apart, mix, *rest))
    distances = {
        field.name: draw(numbers(0, 100) if field.name == "crown_m" else st.none() | numbers(0, 200))
        for field in dataclasses.fields(SetBacks)
        if field.name != "source"
    }
    sources = draw(st.dictionaries(st.sampled_from(list(distances)), words.filter(bool)))
    grant = draw(st.dictionaries(st.sampled_from(["", *KINDS]), st.builds(Share, numbers(0, 50), numbers(0, 50))))
    money = numbers(0, 1e9)
    return Recipe(
        draw(words),
        widths,
        tuple(zones),
        draw(words),
        SetBacks(**distances, source=sources),
        draw(from_keys(FenceWish, FENCE)),
        draw(st.dictionaries(st.sampled_from(STOCKS), from_keys(StockOrder, ORDER))),
        draw(st.dictionaries(st.sampled_from(list(UNITS)), money)),
        grant,
        tuple(kinds),
        draw(st.dictionaries(st.sampled_from(["PTOT", "mānuka", "AGLU"]), money)),
        draw(words),
        draw(st.integers(0, 2**31 - 1)),
        tuple(draw(own_rules())),
    )


@given(recipes())
def test_a_recipe_written_and_read_is_the_same(recipe):
    again = recipe_from_text(recipe_as_text(recipe), "again")
    assert same(again, recipe)


def test_the_keys_tell_all_that_a_recipe_can_hold():
    parts = (
        (WidthRule, WIDTH),
        (Kin, PLANT),
        (SetBacks, SET_BACKS),
        (FenceWish, FENCE),
        (StockOrder, ORDER),
        (Share, SHARE),
        (PlantKind, KIND),
    )
    for cls, keys in parts:
        assert {field.name for field in dataclasses.fields(cls)} <= {key.name for key in keys}, cls
    assert {field.name for field in dataclasses.fields(Zone)} - {key.name for key in ZONE} == {"mix"}
