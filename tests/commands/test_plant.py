"""``farmmap plant`` as people and scripts use it."""

import csv
import io
import json
import shutil

import geopandas as gpd
import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.files.holding import take_hold
from farmmap.plans.planting.keeping.kept import plan_called, recipe_of
from farmmap.plans.planting.make import make_plan
from farmmap.resource_files import sample_farm_files
from farmmap.scene.page_plan import farm_without

RECIPE = """
title = "Sedges and tōtara"
[[width]]
width_m = 9

[[zone]]
name = "Water's edge"
width_m = 3
pattern = "triangular"
spacing_m = 1
[[zone.plant]]
species = "tōtara"
share = 0.3
[[zone.plant]]
species = "mānuka"
share = 0.7

[[zone]]
name = "Upper bank"
width_m = 6
pattern = "rows"
between_m = 2
within_m = 1.5
[[zone.plant]]
species = "coast redwood"
share = 1
stock = "pole"

[fence]
gates_every_m = 100

[order.seedling]
lost_percent = 20
pack = 40
price = 2.5
guard = 1
months = ["June", "July"]

[order.pole]
lost_percent = 25
pack = 5
pack_words = "bundle"
price = 9
months = ["June"]

[rates]
guard = 1.2
fence_m = 14
gate = 320
hour = 30

[shares.plants]
grant_percent = 50
"""


def run(*arguments, code=0):
    done = CliRunner().invoke(main, ["plant", *map(str, arguments)])
    assert done.exit_code == code, done.output
    assert "Traceback" not in done.output
    return done


@pytest.fixture
def farm_file(tmp_path, farm):
    path = tmp_path / "small.gpkg"
    write_farm(farm, path)
    return path


@pytest.fixture
def recipe(tmp_path):
    path = tmp_path / "recipe.toml"
    path.write_text(RECIPE, encoding="utf-8")
    return path


@pytest.fixture
def asked(farm_file, recipe):
    return farm_file, "--creek", "Sedge Creek", "--recipe", recipe


def test_json_holds_what_a_script_needs(asked):
    done = run(*asked, "--bank", "both", "--format", "json")
    plan = json.loads(done.stdout)
    assert done.stderr == ""
    assert plan["name"] == "Sedge Creek planting"
    assert plan["margin_length_m"] == pytest.approx(480, rel=1e-3)  # 240 m of straight creek, two banks
    assert plan["area_ha"] == pytest.approx(0.432, rel=2e-3)
    assert [zone["name"] for zone in plan["zones"]] == ["Water's edge", "Upper bank"]
    assert [zone["area_ha"] for zone in plan["zones"]] == pytest.approx([0.144, 0.288], rel=2e-3)
    edge = plan["zones"][0]
    assert set(edge) >= {"name", "area_ha", "plants", "plants_per_ha", "species"}
    assert {one["species"]: one["stock"] for one in edge["species"]} == {"tōtara": "seedling", "mānuka": "seedling"}
    totara, manuka = (one["plants"] for one in edge["species"])
    assert abs(totara - 0.3 * edge["plants"]) < 1
    assert totara + manuka == edge["plants"] > 1000
    assert plan["fence_m"] > 240
    assert plan["cost_total"] > 14 * plan["fence_m"]
    cover = plan["cover_percent_by_year"]
    assert list(cover) == ["1", "5", "10", "20"]
    assert 0 < cover["1"] < cover["5"] < cover["10"] <= cover["20"] <= 100


def test_one_bank_and_a_stretch_of_it(asked):
    whole = json.loads(run(*asked, "--bank", "left", "--format", "json").stdout)
    part = json.loads(run(*asked, "--bank", "left", "--from", 40, "--to", 100, "--format", "json").stdout)
    assert whole["banks"] == part["banks"] == ["left"]
    assert whole["margin_length_m"] == pytest.approx(240, rel=1e-3)
    assert part["margin_length_m"] == pytest.approx(60, rel=1e-3)
    assert (part["from_m"], part["to_m"]) == (40, 100)
    assert part["plants"] < whole["plants"] / 3


