"""A planting in words, CSV and JSON: the figures agree with one another, and people can read them."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
from types import SimpleNamespace

import pytest

from farmmap.plans.planting.outcome.report import LAST_WORDS, plan_report
from farmmap.plans.planting.outcome.words import aligned, plan_as_csv, plan_as_json, plan_as_text
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.plans.planting.recipes.recipe import Share, StockOrder
from tests.plans.counted_plan import counted_plan, fence

ZONES = [[("pūkio", "seedling", 1200), ("tōtara", "seedling", 34)], [("hybrid poplar", "pole", 90)], []]
ORDERS = {
    "seedling": StockOrder(lost_percent=10, pack=40, guard=1, price=2.5, months=(6, 7)),
    "pole": StockOrder(lost_percent=25, pack=5, pack_words="bundle", price=9.0, minutes=8, months=(6,)),
}
COVER = SimpleNamespace(
    years=(1.0, 5.0, 10.0, 20.0),
    cover_percent=(3.4, 20.0, 61.25, 100.0),
    with_low_percent=(9.0, 30.0, 70.0, 100.0),
    notes=("Every plant is taken to live.",),
)


def report_of(rates=None, zones=ZONES, cover=COVER):
    fences = [fence((0, 20), (100, 20), (180, 80), posts=40, gates=2)]
    shares = {"": Share(50, 25)}
    rates = {"fence_m": 12.0, "gate": 300, "hour": 30, "guard": 1} if rates is None else rates
    return plan_report(counted_plan(zones, ORDERS, fences, rates=rates, shares=shares), cover, -41.0)


def test_json_has_what_scripts_need_and_its_sums_agree():
    found = json.loads(plan_as_json(report_of()))
    assert found["area_ha"] == pytest.approx(3.0)
    assert found["clear_ha"] == pytest.approx(1.5)
    assert found["margin_length_m"] == 1000.0
    assert found["fence_m"] == pytest.approx(200.0)
    assert found["cover_percent_by_year"] == {"1": 3.4, "5": 20.0, "10": 61.25, "20": 100.0}
    assert found["plants"] == 1324 == sum(zone["plants"] for zone in found["zones"])
    assert found["plants_per_km"] == pytest.approx(1324)
    for zone in found["zones"]:
        assert zone["plants"] == sum(one["plants"] for one in zone["species"])
        assert zone["plants_per_ha"] == pytest.approx(zone["plants"] / zone["area_ha"])
        assert all(set(one) >= {"species", "stock", "plants", "to_order"} for one in zone["species"])
    to_order = sum(one["to_order"] for zone in found["zones"] for one in zone["species"])
    assert to_order == sum(one["to_order"] for one in found["to_order"]) == 1360 + 40 + 120
    assert found["cost_total"] == round(sum(line["cost"] for line in found["costs"] if line["cost"] is not None), 2)
    assert found["cost_total"] == pytest.approx(found["cost_grant"] + found["cost_in_kind"] + found["cost_own"])
    assert found["notes"][-2:] == list(LAST_WORDS)
    assert found["notes"].count("Check your local code.") == 1


def test_without_rates_the_total_is_null_and_words_say_so():
    zones = [[("pūkio", "seed", 1200)]]
    report = report_of({}, zones)
    assert json.loads(plan_as_json(report))["cost_total"] is None
    said = plan_as_text(report)
    assert "No rates are given in the recipe, so there are quantities only and no costs." in said
    assert "\nCosts\n" not in said


def test_text_for_people():
    said = plan_as_text(report_of())
    for words in (
        "By number: Sedge Creek, left bank, from 0 to 1,000 m",
        "Ground  3.00 ha, of it planted 1.50 ha",
        "Plants  1,324 (1,324 to the km of bank)",
        "Fence   200 m",
        "34 trays of 40",
        "24 bundles of 5",
        "June to July, year of planting",
        "Packs are filled once",
        "A map is no survey; a forecast is no advice.",
    ):
        assert words in said
    assert "!" not in said
    assert all(line == line.rstrip() for line in said.splitlines())
    table = said[said.index("Plants to order") :].splitlines()[2:6]
    assert {len(line.split("  ")[0]) for line in table} <= {len("hybrid poplar"), len("Species"), 5, 6}
    ends = [line.index(word) + len(word) for line, word in zip(table[2:4], ("1,360", "40  "), strict=True)]
    assert ends[0] == ends[1] - 2  # numbers stand to the right


def test_text_of_a_planting_without_a_plant_or_fence():
    report = plan_report(counted_plan([[("tōtara", "seedling", 0)]]))
    said = plan_as_text(report)
    assert "Plants  0" in said
    assert "Fence   none" in said
    assert "Nothing is planted: there is no room for a plant once the set-backs are taken out." in said
    bare = dataclasses.replace(counted_plan([[("tōtara", "seedling", 0)]]), area_m2=0.0)
    assert "Nothing is planted: the margin has no width along this stretch." in plan_as_text(plan_report(bare))
    assert "Nothing is planted" not in plan_as_text(plan_report(counted_plan([[]])))  # left in grass, as was asked
    assert "Calendar" not in said
    assert json.loads(plan_as_json(report))["cover_percent_by_year"] is None


def test_a_creek_of_any_name_leaves_the_terminal_alone():
    plan = counted_plan(ZONES, ORDERS)
    odd = dataclasses.replace(plan, stretch=dataclasses.replace(plan.stretch, creek="Sedge\x1b[31m\x07 Creek"))
    said = plan_as_text(plan_report(odd))
    assert "Sedge[31m Creek, left bank" in said
    assert not any(letter < " " for letter in said.replace("\n", ""))


def test_csv_of_the_zones():
    rows = list(csv.DictReader(io.StringIO(plan_as_csv(report_of()))))
    assert [(row["zone"], row["species"], row["stock"], row["plants"], row["to_order"]) for row in rows] == [
        ("Zone 1", "pūkio", "seedling", "1200", "1360"),
        ("Zone 1", "tōtara", "seedling", "34", "40"),
        ("Zone 2", "hybrid poplar", "pole", "90", "120"),
    ]


def test_an_aligned_table():
    assert aligned("Title", ("Name", "m"), [["a", "1,000"], ["long name", "5"]], (0,)).splitlines() == [
        "Title",
        "",
        "Name           m",
        "---------  -----",
        "a          1,000",
        "long name      5",
    ]
    assert aligned("Title", ("Name",), []) == ""


def test_rates_of_less_than_a_cent_are_shown_in_full_so_that_the_sums_can_be_followed():
    rates = {"guard": 0.0333, "gate": 1250.5, "fence_m": 12}
    shown = [line.split() for line in plan_as_text(report_of(rates)).splitlines()]
    (guards,) = [cells for cells in shown if cells[:2] == ["guards", "guards"]]
    assert guards[4] == "0.0333"
    assert float(guards[2].replace(",", "")) * float(guards[4]) == pytest.approx(float(guards[5]), abs=0.005)
    assert any(cells[:2] == ["fence", "gates"] and cells[4] == "1,250.50" for cells in shown)
    assert any(cells[:3] == ["fence", "fence,", "built"] and cells[5] == "12.00" for cells in shown)


def test_small_areas_are_told_to_the_square_metre():
    report = report_of()
    strips = tuple(dataclasses.replace(one, clear_m2=0.0) for one in report.plan.strips)
    small = dataclasses.replace(report.plan, area_m2=48.0, strips=strips)
    said = plan_as_text(plan_report(small, None, -41.0))
    assert "Ground  0.0048 ha, of it planted 0.00 ha" in said
    assert "Ground  3.00 ha, of it planted 1.50 ha" in plan_as_text(report)


def test_a_plant_is_called_one_thing_however_the_recipe_writes_it():
    zones = [[("pukio", "seedling", 10), ("MANUKA", "seedling", 5)], [("PUKIO", "seedling", 4), ("my own", "pole", 2)]]
    plan = counted_plan(zones, ORDERS, rates={"hour": 30})
    said = plan_as_text(plan_report(plan, kinds=plant_kinds()))
    assert [word for word in ("pukio", "PUKIO", "MANUKA") if word in said] == []
    assert said.count("pūkio") == 4  # in two zones, once to be ordered, once to be paid
    rows = list(csv.DictReader(io.StringIO(plan_as_csv(plan_report(plan, kinds=plant_kinds())))))
    assert [(row["species"], row["name"]) for row in rows] == [
        ("pukio", "pūkio"),
        ("MANUKA", "mānuka"),
        ("PUKIO", "pūkio"),
        ("my own", "my own"),
    ]
    values = json.loads(plan_as_json(plan_report(plan, kinds=plant_kinds())))
    assert [one["name"] for one in values["to_order"]] == ["pūkio", "mānuka", "my own"]
    assert values["zones"][0]["species"][0]["species"] == "pukio"  # as the recipe has it, for scripts
