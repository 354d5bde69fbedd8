"""A kept planting plan, printed from the window."""

import pdfplumber
import pytest

from farmmap.files.farm_file import read_farm, write_edit_beside
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.keeping.kept import plan_kept
from farmmap.plans.planting.make import make_plan
from farmmap.plans.planting.recipes.recipe import Kin, Recipe, WidthRule, Zone
from farmmap.window.print_dialog import PrintDialog

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


def test_a_kept_plan_is_chosen_shown_and_written(qtbot, opened, tmp_path, dialog_of):
    opened.actions_by_name["print_map"].trigger()
    dialog = dialog_of(opened, PrintDialog)
    assert dialog.what.isVisible()
    assert [dialog.what.itemText(place) for place in range(dialog.what.count())] == [
        "The whole farm",
        "Planting plan: Lower Sedge",
    ]
    qtbot.waitUntil(lambda: dialog.preview.image is not None, timeout=30_000)
    whole = dialog.preview.image
    dialog.what.setCurrentIndex(1)
    assert dialog.title.text() == "Lower Sedge"
    qtbot.waitUntil(lambda: dialog.preview.image is not whole, timeout=30_000)
    dialog.write(tmp_path / "plan.pdf")
    qtbot.waitUntil(lambda: "plan.pdf" in dialog.told.text(), timeout=30_000)
    with pdfplumber.open(tmp_path / "plan.pdf") as pdf:
        said = pdf.pages[0].extract_text()
    assert "Plants to order" in said
    assert "coast redwood" in said
    dialog.title.setText("Planting of the lower creek")
    dialog.what.setCurrentIndex(0)
    assert dialog.title.text() == "Planting of the lower creek"
    dialog.reject()
    qtbot.waitUntil(lambda: not opened.jobs.is_busy(), timeout=30_000)


def test_a_title_follows_what_is_printed(qtbot, opened, dialog_of):
    opened.actions_by_name["print_map"].trigger()
    dialog = dialog_of(opened, PrintDialog)
    dialog.what.setCurrentIndex(1)
    dialog.what.setCurrentIndex(0)
    assert dialog.title.text() == opened.session.farm.settings.name
    dialog.reject()
    qtbot.waitUntil(lambda: not opened.jobs.is_busy(), timeout=30_000)
