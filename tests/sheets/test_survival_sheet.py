"""Field sheets for a survival count: what was planted, boxes for what lives, the map on the back."""

import datetime as dt
import itertools

import pdfplumber
import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.errors import BadInput
from farmmap.files.farm_file import write_farm
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.keeping.accept import plan_accepted
from farmmap.plans.planting.keeping.counting import survival_count
from farmmap.plans.planting.keeping.gapping import wilson
from farmmap.plans.planting.keeping.kept import plan_kept
from farmmap.plans.planting.make import make_plan
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.plans.planting.recipes.recipe import Kin, Pattern, Recipe, WidthRule, Zone
from farmmap.scene.page_items import Shape, Text
from farmmap.scene.page_survival import COLUMNS
from farmmap.sheets.page import SheetOptions
from farmmap.sheets.survival_sheet import compose_survival
from tests.conftest import small_farm

OPTIONS = SheetOptions(printed_on=dt.date(2026, 11, 26))
RECIPE = Recipe(
    "Sedges and tōtara",
    (WidthRule(width_m=9.0),),
    (
        Zone("Water's edge", width_m=3.0, pattern=Pattern.TRIANGLE, between_m=1.0, within_m=1.0,
             mix=(Kin("pūkio", 0.7), Kin("mānuka", 0.3))),
        Zone("Upper bank", width_m=6.0, pattern=Pattern.ROWS, between_m=2.0, within_m=1.5,
             mix=(Kin("coast redwood", 0.5, "pole"), Kin("tōtara", 0.5))),
    ),
)  # fmt: skip


@pytest.fixture(scope="module")
def plan():
    return make_plan(small_farm(), Stretch("Sedge Creek", ("right",), 20.0, 220.0), RECIPE, name="Lower Sedge")


@pytest.fixture(scope="module")
def farm(plan):
    return plan_accepted(small_farm(), plan).edit.apply(small_farm())


@pytest.fixture(scope="module")
def sheet(farm):
    return compose_survival(farm, "lower sedge", OPTIONS)


def words_of(boxes):
    return [item.text for box in boxes for item in box.items if isinstance(item, Text)]


def test_each_kind_of_each_zone_is_to_be_counted_with_the_number_planted(sheet, farm, plan):
    words = words_of(sheet.second)
    count = survival_count(plan, plant_kinds(farm, plan.recipe))
    assert len(count.lines) == 4
    assert count.spacing_m
    for line in count.lines:
        assert {line.zone, line.kind, f"{line.planted:,}".replace(",", "\u202f")} <= set(words)
    said = " ".join(words)
    for zone, spacing in count.spacing_m.items():
        assert f"{zone} every {spacing} m" in said
    sure = wilson(80, 100)
    assert f"{100 * sure.least:.0f} to {100 * sure.most:.0f} in a hundred live" in said


def test_boxes_are_large_enough_for_strokes(sheet):
    (listed,) = [box for box in sheet.second if box.name == "list"]
    assert sum(column.share for column in COLUMNS) == pytest.approx(1.0)
    assert [column.words for column in COLUMNS if column.to_fill] == ["Counted", "Alive", "Cause"]
    strokes = [item.points for item in listed.items if isinstance(item, Shape) and not item.closed]
    lines = sorted({round(start[1], 3) for start, end in strokes if start[1] == end[1]})
    assert min(after - before for before, after in itertools.pairwise(lines)) >= 8.0
    assert min(column.share * listed.width for column in COLUMNS if column.to_fill) > 25.0


def test_the_map_with_its_planting_is_on_the_back(sheet):
    first, second = sheet.pages
    assert not first.maps
    assert second.maps
    assert {"A", "B"} <= {item.text for item in sheet.plan.over_map if isinstance(item, Text)}  # letters of the zones
    said = " ".join(words_of(second.boxes))
    for wanted in (
        "Key to the planting", "Grid north", "page before the map", "Lower Sedge is not marked as planted",
        "--alive “Water's edge: ", "Replace the dead…", "not cadastral",
    ):  # fmt: skip
        assert wanted in said, wanted


def test_what_the_sheet_says_to_type_in_is_understood(sheet, farm, tmp_path):
    said = " ".join(words_of(sheet.plan.boxes))
    what = said.partition("--alive “")[2].partition("=ALIVE")[0]
    path = tmp_path / "a.gpkg"
    write_farm(farm, path)
    done = CliRunner().invoke(main, ["replant", str(path), "--plan", "Lower Sedge", "--alive", f"{what}=30/40"])
    assert done.exit_code == 0, done.output
    assert "what to plant again" in done.output


def test_a_plan_that_is_only_kept_or_not_there_is_refused_in_words(plan):
    farm = small_farm()
    kept = plan_kept(farm, plan).edit.apply(farm)
    with pytest.raises(BadInput, match="Lower Sedge is only kept"):
        compose_survival(kept, "Lower Sedge", OPTIONS)
    with pytest.raises(BadInput, match="no plan called Upper Sedge"):
        compose_survival(kept, "Upper Sedge", OPTIONS)
    with pytest.raises(BadInput, match="A7 is too small"):
        compose_survival(plan_accepted(farm, plan).edit.apply(farm), "Lower Sedge", SheetOptions("A7"))


def test_it_is_written_by_the_command(farm, tmp_path):
    path, out = tmp_path / "a.gpkg", tmp_path / "count.pdf"
    write_farm(farm, path)

    def replant(*words):
        return CliRunner().invoke(main, ["replant", str(path), "--plan", "Lower Sedge", *map(str, words)])

    done = replant("--out", out)
    assert done.exit_code == 0, done.output
    assert f"{out}: A4 portrait" in done.output
    with pdfplumber.open(out) as pdf:
        assert len(pdf.pages) == 2
        assert "Counted" in pdf.pages[0].extract_text()
    assert "say what was counted with --alive" in replant().output
    assert "--paper is for a printed sheet" in replant("--alive", "all=1/2", "--paper", "A3").output
    listed = replant("--alive", "all=1/2", "--compass", "--out", tmp_path / "a.csv").output
    assert "--compass is for a printed sheet" in listed
    assert "a.csv is no page" in listed
    assert "ends in none of" in replant("--out", tmp_path / "a.csv").output
