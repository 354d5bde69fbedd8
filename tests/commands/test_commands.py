"""The command line as people script it; nothing here draws, so it also runs where Qt is not installed."""

import csv
import io
import json
import math
import subprocess
import sys

import numpy as np
import pytest
from click.testing import CliRunner

from farmmap.commands import COMMANDS_OF_THEIR_OWN, main
from farmmap.figures.catalogue import CATALOGUE
from farmmap.files.farm_file import read_farm, write_farm
from tests.place import EAST, NORTH

BLOCK_KEYS = {
    "name", "gross_area_ha", "net_area_ha", "stems", "stems_per_ha", "basal_area_m2_per_ha", "qmd_cm",
    "measured_percent", "crown_cover_percent", "species",
}  # fmt: skip
MARGIN_KEYS = {
    "creek", "bank", "area_ha", "length_m", "mean_width_m", "fenced_percent", "cover_percent", "longest_gap_m",
}  # fmt: skip
TREE_KEYS = {
    "tag", "species", "block", "planted", "age_years", "dbh_cm", "measured_on", "mean_annual_increment_cm",
}  # fmt: skip


def run(*arguments, code=0):
    done = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert done.exit_code == code, done.output
    return done.output


@pytest.fixture
def path(tmp_path, farm):
    write_farm(farm, tmp_path / "small.gpkg")
    return tmp_path / "small.gpkg"


def test_new_makes_a_farm_and_says_its_grid_and_breast_height(tmp_path):
    path = tmp_path / "new.gpkg"
    said = run("new", path, "--name", "Pipit Downs", "--grid", "EPSG:2193")
    assert "New Zealand Transverse Mercator" in said
    assert "1.4 m" in said
    assert read_farm(path).settings.name == "Pipit Downs"
    assert "there already" in run("new", path, "--name", "Other", "--grid", "EPSG:2193", code=1)
    assert read_farm(path).settings.name == "Pipit Downs"


@pytest.mark.parametrize(
    ("grid", "words"), [("EPSG:4326", "plane grid"), ("EPSG:99999", "not a grid that is known"), ("NZ", "EPSG")]
)
def test_new_refuses_a_grid_of_no_use(tmp_path, grid, words):
    assert words in run("new", tmp_path / "a.gpkg", "--name", "A", "--grid", grid, code=1)
    assert not (tmp_path / "a.gpkg").exists()


def test_breast_height_can_be_chosen(tmp_path):
    run("new", tmp_path / "a.gpkg", "--name", "A", "--grid", "2193", "--breast-height", "1.3")
    assert read_farm(tmp_path / "a.gpkg").settings.breast_height_m == 1.3


def test_block_figures_as_json(path):
    blocks = json.loads(run("figures", path, "--of", "blocks", "--format", "json"))
    assert [block["name"] for block in blocks] == ["North Terrace", "Far Slope"]
    assert set(blocks[0]) >= BLOCK_KEYS
    terrace = blocks[0]
    assert terrace["gross_area_ha"] == pytest.approx(1.0, rel=1e-3)
    assert terrace["net_area_ha"] < terrace["gross_area_ha"]
    assert terrace["stems"] == 2  # tree 3 died, tree 6 stands by the creek
    basal_area = math.pi / 40000 * (22.5**2 + 18.0**2)
    assert terrace["basal_area_m2_per_ha"] == pytest.approx(basal_area / terrace["net_area_ha"], rel=1e-9)
    assert terrace["stems_per_ha"] == pytest.approx(2 / terrace["net_area_ha"], rel=1e-9)
    assert terrace["qmd_cm"] == pytest.approx(math.sqrt((22.5**2 + 18.0**2) / 2), rel=1e-9)
    assert blocks[1]["measured_percent"] == 50.0
    assert {"species", "stems", "basal_area_m2_per_ha"} <= set(terrace["species"][0])


def test_figures_go_back_to_what_was_measured_by_a_day(path):
    terrace = json.loads(run("figures", path, "--of", "blocks", "--on", "2013-01-01", "--format", "json"))[0]
    assert terrace["stems"] == 3  # tree 3 still lived
    assert terrace["qmd_cm"] == pytest.approx(math.sqrt((12.0**2 + 10.0**2) / 2), rel=1e-9)


