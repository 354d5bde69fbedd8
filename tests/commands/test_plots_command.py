"""``farmmap plots``: lay out, hand on, take counts in, tell the result."""

from __future__ import annotations

import csv
import json

import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.files.farm_file import read_farm, write_farm


@pytest.fixture
def path(farm, tmp_path):
    path = tmp_path / "small.gpkg"
    write_farm(farm, path)
    return path


def run(*arguments, code=0):
    found = CliRunner().invoke(main, ["plots", *map(str, arguments)])
    assert found.exit_code == code, found.output
    return found


def test_from_laying_out_to_the_result(path, tmp_path):
    out = run(
        path, "--block", "far slope", "--lay-out", "random", "--plots", "4", "--area", "100", "--seed", "7"
    ).output
    assert "add --accept" in out
    assert not len(read_farm(path).plots)
    how = ("--lay-out", "random", "--plots", "4", "--area", "100", "--seed", "7", "--accept")
    out = run(path, "--block", "Far Slope", *how, "--out", tmp_path / "p.gpx").output
    assert "it is now in the farm" in out
    assert (tmp_path / "p.gpx").read_text("utf-8").count("<wpt") == 4
    assert len(read_farm(path).plots) == 4
    counts = tmp_path / "counts.csv"
    counts.write_text("plot,species,dbh_cm,trees\n1,TOTA,20,2\n2,TOTA,25,1\n3,REDW,30,4\n4,,,\n", "utf-8")
    asked = (
        path,
        "--block",
        "Far Slope",
        "--counts",
        counts,
        "--measured-on",
        "2021-02-03",
        "--accept",
        "--format",
        "json",
    )
    found = run(*asked)
    (row,) = json.loads(found.stdout)
    assert row["plots"] == 4
    assert row["stems_per_ha"] == pytest.approx((2 + 1 + 4 + 0) * 100 / 4)
    assert "7 trees in 4 plots came in" in found.stderr
    text = run(path).output
    assert "Far Slope" in text
    assert "95 % intervals" in text
    lines = list(csv.DictReader(run(path, "--list", "--format", "csv").stdout.splitlines()))
    assert [line["trees_counted"] for line in lines] == ["2", "1", "4", "0"]
    (inside,) = json.loads(run(path, "--edge", "inside only", "--format", "json").stdout)
    assert inside["stems_per_ha"] >= row["stems_per_ha"]
    assert json.loads(run(path, "--on", "2019-01-01", "--format", "json").stdout)[0]["plots"] == 0


def test_every_kind_of_plot_and_design(path):
    strip = ("--shape", "strip", "--length", "20", "--width", "5", "--strip-bearing", "40")
    rows = json.loads(
        run(path, "--block", "all", "--lay-out", "stratified", "--plots", "6", *strip, "--format", "json").stdout
    )
    assert {row["plot_size"] for row in rows} == {"strip, 20 × 5 m, grid bearing 40°"}
    angle = ("--shape", "angle count", "--factor", "2", "--spacing", "20", "--bearing", "30")
    rows = json.loads(run(path, "--block", "Far Slope", "--lay-out", "grid", *angle, "--format", "json").stdout)
    assert {row["plot_size"] for row in rows} == {"angle count, factor 2 m²/ha"}
    parts = ("--lay-out", "stratified", "--plots", "6", "--parts", "3", "--radius", "5")
    rows = json.loads(run(path, "--block", "Far Slope", *parts, "--format", "json").stdout)
    assert [row["plot"] for row in rows] == ["A1", "A2", "B1", "B2", "C1", "C2"]


@pytest.mark.parametrize(
    ("arguments", "words", "code"),
    [
        (("--block", "nowhere"), "there are: Far Slope, North Terrace", 1),
        (("--lay-out", "random", "--plots", "4"), "--block NAME", 1),
        (("--block", "all", "--lay-out", "random"), "--plots N", 2),
        (("--block", "all", "--lay-out", "random", "--plots", "4", "--shape", "angle count"), "--factor", 2),
        (("--block", "all", "--lay-out", "random", "--plots", "4", "--shape", "strip"), "--length", 2),
        (("--lay-out", "grid", "--counts", "x.csv"), "do not go together", 2),
        (("--plots", "4"), "--plots says how plots are laid out", 2),
        (("--shape", "circle"), "add --lay-out", 2),
        (("--measured-on", "2020-01-01"), "with --counts", 2),
        (("--counts", "x.csv", "--measured-on", "2999-01-01"), "has not come yet", 2),
        (("--block", "all", "--lay-out", "random", "--plots", "4", "--radius", "0"), "0.5 to 100 is believable", 1),
        (("--block", "all", "--lay-out", "random", "--plots", "4", "--area", "0"), "more ground than none", 2),
        (("--counts", "x.csv", "--out", "x.csv"), "is the file of counts", 2),
        (("--out", "sheet.doc"), "ends in none of", 2),
        (("--counts", "not-there.csv"), "not-there.csv", 1),
        (("--on", "yesterday"), "is not a day", 2),
        (("--out", "nowhere/sheet.csv"), "make it first", 2),
    ],
)
def test_what_cannot_be_done_is_said(path, arguments, words, code):
    assert words in run(path, *arguments, code=code).output


def test_the_farm_itself_is_not_written_over(path):
    named = path.rename(path.with_suffix(".csv"))
    assert "is the farm itself" in run(named, "--out", named, code=2).output


def test_without_plots_it_says_so(path):
    assert "Nothing to show yet." in run(path).output


def test_csv_has_the_same_line_ends_on_every_system(path, monkeypatch):
    how = ("--block", "all", "--lay-out", "random", "--plots", "2", "--format", "csv")
    assert b"\r\n" in run(path, *how).stdout_bytes
    monkeypatch.setattr("farmmap.command_parts.os.linesep", "\r\n")
    assert b"\r" not in run(path, *how).stdout_bytes  # printing puts it in itself there
