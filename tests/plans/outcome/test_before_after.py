"""Before and after of a planting: cover, gaps and shade of a creek that runs east."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from farmmap.errors import BadInput, Stopped
from farmmap.farm.farm import Farm
from farmmap.figures.standing import standing
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.outcome.before_after import BEFORE, BeforeAfter, before_after
from farmmap.plans.planting.outcome.cover import expected_cover
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.recipe import PlantKind
from tests.conftest import small_farm
from tests.place import EAST, NORTH
from tests.plans.grown_plan import KINDS, Listed, creek_plan, plan_with

FARM = small_farm()


def figure(found: BeforeAfter, name: str, bank: str = "") -> list[float]:
    """Return before and after, nan where they are not known."""
    rows = [row for row in found.rows if row.name == name and row.bank == bank]
    assert len(rows) == 1, (name, bank)
    return [known(rows[0].before), known(rows[0].after)]


def known(value: float | None) -> float:
    return np.nan if value is None else value


def with_gap(plan: PlantingPlan, west: float, east: float) -> PlantingPlan:
    """Leave out the plants of the left bank between two distances along the creek."""
    out = (plan.plants.strip == 0) & (plan.plants.x > EAST - 20 + west) & (plan.plants.x < EAST - 20 + east)
    kept = {field.name: getattr(plan.plants, field.name)[~out] for field in dataclasses.fields(plan.plants)}
    return dataclasses.replace(plan, plants=dataclasses.replace(plan.plants, **kept))


def test_a_planting_closes_the_gap_but_where_nothing_is_planted(farm: Farm) -> None:
    plan = with_gap(creek_plan(), 100.0, 150.0)
    found = before_after(farm, plan, KINDS, 10)
    crown = 4.0
    scale = plan.scale
    before, after = figure(found, "longest_gap_m", "left")
    assert after == pytest.approx((52 - crown) / scale, abs=2.1)  # plants stand 2 m apart
    there = standing(farm)
    tree = np.flatnonzero(there.y < NORTH)[0]
    free = there.x[tree] - there.crown_m[tree] / 2 - (EAST - 20), EAST + 220 - there.x[tree] - there.crown_m[tree] / 2
    assert before == pytest.approx(max(free), abs=1.1)
    assert figure(found, "longest_gap_m", "right")[0] == pytest.approx(240, abs=0.1)
    assert figure(found, "longest_gap_m", "right")[1] == 0
    assert figure(found, "bank_under_crowns_percent", "right") == pytest.approx([0, 100])
    assert figure(found, "bank_under_crowns_percent", "left")[1] == pytest.approx(100 * (240 - 48) / 240, abs=1)


def test_cover_is_that_of_the_forecast(farm: Farm) -> None:
    plan = creek_plan()
    found = before_after(farm, plan, KINDS, 10)
    cover = expected_cover(farm, plan, KINDS, (0, 10))
    assert figure(found, "cover_percent") == pytest.approx(list(cover.cover_percent))
    assert figure(found, "with_low_percent") == pytest.approx(list(cover.with_low_percent))
    for place, bank in enumerate(("left", "right")):
        assert figure(found, "cover_percent", bank) == pytest.approx(list(cover.by_strip[place].cover_percent))


def test_low_growth_fills_no_gap_and_adds_no_crown_cover(farm: Farm) -> None:
    found = before_after(farm, creek_plan(first=0), KINDS, 10)
    assert figure(found, "longest_gap_m", "right") == pytest.approx([240, 240], abs=0.1)
    assert figure(found, "cover_percent", "right") == [0, 0]
    assert figure(found, "with_low_percent", "right")[1] > 5


def test_in_the_south_the_bank_to_the_north_gives_more_shade_once_it_is_high(farm: Farm) -> None:
    found = before_after(farm, creek_plan(), KINDS, 20)
    banks = [row for row in found.rows if row.name == "shade_by_bank_percent"]
    assert "north of the water" in banks[0].what
    assert "south of the water" in banks[1].what
    north, south = (figure(found, "shade_by_bank_percent", bank)[1] for bank in ("left", "right"))
    assert north > south > 0
    before, after = figure(found, "shade_percent")
    assert before < 5 < north < after <= 100
    assert "21 December" in found.rows[-3].what
    equinox = before_after(farm, creek_plan(), KINDS, 20, on=dt.date(2026, 3, 20))
    assert figure(equinox, "shade_by_bank_percent", "right")[1] < south


def test_shade_and_high_plants_grow_with_the_years(farm: Farm) -> None:
    shades, high = [], []
    for year in (0, 1, 5, 10, 20):
        found = before_after(farm, creek_plan(), KINDS, year)
        shades.append(figure(found, "shade_percent")[1])
        high.append(figure(found, "high_enough_percent", "right")[1])
    assert shades == sorted(shades)
    assert high[:2] == [0, 0]  # 0.6 m high after a year, beside a channel of 2 m
    assert high[2:] == pytest.approx([100, 100, 100])


def test_words_and_heads_fit_each_other(farm: Farm) -> None:
    found = before_after(farm, creek_plan(), KINDS, 5)
    assert found.heads[3] == "After 5 years"
    assert all(len(row) == len(found.heads) and all(isinstance(cell, str) for cell in row) for row in found.as_words())
    assert any("70 % shade" in note for note in found.notes)
    assert any("without a height (1)" in note for note in found.notes)


def test_a_channel_of_unknown_width_is_said(farm: Farm) -> None:
    creeks = farm.creeks.copy()
    creeks["channel_m"] = np.nan
    found = before_after(farm.with_tables(creeks=creeks), creek_plan(), KINDS, 20)
    assert figure(found, "high_enough_percent", "left") == pytest.approx([np.nan, np.nan], nan_ok=True)
    assert figure(found, "shade_percent")[1] > 10
    assert any("creek's line" in note for note in found.notes)


def test_a_farm_measured_from_a_corner_post_has_no_shade_but_all_else(farm: Farm) -> None:
    farm.__dict__["grid"] = dataclasses.replace(farm.grid, local=True)  # as of a farm with small coordinates
    found = before_after(farm, creek_plan(), KINDS, 10)
    assert not [row for row in found.rows if row.name.startswith("shade")]
    assert figure(found, "cover_percent")[1] > 20
    assert any("latitude" in note for note in found.notes)


def test_a_winter_without_sun_is_said(farm: Farm, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        type(farm.grid), "lon_lat", lambda _, x, y: (np.asarray(x), np.asarray(-66.0) + 0 * np.asarray(y))
    )
    monkeypatch.setattr(type(farm.grid), "convergence_deg", lambda *_: 0.0)
    found = before_after(farm, creek_plan(), KINDS, 10, on=dt.date(2026, 6, 21))
    assert not [row for row in found.rows if row.name.startswith("shade")]
    assert any("stays below" in note for note in found.notes)


def test_plans_without_plants_growth_banks_or_ground_change_nothing(farm: Farm) -> None:
    planted = creek_plan()
    empty = plan_with([], [], [])
    no_plants = dataclasses.replace(planted, plants=empty.plants)
    unknown = Listed()
    one_year = Listed(PlantKind("TREE", "tree", years=(1,), crown_m=(0.5,), height_m=(0.6,)))
    bare = farm.with_tables(trees=farm.trees.iloc[:0], measurements=farm.measurements.iloc[:0])
    for on_farm in (farm, bare):
        for plan, kinds in ((empty, KINDS), (no_plants, KINDS), (planted, unknown), (planted, one_year)):
            for quick in (False, True):
                found = before_after(on_farm, plan, kinds, 0, quick=quick)
                for row in found.rows:
                    assert row.before is None or row.before == pytest.approx(row.after, abs=1e-9)
    assert figure(before_after(bare, planted, one_year, 30), "cover_percent")[1] > 0
    no_ground = plan_with([(0, shapely.Polygon())], [], [], banks={0: shapely.LineString()})
    assert before_after(farm, no_ground, KINDS, 5).rows


def test_a_creek_that_is_gone_is_refused_in_words(farm: Farm) -> None:
    plan = dataclasses.replace(creek_plan(), stretch=Stretch("Dry Creek", ("left",)))
    with pytest.raises(BadInput, match="Dry Creek"):
        before_after(farm, plan, KINDS, 5)


@given(
    year=st.floats(0, 40),
    rows=st.lists(st.tuples(st.floats(-20, 220), st.floats(-29, -19), st.integers(0, 2)), max_size=15),
)
def test_figures_stay_within_their_bounds_and_never_get_worse(
    year: float, rows: list[tuple[float, float, int]]
) -> None:
    ground = shapely.box(EAST - 20, NORTH - 29, EAST + 220, NORTH - 19)
    bank = shapely.LineString([(EAST - 20, NORTH - 29), (EAST + 220, NORTH - 29)])
    plants = [(EAST + x, NORTH + y, 0, kind) for x, y, kind in rows]
    plan = plan_with([(0, ground)], ("SEDG", "SHRU", "TREE"), plants, banks={0: bank})
    for row in before_after(FARM, plan, KINDS, year, quick=True).rows:
        most = 100.0 if row.unit == "%" else 240.1
        if row.before is not None:
            better = -1 if row.name == "longest_gap_m" else 1
            assert better * row.before <= better * known(row.after) + 1e-9
        assert 0 <= known(row.after) <= most + 1e-9


def test_a_cover_that_is_at_hand_gives_the_same_figures(farm: Farm) -> None:
    plan = creek_plan()
    cover = expected_cover(farm, plan, KINDS, (BEFORE, 1.0, 20.0))
    assert before_after(farm, plan, KINDS, 20, cover=cover).rows == before_after(farm, plan, KINDS, 20).rows


def test_a_plan_without_plants_changes_nothing(farm: Farm) -> None:
    plan = creek_plan()
    none = {field.name: getattr(plan.plants, field.name)[:0] for field in dataclasses.fields(plan.plants)}
    bare = dataclasses.replace(plan, plants=dataclasses.replace(plan.plants, **none))
    for row in before_after(farm, bare, KINDS, 20).rows:
        assert row.before is None or row.after == pytest.approx(row.before), row


def test_whoever_asks_to_stop_is_heard(farm: Farm) -> None:
    heard: list[str] = []

    class Impatient:
        def step(self, _done: int, _total: int, what: str) -> None:
            heard.append(what)
            if what == self.until:
                raise Stopped("enough")

        until = ""

    for until in ("Joining crowns", "Looking along the banks", "Following the sun"):
        Impatient.until = until
        heard.clear()
        with pytest.raises(Stopped):
            before_after(farm, creek_plan(), KINDS, 20, progress=Impatient())
        assert heard[-1] == until
        assert heard.count(until) == 1


def test_one_year_is_no_years(farm: Farm) -> None:
    assert before_after(farm, creek_plan(), KINDS, 1, quick=True).heads[3] == "After 1 year"