def test_margin_figures_as_json(path):
    margins = json.loads(run("figures", path, "--of", "margins", "--format", "json"))
    assert {(margin["creek"], margin["bank"]) for margin in margins} == {
        ("Sedge Creek", "left"),
        ("Sedge Creek", "right"),
    }
    assert set(margins[0]) >= MARGIN_KEYS
    left = next(margin for margin in margins if margin["bank"] == "left")
    # 240 m of bank, looking east, so the left bank is the northern one; its margin is 10 m wide
    assert left["length_m"] == pytest.approx(240, rel=1e-3)
    assert left["mean_width_m"] == pytest.approx(10, rel=1e-3)
    assert left["area_ha"] == pytest.approx(0.24, rel=2e-3)
    assert left["fenced_percent"] == pytest.approx(50, abs=1)


def test_tree_figures_as_json(path):
    trees = {tree["tag"]: tree for tree in json.loads(run("figures", path, "--of", "trees", "--format", "json"))}
    assert set(trees["1"]) >= TREE_KEYS
    assert trees["1"]["block"] == "North Terrace"
    assert trees["1"]["dbh_cm"] == 22.5
    assert trees["1"]["measured_on"] == "2020-05-01"
    age = (np.datetime64("2020-05-01") - np.datetime64("2004-07-01")).astype(int) / 365.25
    assert trees["1"]["age_years"] == pytest.approx(age, abs=1e-6)
    assert trees["1"]["mean_annual_increment_cm"] == pytest.approx(22.5 / age, rel=1e-6)


@pytest.mark.parametrize("what", ["farm", "blocks", "margins", "trees"])
def test_every_table_as_text_csv_and_json(path, what):
    text = run("figures", path, "--of", what)
    assert "1.4 m" in text or what == "margins"
    rows = list(csv.DictReader(io.StringIO(run("figures", path, "--of", what, "--format", "csv"))))
    objects = json.loads(run("figures", path, "--of", what, "--format", "json"))
    assert len(rows) == len(objects) > 0


def test_an_empty_farm_has_figures_too(tmp_path):
    run("new", tmp_path / "a.gpkg", "--name", "A", "--grid", "2193")
    for what in ("blocks", "margins", "trees"):
        assert json.loads(run("figures", tmp_path / "a.gpkg", "--of", what, "--format", "json")) == []
        run("figures", tmp_path / "a.gpkg", "--of", what)
    run("figures", tmp_path / "a.gpkg", "--of", "farm")


def test_every_figure_that_is_given_out_can_be_explained(path):
    for what in ("farm", "blocks", "margins", "trees"):
        header = run("figures", path, "--of", what, "--format", "csv").splitlines()[0]
        for name in header.split(","):
            said = run("explain", name)
            assert CATALOGUE[name].title in said
            if CATALOGUE[name].places is not None:
                assert "Source" in said


def test_explain_takes_words_and_helps_with_a_slip(path):
    assert "m²" in run("explain", "basal", "area")
    assert "basal" in run("explain", "bassal area", code=1).lower()


def test_check_says_what_is_wrong_and_exits_with_1(path, farm):
    assert "nothing is wrong" in run("check", path)
    rows = farm.blocks.copy()
    rows["name"] = "Same"
    write_farm(farm.with_tables(blocks=rows), path, replace=True)
    assert "more than one block" in run("check", path, code=1)
    assert "not there" in run("check", path.parent / "none.gpkg", code=1)


def test_bring_reports_counts_and_sets_bad_rows_aside(path, tmp_path):
    source = tmp_path / "more trees.csv"
    source.write_text(
        "tag,species,x,y,dbh_cm\n"
        f"101,totara,{EAST + 40},{NORTH + 40},31.5\n"
        f"102,Silver Pipit,{EAST + 41},{NORTH + 40},-4\n"
        f"103,Silver Pipit,{EAST + 42},{NORTH + 40},12\n"
    )
    said = run("bring", source, "--into", path, "--as", "trees", "--measured-on", "2021-02-03")
    assert "3 rows read, 2 came in, 1 set aside" in said
    assert "row 3" in said
    assert "Silver Pipit" in said
    assert "2021-02-03" in said
    aside = next(tmp_path.glob("more trees*aside*"))
    assert "Silver Pipit" in aside.read_text()
    farm = read_farm(path)
    assert farm.trees["tag"].tolist()[-2:] == ["101", "103"]
    assert farm.measurements["dbh_cm"].tolist()[-2:] == [31.5, 12.0]
    assert "Silver Pipit" in farm.species["name"].tolist()


