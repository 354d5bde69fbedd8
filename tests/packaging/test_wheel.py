"""A built wheel carries the resources and the entry points along."""

from __future__ import annotations

import configparser
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """Build the wheel and open it."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    made = subprocess.run(command, cwd=CHECKOUT, check=False, capture_output=True, text=True)
    assert made.returncode == 0, made.stderr
    (path,) = folder.glob("*.whl")
    with zipfile.ZipFile(path) as opened:
        yield opened


def test_resources_are_inside(wheel):
    inside = set(wheel.namelist())
    resources = [path for path in (CHECKOUT / "resources").rglob("*") if path.is_file()]
    assert {f"farmmap/_resources/{path.relative_to(CHECKOUT / 'resources').as_posix()}" for path in resources} <= inside
    ours = (CHECKOUT / "resources" / "species.csv").read_bytes()
    assert wheel.read("farmmap/_resources/species.csv") == ours


def test_sample_farm_is_inside(wheel):
    ours = (CHECKOUT / "sample_farm" / "pipit_downs.gpkg").read_bytes()
    assert wheel.read("farmmap/_sample_farm/pipit_downs.gpkg") == ours
    for name in ("elevation.tif", "picture.tif", "creek_bend_2016.jpg", "creek_bend_2026.jpg", "look_out_2026.jpg"):
        assert wheel.read(f"farmmap/_sample_farm/{name}") == (CHECKOUT / "sample_farm" / name).read_bytes()


def test_every_module_is_inside(wheel):
    modules = {path.relative_to(CHECKOUT).as_posix() for path in (CHECKOUT / "farmmap").rglob("*.py")}
    assert modules <= set(wheel.namelist())
    assert not [name for name in wheel.namelist() if name.startswith(("tests/", "sample_farm/", "packaging/"))]


def test_entry_points(wheel):
    (name,) = [name for name in wheel.namelist() if name.endswith("entry_points.txt")]
    points = configparser.ConfigParser()
    points.read_string(wheel.read(name).decode())
    assert points["console_scripts"]["farmmap"] == "farmmap.commands:main"
    assert {"blocks", "margins", "trees"} <= set(points["farmmap.panels"])
