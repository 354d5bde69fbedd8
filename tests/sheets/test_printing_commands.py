"""The commands that draw, run as people run them."""

import os
import subprocess
import sys

import click
import pdfplumber
import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.editing.kept_sheets import sheet_kept
from farmmap.files.farm_file import write_farm
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.keeping.kept import plan_kept
from farmmap.plans.planting.make import make_plan
from farmmap.plans.planting.recipes.recipe import Kin, Recipe, WidthRule, Zone
from farmmap.scene.paper import PAPERS
from farmmap.sheets.chosen import SheetChoices, written
from farmmap.sheets.page import SheetOptions
from tests.conftest import small_farm


def run(*arguments, **env):
    kept = {k: v for k, v in os.environ.items() if k not in {"DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"}}
    command = [sys.executable, "-m", "farmmap", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, env={**kept, **env})


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere there is always a screen")
def test_the_demo_without_a_screen_prints_tables_and_writes_the_map(tmp_path):
    done = run("demo", "--out", tmp_path / "demo", DISPLAY=":4711")
    assert done.returncode == 0, done.stderr
    assert "no screen" in done.stdout
    assert "Ridge Pines" in done.stdout
    assert "Sedge Creek  left" in done.stdout
    assert (tmp_path / "demo" / "pipit_downs.png").read_bytes().startswith(b"\x89PNG")
    with pdfplumber.open(tmp_path / "demo" / "pipit_downs.pdf") as pdf:
        assert "Pipit Downs" in pdf.pages[0].extract_text()


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere there is always a screen")
def test_a_window_without_a_screen_is_refused_in_words(tmp_path):
    write_farm(small_farm(), tmp_path / "farm.gpkg")
    done = run(tmp_path / "farm.gpkg")
    assert done.returncode == 1
    assert "no screen" in done.stderr


@pytest.mark.parametrize(("paper", "way", "wide"), [("A4", "--portrait", 210), ("A1", "--landscape", 841)])
def test_sheet_prints_the_paper_and_scale_asked_for(tmp_path, qapp, paper, way, wide):
    write_farm(small_farm(), tmp_path / "farm.gpkg")
    out = tmp_path / "map.pdf"
    done = CliRunner().invoke(
        main,
        [
            "sheet",
            str(tmp_path / "farm.gpkg"),
            "--out",
            str(out),
            "--paper",
            paper,
            way,
            "--scale",
            "2500",
            "--title",
            "Creek works",
        ],
    )
    assert done.exit_code == 0, done.output
    with pdfplumber.open(out) as pdf:
        assert float(pdf.pages[0].width) == pytest.approx(wide / 25.4 * 72, abs=0.1 / 25.4 * 72)
        said = pdf.pages[0].extract_text()
    assert "Creek works" in said
    assert "1:2\u202f500" in said or "1:2 500" in said


def test_sheet_prints_a_plan_that_the_farm_keeps(tmp_path, qapp):
    recipe = Recipe("Redwoods", (WidthRule(width_m=8.0),), (Zone("Bank", share=1.0, between_m=2.0, within_m=2.0, mix=(Kin("coast redwood", 1.0),)),))  # fmt: skip
    farm, path, out = small_farm(), tmp_path / "farm.gpkg", tmp_path / "plan.pdf"
    plan = make_plan(farm, Stretch("Sedge Creek", ("right",), 20.0, 120.0), recipe, name="Lower Sedge")
    write_farm(plan_kept(farm, plan).edit.apply(farm), path)
    done = CliRunner().invoke(main, ["sheet", str(path), "--out", str(out), "--plan", "lower sedge", "--paper", "A4"])
    assert done.exit_code == 0, done.output
    assert "A4" in done.output
    with pdfplumber.open(out) as pdf:
        said = pdf.pages[0].extract_text()
    assert "Lower Sedge" in said
    assert "Plants to order" in said
    missing = CliRunner().invoke(main, ["sheet", str(path), "--out", str(out), "--plan", "Upper Sedge"])
    assert missing.exit_code == 1
    assert "no plan called Upper Sedge; it has Lower Sedge" in missing.output


