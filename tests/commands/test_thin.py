"""``farmmap thin``: a thinning looked at, handed out, and marked in the farm."""

from __future__ import annotations

import json
import shutil

import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.files.farm_file import read_farm, write_farm
from tests.plans.thinning.stands import planted, stand_farm


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    path = tmp_path_factory.mktemp("farm") / "stand.gpkg"
    write_farm(stand_farm(*planted(10, 15)), path)
    return path


@pytest.fixture
def path(kept, tmp_path):
    return shutil.copy(kept, tmp_path / "stand.gpkg")


def run(*words):
    return CliRunner().invoke(main, ["thin", *map(str, words)])


def test_a_thinning_is_told_and_the_farm_left_as_it_is(path) -> None:
    before = path.read_bytes()
    said = run(path, "--block", "stand", "--rule", "below", "--percent", 20, "--target", 40)
    assert said.exit_code == 0, said.output
    assert "before" in said.output
    assert "taken" in said.output
    assert "Caution:" in said.output
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("rule", "numbers"),
    [
        ("below", ("--under", 20)),
        ("release-radius", ("--radius", 4)),
        ("release-contact", ("--gap", 0.5, "--least-share", 50)),
        ("basal-area", ("--leave-basal-area", 5)),
        ("stocking", ("--leave-stems", 100)),
        ("rows", ("--every", 4, "--first-row", 2)),
        ("none", ("--final", 100, "--weight", "form=5", "--wanted", "tōtara=1", "--least", 6)),
    ],
)
def test_every_rule_in_json(path, rule, numbers) -> None:
    said = run(path, "--block", "Stand", "--rule", rule, *numbers, "--format", "json")
    assert said.exit_code == 0, said.output
    before, taken, after = json.loads(said.output)
    assert [row["part"] for row in (before, taken, after)] == ["before", "taken", "after"]
    assert before["stems"] == taken["stems"] + after["stems"] == 150
    assert taken["stems"] or rule == "none"


def test_accept_marks_trees_and_the_marks_are_read_again(path) -> None:
    said = run(path, "--block", "Stand", "--rule", "stocking", "--leave-stems", 100, "--accept")
    assert said.exit_code == 0, said.output
    marks = read_farm(path).trees["mark"]
    assert set(marks) == {"crop", "take", ""} or set(marks) == {"crop", "take"}
    assert (read_farm(path).trees["status"] == "alive").all()
    again = run(path, "--block", "Stand", "--rule", "as-marked", "--format", "csv")
    assert again.exit_code == 0
    assert f"taken,{(marks == 'take').sum()}," in again.output
    twice = run(path, "--block", "Stand", "--rule", "stocking", "--leave-stems", 100, "--accept")
    assert twice.exit_code == 1
    assert "marked so already" in twice.output


def test_marked_crop_trees_stay_unless_they_are_chosen_anew(path) -> None:
    assert run(path, "--block", "Stand", "--rule", "none", "--final", 400, "--least", 2, "--accept").exit_code == 0
    many = int((read_farm(path).trees["mark"] == "crop").sum())
    kept = run(path, "--block", "Stand", "--rule", "none", "--final", 100)
    assert f"{many} crop trees, all of them marked as crop before" in kept.output
    assert run(path, "--block", "Stand", "--rule", "none", "--final", 100, "--anew", "--accept").exit_code == 0
    assert 0 < (read_farm(path).trees["mark"] == "crop").sum() < many


def test_lists_are_written(path, tmp_path) -> None:
    for ending in ("gpx", "csv"):
        out = tmp_path / f"list.{ending}"
        said = run(path, "--block", "Stand", "--rule", "release-contact", "--target", 40, "--out", out)
        assert said.exit_code == 0, said.output
        assert "marked trees in walking order" in said.output
        assert out.stat().st_size > 1000


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--block", "Nowhere", "--rule", "below"), "there are: Stand"),
        (("--block", "Stand", "--rule", "below", "--percent", "200"), "not between 0 and 100"),
        (("--block", "Stand", "--rule", "below", "--weight", "form"), "is not NAME=NUMBER"),
        (("--block", "Stand", "--rule", "below", "--crop", "--weight", "luck=1"), "nothing called 'luck'"),
        (("--block", "Stand", "--rule", "below", "--out", "list.doc"), "ends in none of"),
        (("--block", "Stand", "--rule", "below", "--on", "soon"), "soon"),
        (("--block", "Stand", "--rule", "below", "--percent", "20", "--under", "12"), "--percent or --under, not both"),
        (("--block", "Stand", "--rule", "below", "--every", "3"), "the rule below does not use --every"),
        (("--block", "Stand", "--rule", "as-marked", "--caution", "0"), "the rule as-marked does not use --caution"),
        (("--block", "Stand", "--rule", "as-marked", "--crop"), "as-marked chooses no crop trees; leave --crop out"),
        (("--block", "Stand", "--rule", "none", "--no-crop", "--final", "50"), "leave it or --final out"),
        (("--block", "Stand", "--rule", "none", "--target", "0"), "target diameter, in cm: 0 is not between"),
        (("--block", "Stand", "--rule", "none", "--wanted", "tottara=1"), "no species is called 'tottara'"),
    ],
)
def test_what_cannot_be_meant_is_said(path, words, said) -> None:
    answer = run(path, *words)
    assert answer.exit_code in {1, 2}
    assert said in answer.output


def test_the_farm_is_not_written_over(path, tmp_path) -> None:
    link = tmp_path / "list.csv"
    link.symlink_to(path)
    answer = run(path, "--block", "Stand", "--rule", "below", "--out", link)
    assert answer.exit_code == 2
    assert "the farm itself" in answer.output


def test_what_only_a_sheet_can_have_is_refused_with_a_list(path, tmp_path) -> None:
    words = (path, "--block", "stand", "--rule", "below", "--percent", 20, "--target", 40)
    told = run(*words, "--compass", "--out", tmp_path / "list.csv")
    assert told.exit_code == 2
    assert "--compass is for a printed sheet, and" in told.output
    assert not (tmp_path / "list.csv").exists()
