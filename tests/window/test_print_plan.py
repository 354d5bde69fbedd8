"""A kept planting plan, printed from the window."""

import pdfplumber
import pytest

from farmmap.files.farm_file import read_farm, write_edit_beside
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.keeping.kept import plan_kept
from farmmap.plans.planting.make import make_plan
from farmmap.plans.planting.recipes.recipe import Kin, Recipe, WidthRule, Zone
from tests.window.composing_hand import Composing

RECIPE = Recipe(
    "Redwoods",
    (WidthRule(width_m=8.0),),
    (Zone("Bank", share=1.0, between_m=2.0, within_m=2.0, mix=(Kin("coast redwood", 1.0),)),),
)


@pytest.fixture
def farm_path(farm_path):
    """Return the small farm's file, with a plan kept in it."""
    farm = read_farm(farm_path)
    plan = make_plan(farm, Stretch("Sedge Creek", ("right",), 20.0, 120.0), RECIPE, name="Lower Sedge")
    write_edit_beside(farm_path, plan_kept(farm, plan).edit)
    return farm_path


@pytest.fixture
def composing(qtbot, farm, farm_path):
    """Return the place to compose a sheet of the farm with the plan."""
    made = Composing(read_farm(farm_path), farm_path.parent)
    yield made
    made.close()


def choose(box, place):
    box.setCurrentIndex(place)
    box.activated.emit(place)


def test_a_kept_plan_is_chosen_shown_and_written(qtbot, composing, tmp_path):
    dialog = composing.dialog
    form, whole = dialog.form, dialog.view.image
    assert not form.which.isVisible()
    choose(form.what, form.what.findData("plan"))
    assert [form.which.itemText(place) for place in range(form.which.count())] == ["Lower Sedge"]
    assert form.title.placeholderText() == "Lower Sedge"
    composing.wait()
    assert dialog.view.image != whole
    dialog.write(tmp_path / "plan.pdf")
    qtbot.waitUntil(lambda: "plan.pdf" in dialog.told.text(), timeout=30_000)
    with pdfplumber.open(tmp_path / "plan.pdf") as pdf:
        said = pdf.pages[0].extract_text()
    assert "Plants to order" in said
    assert "coast redwood" in said
    form.title.setFocus()
    qtbot.keyClicks(form.title, "Planting of the lower creek")
    choose(form.what, form.what.findData("farm"))
    assert dialog.choices.options.title == "Planting of the lower creek"
    dialog.undo()
    dialog.undo()
    assert form.title.text() == ""
    assert form.what.currentData() == "plan"
