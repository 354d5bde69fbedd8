"""The commands that draw, run as people run them."""

import os
import subprocess
import sys

import pdfplumber
import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.files.farm_file import write_farm
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.keeping.kept import plan_kept
from farmmap.plans.planting.make import make_plan
from farmmap.plans.planting.recipes.recipe import Kin, Recipe, WidthRule, Zone
from farmmap.scene.paper import PAPERS
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
    option = next(p for p in main.commands["sheet"].params if p.name == "paper")
    assert set(option.type.choices) == set(PAPERS)