def test_an_empty_farm_has_no_map_to_print(tmp_path, qapp):
    farm = tmp_path / "a.gpkg"
    CliRunner().invoke(main, ["new", str(farm), "--name", "A", "--grid", "2193"])
    done = CliRunner().invoke(main, ["sheet", str(farm), "--out", str(tmp_path / "map.pdf")])
    assert done.exit_code == 1
    assert "nothing is drawn" in done.output
    assert not (tmp_path / "map.pdf").exists()


def test_papers_of_the_command_are_those_that_are_known():
    option = next(p for p in main.get_command(click.Context(main), "sheet").params if p.name == "paper")
    assert set(option.type.choices) == set(PAPERS)


def printed(tmp_path, *options, farm=None):
    path, out = tmp_path / "farm.gpkg", tmp_path / "map.pdf"
    write_farm(farm or small_farm(), path)
    return CliRunner().invoke(main, ["sheet", str(path), "--out", str(out), *options]), out


def test_sheet_takes_own_words_looks_and_what_is_left_out(tmp_path, qapp):
    done, out = printed(
        tmp_path, "--paper", "A4", "--look", "grey", "--graticule", "--declination", "--overview", "--note", "Gate key",
        "--credits", "Drawn by Jo", "--edition", "draft 2", "--leave-out", "margins", "--leave-out", "Scale bar",
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    with pdfplumber.open(out) as pdf:
        said = pdf.pages[0].extract_text()
    for wanted in ("Gate key", "Drawn by Jo", "Version: draft 2", "compass needle", "Where this map lies"):
        assert wanted in said, wanted
    assert "Creek margins" not in said


def test_sheet_prints_a_series(tmp_path, qapp):
    done, out = printed(tmp_path, "--paper", "A4", "--series", "blocks")
    assert done.exit_code == 0, done.output
    with pdfplumber.open(out) as pdf:
        assert len(pdf.pages) == 1 + len(small_farm().blocks)
        assert f"page 2 of {len(pdf.pages)}" in pdf.pages[1].extract_text()


def test_letters_that_no_typeface_has_are_said_of_a_series_too(tmp_path, qapp):
    cuneiform = "\U00012000\U00012001"
    done, _ = printed(tmp_path, "--paper", "A4", "--series", "blocks", "--title", cuneiform)
    assert done.exit_code == 0, done.output
    assert cuneiform in done.output
    assert "typeface" in done.output


def test_sheet_prints_what_was_composed_and_kept(tmp_path, qapp):
    choices = SheetChoices(options=SheetOptions("A5", landscape=True, title="For the council"))
    farm = sheet_kept(small_farm(), "Council map", written(choices)).edit.apply(small_farm())
    done, out = printed(tmp_path, "--kept", "council map", farm=farm)
    assert done.exit_code == 0, done.output
    with pdfplumber.open(out) as pdf:
        assert float(pdf.pages[0].width) == pytest.approx(210 / 25.4 * 72, abs=0.1)
        assert "For the council" in pdf.pages[0].extract_text()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--kept", "Map", "--paper", "A4"), "leave --paper out"),
        (("--kept", "Map", "--landscape"), "leave --landscape out"),
        (("--kept", "Map"), "keeps no sheet called Map"),
        (("--series", "grid", "--plan", "X"), "give one of them"),
        (("--series", "grid", "--beside"), "one map each"),
        (("--series", "blocks", "--photos"), "no pages of photographs"),
        (("--photos",), "no photographs"),
        (("--leave-out", "caution"), "cannot be left out"),
    ],
)
def test_options_of_sheet_that_do_not_go_together_are_refused_in_words(tmp_path, qapp, options, words):
    done, out = printed(tmp_path, *options)
    assert done.exit_code != 0
    assert words in done.output
    assert not out.exists()
