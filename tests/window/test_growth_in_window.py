"""The Growth panel in the window: it stays in front of what it shows, and a target is one step of undo."""

import pytest
from PySide6.QtCore import Qt

from farmmap.figures.growth.targets import targets_of
from farmmap.files.farm_file import read_farm
from farmmap.scene.scene import Chosen


@pytest.fixture
def growth(opened, settle):
    page = opened.panels.page("Growth")
    opened.panels.setCurrentWidget(page)
    settle(opened)
    return page


def test_it_stays_in_front_when_a_tree_or_block_is_chosen(opened, settle, growth):
    opened.session.choose(Chosen("tree", 1))
    settle(opened)
    assert opened.panels.currentWidget() is growth
    assert [reading.value for reading in growth.view.chart.readings] == [12.0, 22.5]
    assert "tōtara" in growth.view.tree_words.text()
    opened.session.choose(Chosen("block", 2))
    settle(opened)
    assert opened.panels.currentWidget() is growth
    assert growth.view.about.text().startswith("Far Slope: ")
    opened.session.choose(Chosen("margin", 0))
    assert opened.panels.currentWidget() is opened.panels.page("Creek margins")


def test_a_target_is_written_shown_and_undone_in_one_step(qtbot, opened, settle, growth):
    form = growth.view.form
    growth.view.show_page(3)
    form.choose("TOTA")
    form.dbh_cm.setValue(20.0)
    form.product.setText("post")
    qtbot.mouseClick(form.set_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(opened.session.farm.tables["targets"]) == 1, timeout=30_000)
    settle(opened)
    assert targets_of(read_farm(opened.session.path)).of("TOTA").dbh_cm == 20.0
    assert "Now 20 cm, post" in form.answer.text()
    opened.session.choose(Chosen("tree", 1))
    settle(opened)
    assert "ready now" in growth.view.tree_words.text()
    assert opened.files.undo_name == "Set target of tōtara to 20 cm"
    opened.files.undo()
    qtbot.waitUntil(lambda: len(opened.session.farm.tables["targets"]) == 0, timeout=30_000)
    settle(opened)
    assert "no target set" in growth.view.tree_words.text()


def test_an_edit_does_not_wait_for_it(growth):
    assert growth.view is not None
    assert growth.isVisible()
    assert growth.prepare() is None
