"""The Room panel: who holds a tree back, its plan, and the density diagram of a block."""

import datetime as dt

import pytest
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QImage

from farmmap.figures.room.holding import holds_back
from farmmap.files.farm_file import write_farm
from farmmap.scene.scene import Chosen
from tests.figures.growing_stand import FEW, growing_stand

MIDDLE = 15
"""A tree inside the stand."""


@pytest.fixture
def room(qtbot, window, tmp_path, settle):
    path = tmp_path / "stand.gpkg"
    write_farm(growing_stand(), path)
    window.open_farm(path)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=30_000)
    window.panels.setCurrentWidget(window.panels.page("Room"))
    settle(window)
    return window


def view_of(window):
    return window.panels.page("Room").view


def test_the_chosen_tree_is_told_who_holds_it_back(room, settle):
    room.session.choose(Chosen("tree", MIDDLE))
    settle(room)
    page = view_of(room).of_tree
    assert room.panels.currentWidget() is room.panels.page("Room")  # it stays in front when a tree is chosen
    assert page.heading.text() == f"What holds tree T{MIDDLE} back"
    found = holds_back(room.session.farm, MIDDLE, room.session.on)
    assert page.model.rowCount() == len(found.rows) > 3
    assert page.model.feature_at(0) == found.ids[0]
    assert [one.id for one in page.plan.around] == [one.id for one in found.around]
    assert f"T{found.ids[0]}, " in page.plan.accessibleDescription()
    assert "% of the competition" in page.plan.accessibleDescription()


def test_a_row_picked_is_chosen_on_the_map_and_the_list_stays(qtbot, room, settle):
    room.session.choose(Chosen("tree", MIDDLE))
    settle(room)
    page = view_of(room).of_tree
    other = page.model.feature_at(1)
    where = page.table.visualRect(page.model.index(1, 0)).center()
    qtbot.mouseClick(page.table.viewport(), Qt.MouseButton.LeftButton, pos=where)
    settle(room)
    assert room.session.chosen == Chosen("tree", other)
    assert page.heading.text() == f"What holds tree T{MIDDLE} back"
    assert page.plan.chosen == other
    assert page.table.currentIndex().row() == 1
    assert page.onward.isVisible()
    qtbot.mouseClick(page.onward, Qt.MouseButton.LeftButton)
    assert page.heading.text() == f"What holds tree T{other} back"
    assert not page.onward.isVisible()
    room.session.choose(Chosen("tree", MIDDLE))
    settle(room)
    assert page.heading.text() == f"What holds tree T{MIDDLE} back"


def test_a_click_on_the_plan_picks_that_tree(qtbot, room, settle):
    room.session.choose(Chosen("tree", MIDDLE))
    settle(room)
    plan = view_of(room).of_tree.plan
    image = QImage(plan.size(), QImage.Format.Format_ARGB32_Premultiplied)
    plan.render(image)
    own, nearest = plan.around[:2]
    words = [words for box, words in plan._hot if words.startswith(f"{nearest.tag},")]
    box = next(box for box, words in plan._hot if words.startswith(f"{nearest.tag},"))
    assert words
    assert plan.words_at(box.center()).startswith(nearest.tag)
    middle = next(box for box, words in plan._hot if words.startswith(f"{own.tag},")).center()
    east, south = box.center().x() - middle.x(), box.center().y() - middle.y()
    assert east * nearest.north_m == pytest.approx(-south * nearest.east_m, abs=0.1)  # to scale, north up
    qtbot.mouseClick(plan, Qt.MouseButton.LeftButton, pos=box.center().toPoint())
    assert room.session.chosen == Chosen("tree", nearest.id)


def test_a_tree_that_does_not_stand_is_said_so(room, settle):
    room.session.choose(Chosen("tree", 39))
    room.session.set_date(dt.date(2020, 5, 1))
    settle(room)
    page = view_of(room).of_tree
    assert page.model.rowCount() == 0
    assert page.notes.text() == "Tree T39 does not stand on 2020-05-01."
    assert page.plan.is_empty()
    room.session.choose(Chosen("tree", FEW))
    settle(room)
    assert page.model.rowCount() == 0


def test_the_chosen_block_has_its_diagram(room, settle):
    blocks = view_of(room).of_blocks
    assert view_of(room).pages.currentWidget() is blocks
    assert blocks.chart.is_empty()
    room.session.choose(Chosen("block", 1))
    settle(room)
    assert room.panels.currentWidget() is room.panels.page("Room")
    stand = blocks.chart.diagram.stands[0]
    row = blocks.model.numbers_at(0)
    assert stand.qmd_cm == row["qmd_cm"]
    assert "Mean competition" in blocks.competition.text()
    assert "m² to themselves" in blocks.competition.text()
    image = QImage(blocks.chart.size(), QImage.Format.Format_ARGB32_Premultiplied)
    blocks.chart.render(image)
    box: QRectF = next(box for box, words in blocks.chart._hot if words.startswith("Terrace:"))
    assert (
        blocks.chart.words_at(QPointF(box.center()))
        == f"Terrace: {stand.stems_per_ha:.0f} stems/ha of {stand.qmd_cm:.1f} cm"
    )


def test_a_figure_can_be_explained(qtbot, room, settle):
    room.session.choose(Chosen("tree", MIDDLE))
    settle(room)
    page = view_of(room).of_tree
    column = page.model.columns.index("share_percent")
    where = page.table.visualRect(page.model.index(0, column)).center()
    qtbot.mouseClick(page.table.viewport(), Qt.MouseButton.LeftButton, pos=where)
    qtbot.keyClick(page.table, Qt.Key.Key_F1)
    assert "Hegyi" in page.working.text.toPlainText()
    assert not page.plan.isVisible()