def test_the_same_input_gives_the_same_plan(asked):
    first, second = (run(*asked, "--bank", "both", "--format", "json").stdout for _ in range(2))
    assert first == second


def test_text_and_csv(asked):
    said = run(*asked, "--bank", "right", "--name", "Lower Sedge").stdout
    for words in ("Lower Sedge: Sedge Creek, right bank", "Plants to order", "trays of 40", "Costs", "Calendar"):
        assert words in said
    assert "A map is no survey; a forecast is no advice." in said
    rows = list(csv.DictReader(io.StringIO(run(*asked, "--bank", "right", "--format", "csv").stdout)))
    assert [row["species"] for row in rows] == ["tōtara", "mānuka", "coast redwood"]
    assert all(int(row["to_order"]) > int(row["plants"]) for row in rows)


def test_lines_of_the_csv_end_once_whatever_the_system(asked, monkeypatch):
    assert (
        run(*asked, "--bank", "right", "--format", "csv").stdout_bytes.count(b"\r\n") == 3
    )  # the last is the system's
    monkeypatch.setattr("farmmap.command_parts.os.linesep", "\r\n")
    assert b"\r" not in run(*asked, "--bank", "right", "--format", "csv").stdout_bytes


def test_the_creek_is_found_whatever_the_case_and_an_unknown_one_lists_those_there_are(asked, recipe):
    farm_file = asked[0]
    run(farm_file, "--creek", " sedge creek", "--bank", "left", "--recipe", recipe)
    said = run(farm_file, "--creek", "Rush Creek", "--bank", "left", "--recipe", recipe, code=1).stderr
    assert "no creek 'Rush Creek'" in said
    assert "Sedge Creek" in said


def test_a_farm_without_a_creek(tmp_path, farm, recipe):
    write_farm(farm.with_tables(creeks=farm.creeks.iloc[:0]), tmp_path / "dry.gpkg")
    said = run(tmp_path / "dry.gpkg", "--creek", "Sedge Creek", "--bank", "left", "--recipe", recipe, code=1).stderr
    assert "draw it or bring it in first" in said


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--from", "100", "--to", "40"], "40"),
        (["--from", "9000"], "240"),
        (["--from", "nan"], ""),
        (["--to", "inf"], ""),
    ],
)
def test_a_stretch_that_is_not_there(asked, options, words):
    done = run(*asked, "--bank", "left", *options, code=1)
    assert words in done.stderr
    assert done.stdout == ""


def test_a_recipe_that_cannot_work_says_which_line_and_why(asked, recipe):
    recipe.write_text(RECIPE.replace("share = 0.7", "share = 0.6").replace("spacing_m = 1", "spacing_m = 0"))
    said = run(*asked, "--bank", "left", code=1).stderr
    assert "line 10" in said
    assert "0.9" in said
    recipe.write_text(RECIPE.replace("width_m = 9", "width_m = 8"))
    assert "line" in run(*asked, "--bank", "left", code=1).stderr
    recipe.unlink()
    assert "recipe.toml" in run(*asked, "--bank", "left", code=1).stderr


def test_what_is_missing(asked, tmp_path, recipe):
    assert "--bank" in run(*asked, code=2).stderr
    assert "gone.gpkg" in run(
        tmp_path / "gone.gpkg", "--creek", "A", "--bank", "left", "--recipe", recipe, "--accept", code=1
    ).stderr  # fmt: skip
    assert not list(tmp_path.glob(".*held"))