def test_bring_with_columns_named_by_hand(path, tmp_path):
    source = tmp_path / "odd.csv"
    source.write_text(f"who;a;b;round\n7a;{EAST + 40};{NORTH + 40};100,0\n")
    said = run(
        "bring",
        source,
        "--into",
        path,
        "--as",
        "trees",
        "--column",
        "tag=who",
        "--column",
        "x=a",
        "--column",
        "y=b",
        "--column",
        "girth_cm=round",
    )
    assert "1 row read, 1 came in, 0 set aside" in said
    assert read_farm(path).measurements["dbh_cm"].iloc[-1] == pytest.approx(100 / math.pi)
    assert "OURS=THEIRS" in run("bring", source, "--into", path, "--as", "trees", "--column", "tag", code=2)


def test_show_plan_writes_nothing(path, tmp_path):
    source = tmp_path / "t.csv"
    source.write_text(f"tag,x,y,dbh\n1,{EAST},{NORTH},20\n")
    before = path.read_bytes()
    assert "dbh_cm" in run("bring", source, "--into", path, "--as", "trees", "--show-plan")
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "arguments",
    [
        ("figures", "none.gpkg", "--of", "blocks"),
        ("none.gpkg",),
        ("bring", "none.csv", "--into", "none.gpkg", "--as", "trees"),
    ],
)
def test_a_missing_file_is_one_clear_line(arguments):
    said = run(*arguments, code=1)
    assert said.startswith("Error: ")
    assert said.count("\n") == 1


def test_bad_usage_exits_with_2(path):
    run("figures", path, "--of", "sheep", code=2)
    run("figures", path, "--of", "blocks", "--on", "31/5/2020", code=2)
    run("wander", code=2)
    run("sheet", path, "--out", "map.doc", code=2)


def test_python_m_farmmap_runs():
    done = subprocess.run([sys.executable, "-m", "farmmap", "--version"], capture_output=True, text=True, check=False)
    assert done.stdout.startswith("farmmap ")


def test_cover_of_trees_whose_crowns_nobody_knows_is_not_nought(path, farm):
    bare = farm.measurements.assign(dbh_cm=np.nan, crown_m=np.nan)
    write_farm(farm.with_tables(measurements=bare), path, replace=True)
    terrace = json.loads(run("figures", path, "--of", "blocks", "--format", "json"))[0]
    assert terrace["stems"] > 0
    assert terrace["crown_cover_percent"] is None
    write_farm(farm.with_tables(trees=farm.trees.iloc[:0], measurements=bare.iloc[:0]), path, replace=True)
    terrace = json.loads(run("figures", path, "--of", "blocks", "--format", "json"))[0]
    assert terrace["crown_cover_percent"] == 0.0


def test_a_tree_well_away_from_the_farm_comes_in_and_is_said(path, tmp_path):
    source = tmp_path / "away.csv"
    source.write_text(f"tag,x,y,dbh_cm\n201,{EAST + 40},{NORTH + 40},20\n202,{EAST + 9000},{NORTH},20\n")
    said = run("bring", source, "--into", path, "--as", "trees", "--measured-on", "2021-02-03")
    assert "2 rows read, 2 came in" in said
    assert "Row 3 lies up to 8.8 km away from the farm" in said


@pytest.mark.parametrize("name", COMMANDS_OF_THEIR_OWN)
def test_commands_with_modules_of_their_own_are_listed_and_found(name):
    assert f"\n  {name} " in run("--help")
    assert f" {name} " in run(name, "--help")


def test_commands_with_modules_of_their_own_are_brought_in_only_when_asked_for():
    code = "import sys, farmmap.commands; print([m for m in sys.modules if m.endswith('_command')])"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True, timeout=120)
    assert done.stdout.strip() == "[]"
