"""Widths of a margin by constant, channel, slope, published rule and fence; the widest counts, and it changes evenly."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm, shaped
from farmmap.farm.heights import Heights
from farmmap.farm.schema import TABLES
from farmmap.plans.planting.ground.stretch import Stretch, find_part
from farmmap.plans.planting.ground.strips import margin_ground
from farmmap.plans.planting.ground.widths import CHANGE, BankWidths, bank_widths
from farmmap.plans.planting.recipes.recipe import Step, WidthRule
from farmmap.plans.planting.recipes.rules import rule_sets, rule_sets_from_text
from tests.place import EAST, NORTH
from tests.plans.meanders import creek_farm, wandering_creek

NAME = "Sedge Creek"
STEPS = (Step(3.0, 5.0), Step(None, 20.0))


def at(*corners: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in corners])


def wide(farm: Farm, *rules: WidthRule, side: int = 0, heights: Heights | None = None, sets=None) -> BankWidths:
    return bank_widths(farm, find_part(farm, Stretch(NAME, ("left", "right"))), side, rules, heights, sets or {})


def fenced(farm: Farm, *lines: LineString, stage: str = "existing") -> Farm:
    corner = np.array([EAST, NORTH])
    local = [shapely.transform(line, lambda corners: corners - corner) for line in lines]
    rows = shaped(
        TABLES["fences"], {"stage": [stage] * len(lines), "geometry": local}, np.arange(len(lines)) + 1, farm.grid
    )
    return farm.with_tables(fences=rows)


def slope(rise: float, *, from_x: float = -1000.0) -> Heights:
    """Ground that rises to the north by so much a metre from ``from_x`` on, level west of it, in cells of 5 m."""
    x, y = -97.5 + 5 * np.arange(80), 97.5 - 5 * np.arange(40)
    values = 100 + rise * y[:, None] * (x > from_x)[None, :]
    return Heights(values, -100, 100, 5, 5)


def widths_at(widths: BankWidths, *chainages: float) -> list[float]:
    return [float(np.interp(at, np.concatenate(widths.at_m), np.concatenate(widths.width_m))) for at in chainages]


@pytest.fixture
def straight() -> Farm:
    return creek_farm(at((0, 0), (200, 0)), 2.0, local=True)


def test_constant_and_the_widest_of_several(straight: Farm) -> None:
    assert wide(straight, WidthRule(width_m=10)).steady_m == 10
    assert wide(straight, WidthRule(width_m=10), WidthRule(width_m=14, most_m=12)).steady_m == 12
    assert wide(straight, WidthRule(width_m=2, least_m=3)).steady_m == 3


def test_by_channel_begins_to_widen_before_the_channel_does() -> None:
    farm = creek_farm([at((0, 0), (100, 0)), at((100, 0), (200, 0))], [2.0, 6.0], local=True)
    widths = wide(farm, WidthRule(by_channel=STEPS))
    assert widths.steady_m is None
    assert widths_at(widths, 0, 70, 85, 100, 200) == pytest.approx([5, 5, 12.5, 20, 20], abs=1e-6)
    part = find_part(farm, Stretch(NAME, ("left", "right")))
    assert margin_ground(farm, part, 0, widths).area == pytest.approx(70 * 5 + 30 * 12.5 + 100 * 20, abs=0.01)
    assert wide(farm, WidthRule(by_channel=STEPS), WidthRule(width_m=20)).steady_m == 20


@pytest.mark.parametrize(("channel", "width"), [(2.0, 5.0), (3.0, 5.0), (3.01, 20.0), (30.0, 20.0)])
def test_limits_of_steps_count_themselves(channel: float, width: float) -> None:
    farm = creek_farm(at((0, 0), (200, 0)), channel, local=True)
    assert wide(farm, WidthRule(by_channel=STEPS)).steady_m == width


@pytest.mark.parametrize("degrees", [4.0, 12.0])
def test_by_slope_of_a_tilted_plane(straight: Farm, degrees: float) -> None:
    steps = (Step(degrees - 0.01, 5.0), Step(degrees + 0.01, 8.0), Step(None, 20.0))
    for side in (0, 1):
        widths = wide(straight, WidthRule(by_slope=steps), side=side, heights=slope(np.tan(np.radians(degrees))))
        assert widths.steady_m == 8.0


def test_by_slope_that_changes_along_the_creek(straight: Farm) -> None:
    rule = WidthRule(by_slope=(Step(5.0, 6.0), Step(None, 16.0)), slope_within_m=10.0)
    widths = wide(straight, rule, heights=slope(0.3, from_x=100.0))
    assert widths_at(widths, 0, 60, 115, 200) == pytest.approx([6, 6, 16, 16])
    rise = np.diff(np.concatenate(widths.width_m)) / np.diff(np.concatenate(widths.at_m))
    assert np.abs(rise).max() <= CHANGE + 1e-9


def test_slope_beyond_the_elevation_grid_is_that_of_the_nearest_place() -> None:
    farm = creek_farm(at((0, 0), (600, 0)), 2.0, local=True)
    widths = wide(farm, WidthRule(by_slope=(Step(5.0, 6.0), Step(None, 16.0))), heights=slope(0.3))
    assert widths_at(widths, 100, 599) == [16, 16]
    assert any("does not reach all of the left bank of Sedge Creek" in note for note in widths.notes)


def test_published_rule_reproduces_its_table_and_stands_beside_the_width() -> None:
    text = (
        "rule_set,place,source,year,datum,purpose,condition,channel_m,width_m\n"
        "home,here,Own rule,2020,bank,,narrow,up to 3,7\n"
        "home,here,Own rule,2020,bank,,wide,over 3,11\n"
    )
    sets = rule_sets_from_text(text, "own.csv")
    for channel, width in ((2.0, 7), (4.0, 11)):
        farm = creek_farm(at((0, 0), (200, 0)), channel, local=True)
        widths = wide(farm, WidthRule(rule_set="home"), sets=sets)
        assert widths.steady_m == width
        assert any("check your local code" in note for note in widths.notes)


def test_every_published_rule_gives_a_width_or_says_what_it_needs(straight: Farm) -> None:
    for name, rules in rule_sets().items():
        for purpose in rules.purposes:
            widths = wide(straight, WidthRule(rule_set=name, purpose=purpose), heights=slope(0.2), sets=rule_sets())
            assert 0 <= widths.least_m <= widths.greatest_m <= 500


def test_out_to_a_fence_that_runs_aslant(straight: Farm) -> None:
    farm = fenced(straight, at((-20, 9), (220, 21)))
    widths = wide(farm, WidthRule(to_fence=True, most_m=40))
    assert widths_at(widths, 0, 100, 200) == pytest.approx([9, 14, 19], abs=1e-6)
    assert widths.notes == ()
    part = find_part(farm, Stretch(NAME, ("left", "right")))
    assert margin_ground(farm, part, 0, widths).area == pytest.approx(200 * 14, abs=0.01)
    assert wide(fenced(straight, at((-20, 9), (220, 21)), stage="planned"), WidthRule(to_fence=True)).greatest_m > 18


def test_fence_along_a_bent_creek_is_not_run_past() -> None:
    farm = creek_farm(at((0, 0), (100, 0), (200, 60)), 2.0, local=True)
    line = at((-5, 12), (95, 12), (200, 75))
    farm = fenced(farm, line)
    widths = wide(farm, WidthRule(to_fence=True, most_m=60))
    part = find_part(farm, Stretch(NAME, ("left", "right")))
    ground = margin_ground(farm, part, 0, widths)
    beyond = shapely.Polygon([(-5, 12), (95, 12), (200, 75), (200, 300), (-5, 300)])
    assert shapely.intersection(ground, beyond).area < 0.005 * ground.area


def test_fence_beyond_the_creek_or_too_far_is_not_seen() -> None:
    hairpin = at((0, 0), (100, 0), (100, 20), (0, 20))
    farm = fenced(creek_farm(hairpin, 2.0, local=True), at((-10, 30), (110, 30)))
    with pytest.raises(BadInput, match=r"none within 8 m of the right bank of Sedge Creek"):
        wide(farm, WidthRule(to_fence=True, most_m=8), side=1)
    widths = wide(farm, WidthRule(to_fence=True, most_m=40), WidthRule(width_m=3), side=0)
    assert widths.steady_m == 3  # the left bank looks into the hairpin only
    assert "100 % of the left bank" in widths.notes[0]


def test_where_there_is_no_fence_the_next_rule_counts(straight: Farm) -> None:
    farm = fenced(straight, at((-20, 9), (100, 9)))
    widths = wide(farm, WidthRule(to_fence=True, most_m=40), WidthRule(width_m=5))
    assert widths_at(widths, 0, 90, 120, 200) == pytest.approx([8, 8, 5, 5], abs=1e-6)
    assert "50 % of the left bank" in widths.notes[0]
    assert "as wide as the other rules say" in widths.notes[0]
    alone = wide(farm, WidthRule(to_fence=True, most_m=15))
    assert widths_at(alone, 0, 100, 114, 200) == pytest.approx([8, 8, 15, 15], abs=0.01)
    assert "15 m wide" in alone.notes[0]


def test_fence_nearer_than_another_rule_asks_is_told(straight: Farm) -> None:
    widths = wide(fenced(straight, at((-20, 9), (220, 9))), WidthRule(to_fence=True), WidthRule(width_m=12))
    assert widths.steady_m == 12
    assert any("the fence stands nearer" in note for note in widths.notes)


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        (WidthRule(by_slope=STEPS), "width rule 1 goes by slope, and no elevation grid is at hand"),
        (WidthRule(rule_set="nobody's"), "width rule 1 names the rule set 'nobody's', which is not known"),
        (WidthRule(to_fence=True), "width rule 1 runs out to the fence, but there is none within 500 m"),
        (WidthRule(), "width rule 1 says no width"),
    ],
)
def test_what_a_rule_lacks_is_told(straight: Farm, rule: WidthRule, words: str) -> None:
    with pytest.raises(BadInput) as told:
        wide(straight, rule)
    assert words in str(told.value)


def test_more_that_lacks(straight: Farm) -> None:
    with pytest.raises(BadInput, match="no rule says how wide"):
        wide(straight)
    far = creek_farm(at((5000, 0), (5200, 0)), 2.0, local=True)
    with pytest.raises(BadInput, match="the elevation grid does not reach the left bank"):
        wide(far, WidthRule(by_slope=STEPS), heights=slope(0.2))
    bank = creek_farm(at((0, 0), (200, 0)), local=True, drawn_as=["left bank"])
    part = find_part(bank, Stretch(NAME, ("left",)))
    with pytest.raises(
        BadInput, match="width rule 1 goes by the channel's width, but that of Sedge Creek is not known"
    ):
        bank_widths(bank, part, 0, (WidthRule(by_channel=STEPS),), None, {})


@given(st.integers(0, 1000), st.lists(st.floats(0.5, 12.0), min_size=2, max_size=5))
def test_never_narrower_than_asked_and_never_jumping(seed: int, channels: list[float]) -> None:
    line = wandering_creek(seed, 4 * len(channels) + 1, 20.0, 40.0)
    corners = shapely.get_coordinates(line)
    rows = [LineString(corners[4 * place : 4 * place + 5]) for place in range(len(channels))]
    farm = creek_farm(rows, channels)
    part = find_part(farm, Stretch(NAME, ("left", "right")))
    steps = (Step(2.0, 4.0), Step(6.0, 12.0), Step(None, 25.0))
    widths = bank_widths(farm, part, 0, (WidthRule(by_channel=steps),), None, {})
    for reach, place, width in zip(part.reaches, widths.at_m, widths.width_m, strict=True):
        channel = 2 * reach.half / part.creek.scale
        assert (
            width >= next(step.width_m for step in steps if step.up_to is None or channel <= step.up_to) - 1e-6
        ).all()
        assert (np.abs(np.diff(width)) <= CHANGE * np.diff(place) + 1e-6).all()
    assert widths.greatest_m <= 25


def test_same_widths_until_something_they_rest_on_changes(straight: Farm) -> None:
    rule = WidthRule(to_fence=True, most_m=30)
    farm = fenced(straight, at((-20, 9), (220, 21)))
    assert wide(farm, rule) is wide(farm, rule)
    assert wide(fenced(straight, at((-20, 5), (220, 5))), rule).greatest_m == pytest.approx(4)


def test_a_channel_given_as_0_is_the_narrowest_and_said() -> None:
    rule = WidthRule(by_channel=STEPS)
    widths = wide(creek_farm(at((0, 0), (200, 0)), 0.0, local=True), rule)
    assert widths.steady_m == 5.0
    assert any("given as 0 m wide" in note for note in widths.notes)
    unknown = creek_farm([at((0, 0), (100, 0)), at((100, 0), (200, 0))], [0.0, float("nan")], local=True)
    with pytest.raises(BadInput, match="not known everywhere"):
        wide(unknown, rule)
    known = wide(creek_farm(at((0, 0), (200, 0)), 2.0, local=True), rule)
    assert (known.steady_m, known.notes) == (5.0, ())


def test_a_rule_by_stream_order_says_that_the_widest_is_taken(straight: Farm) -> None:
    text = (
        "rule_set,place,source,year,datum,purpose,condition,channel_m,stream_order,width_m\n"
        "Ours,here,us,2026,bank,,small,,up to 2,7\nOurs,here,us,2026,bank,,large,,over 2,11\n"
    )
    widths = wide(straight, WidthRule(rule_set="Ours"), sets=rule_sets_from_text(text, "rules.csv"))
    assert widths.steady_m == 11.0
    assert any("goes by stream order, which the farm does not know" in note for note in widths.notes)


def test_a_margin_with_hardly_any_width_is_told(straight: Farm) -> None:
    assert wide(straight, WidthRule(width_m=0.4)).notes == (
        "The margin along the left bank of Sedge Creek is only 0.40 m: few plants, if any, find room there.",
    )
    near = fenced(straight, at((0, 1.5), (200, 31.5)))
    assert any("narrows to 0." in note for note in wide(near, WidthRule(to_fence=True)).notes)
    assert wide(straight, WidthRule(width_m=1.0)).notes == ()