@pytest.mark.parametrize("ending", ["gpx", "geojson", "csv", "gpkg"])
def test_the_pegging_list_goes_out(asked, tmp_path, ending):
    out = tmp_path / f"plan.{ending}"
    done = run(*asked, "--bank", "left", "--format", "json", "--out", out)
    plants = json.loads(done.stdout)["plants"]  # nothing else is in the way of a script
    assert f"{out}: {plants} plants" in done.stderr
    if ending == "csv":
        with out.open(encoding="utf-8-sig", newline="") as file:
            assert len(list(csv.reader(file))) > plants
    elif ending == "gpx":
        assert out.read_text(encoding="utf-8").count("<wpt") >= plants
    else:
        assert len(gpd.read_file(out, **({"layer": "plants"} if ending == "gpkg" else {}))) >= plants


def test_no_file_is_written_over_that_must_stay(asked, farm_file, recipe, tmp_path):
    before = farm_file.read_bytes()
    for out in (farm_file, farm_file.parent / "." / farm_file.name):
        assert "the farm itself" in run(*asked, "--bank", "left", "--out", out, code=2).stderr
    (tmp_path / "link.gpkg").hardlink_to(farm_file)
    assert "the farm itself" in run(*asked, "--bank", "left", "--out", tmp_path / "link.gpkg", code=2).stderr
    assert "ends in none" in run(*asked, "--bank", "left", "--out", recipe, code=2).stderr
    assert "make it first" in run(*asked, "--bank", "left", "--out", tmp_path / "no" / "plan.gpx", code=2).stderr
    long = tmp_path / f"{'x' * 300}.csv"
    assert "no file can be called so" in run(*asked, "--bank", "left", "--out", long, code=2).stderr
    assert farm_file.read_bytes() == before
    assert recipe.read_text(encoding="utf-8") == RECIPE


@pytest.mark.parametrize(("name", "told"), [("a\x1b[31mb", "U+001B"), ("a\nb", "a line break")])
def test_a_name_that_cannot_be_printed_is_refused(asked, name, told):
    done = run(*asked, "--bank", "left", "--name", name, code=1)
    assert f"the name of the plan (--name) holds {told}" in done.stderr
    assert done.stdout == ""


def test_own_rules_beside_the_recipe_are_brought_along_into_the_farm(asked, farm_file, recipe, tmp_path):
    rules = tmp_path / "margin_rules.csv"
    rules.write_text("rule_set,channel_m,width_m\nPipit county,up to 3,9\nPipit county,over 3,20\n", encoding="utf-8")
    recipe.write_text(RECIPE.replace("width_m = 9\n", 'rule_set = "Pipit county"\n', 1), encoding="utf-8")
    first = json.loads(run(*asked, "--bank", "left", "--name", "By rule", "--format", "json", "--accept").stdout)
    assert first["area_ha"] == pytest.approx(0.216, rel=2e-3)  # 240 m by 9 m: the channel is 2 m wide
    rules.unlink()
    farm = read_farm(farm_file)
    kept = plan_called(farm, "By rule")
    again = make_plan(farm_without(farm, "By rule"), kept.stretch, recipe_of(farm, kept), name="By rule")
    assert again.area_m2 == pytest.approx(first["area_ha"] * 10_000)
    assert len(again.plants) == first["plants"]


def test_accepting_puts_the_plan_into_the_farm_and_nothing_else_changes_it(asked, farm_file, farm):
    before = farm_file.read_bytes()
    run(*asked, "--bank", "left")
    assert farm_file.read_bytes() == before
    done = run(*asked, "--bank", "left", "--name", "Lower Sedge", "--format", "json", "--accept")
    plan = json.loads(done.stdout)
    assert "now in the farm" in done.stderr
    after = read_farm(farm_file)
    new = after.trees[~after.trees.index.isin(farm.trees.index)]
    assert len(new) == plan["plants"]
    assert set(new["plan"]) == {"Lower Sedge"}
    assert (after.fences["plan"] == "Lower Sedge").sum() > 0
    assert len(after.blocks) > len(farm.blocks)
    assert not list(farm_file.parent.glob(".*held"))
    again = run(*asked, "--bank", "left", "--name", "Lower Sedge", "--accept", code=1)
    assert "Lower Sedge" in again.stderr


def test_a_farm_that_is_open_elsewhere_is_planned_on_but_not_changed(asked, farm_file):
    before = farm_file.read_bytes()
    with take_hold(farm_file):
        run(*asked, "--bank", "left")
        assert "may only be looked at" in run(*asked, "--bank", "left", "--accept", code=1).stderr
    assert farm_file.read_bytes() == before


@pytest.mark.parametrize("recipe", ["sedge_edge_10m", "timber_rows_by_slope", "poles_on_steep_bank"])
def test_the_examples_on_the_sample_farm(tmp_path, recipe):
    for path in sample_farm_files():
        shutil.copy(path, tmp_path / path.name)
    example = sample_farm_files()[0].with_name(f"{recipe}.toml")
    plan = json.loads(
        run(
            tmp_path / "pipit_downs.gpkg", "--creek", "Sedge Creek", "--bank", "both", "--from", 100, "--to", 700,
            "--recipe", example, "--format", "json",
        ).stdout
    )  # fmt: skip
    assert plan["plants"] > 20
    assert plan["cost_total"] > 0
    assert plan["zones"]


def replant(*arguments, code=0):
    done = CliRunner().invoke(main, ["replant", *map(str, arguments)])
    assert done.exit_code == code, done.output
    return done


def test_replacing_the_dead_from_a_count(asked, farm_file, tmp_path):
    plan = json.loads(run(*asked, "--bank", "left", "--name", "Lower Sedge", "--format", "json", "--accept").stdout)
    before = farm_file.read_bytes()
    edge = plan["zones"][0]["species"]
    out = tmp_path / "again.csv"
    counts = ("--alive", "water's EDGE: totara=3/4", "--alive", "manuka=50/100", "--alive", "all=9/10")
    said = replant(farm_file, "--plan", "lower sedge", *counts, "--out", out).stdout
    assert "Lower Sedge: what to plant again" in said
    assert "plants to be planted again" in said
    with out.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    planted = [one["plants"] for one in (*edge, *plan["zones"][1]["species"])]
    assert [int(row["planted"]) for row in rows] == planted
    again = [number - round(number * share) for number, share in zip(planted, (0.75, 0.5, 0.9), strict=True)]
    assert [int(row["to_replace"]) for row in rows] == again
    assert [int(row["to_order"]) % int(row["pack"]) for row in rows if row["stock"] == "pole"] == [0]
    assert farm_file.read_bytes() == before


@pytest.mark.parametrize(
    ("counts", "code", "words"),
    [
        (["tōtara"], 2, "is no count; write it like"),
        (["=3/4"], 2, "is no count"),
        (["tōtara=-3/4"], 2, "is no count"),
        (["tōtara=5/4"], 1, "5 alive of 4 planted cannot be"),
        (["oak=3/4"], 1, "no 'oak' was planted"),
        (["Nowhere: tōtara=3/4"], 1, "no zone 'Nowhere'"),
    ],
)
def test_counts_that_cannot_be(asked, farm_file, counts, code, words):
    run(*asked, "--bank", "left", "--name", "Lower Sedge", "--accept")
    asked_for = [part for count in counts for part in ("--alive", count)]
    assert words in replant(farm_file, "--plan", "Lower Sedge", *asked_for, code=code).stderr


def test_replanting_what_is_not_there(asked, farm_file, tmp_path):
    assert "no plan called Lower Sedge" in replant(
        farm_file, "--plan", "Lower Sedge", "--alive", "all=1/2", code=1
    ).stderr  # fmt: skip
    assert "does not end in .csv" in replant(
        farm_file, "--plan", "Lower Sedge", "--alive", "all=1/2", "--out", tmp_path / "a.gpx", code=2
    ).stderr  # fmt: skip
