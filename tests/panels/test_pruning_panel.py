"""The Pruning panel: lines and their trees, writing down, what is pruned so far, and the lifts of one's own."""

import datetime as dt

import pytest
from PySide6.QtCore import QDate, Qt

from farmmap.panels.pruning import PANEL
from farmmap.panels.pruning.due_trees import READ, TAG
from farmmap.panels.pruning.pruned_page import height_bars
from farmmap.panels.pruning.view import PruningView
from farmmap.panels.registry import Options
from farmmap.plans.pruning.lifts import regimes_of
from farmmap.plans.pruning.state import DONE, pruning_of
from farmmap.scene.scene import Chosen
from tests.plans.pruning.prunable import prunable

ON = dt.date(2020, 5, 1)


def pruning_farm():
    trees = [{}, {}, {"form": "poor"}, {}, {"planted": "2016"}]
    readings = [
        {"tree": 1, "height_m": 6.0, "dbh_cm": 8.0},
        {"tree": 2, "height_m": 6.5, "dbh_cm": 8.5},
        {"tree": 3, "height_m": 6.2, "dbh_cm": 8.2},
        {"tree": 4, "height_m": 9.5, "dbh_cm": 12.0, "pruned_m": 2.0, "dos_cm": 11.0},
        {"tree": 5, "height_m": 3.5},
    ]
    return prunable(trees, readings, line=True)


class Shown:
    """A panel's view on a farm, with what it picked and asked for."""

    def __init__(self, qtbot, farm):
        self.view = PruningView(PANEL)
        qtbot.addWidget(self.view)
        self.view.resize(460, 800)
        self.picked, self.edits = [], []
        self.view.picked.connect(self.picked.append)
        self.view.edit_wanted.connect(self.edits.append)
        self.view.show()
        qtbot.waitExposed(self.view)
        self.show(farm)

    def show(self, farm, chosen=None):
        self.farm = farm
        options = Options(ON, chosen)
        self.view.show_figures(farm, options, PANEL.work_out(farm, options))

    def carry_out(self):
        self.show(self.edits.pop().apply(self.farm))


@pytest.fixture
def shown(qtbot):
    return Shown(qtbot, pruning_farm())


def lines(shown):
    model = shown.view.due.model
    return [
        (numbers["due"], numbers["lift"], numbers["trees"])
        for numbers in map(model.numbers_at, range(model.rowCount()))
    ]


def test_lines_and_the_trees_of_the_first(shown):
    assert lines(shown) == [("now", 1, 3), ("now", 2, 1), ("2021", 1, 1)]
    due = shown.view.due
    assert due.trees.rowCount() == 3
    assert "3 trees ticked" in due.heading.text()
    assert due.height_field.text() == "2"
    assert due.cautions.text().startswith("Power line")
    assert "Ladders" not in due.cautions.text()
    due.all_cautions.setChecked(True)
    assert due.cautions.text().count("Ladders") == 1


def test_a_line_picks_its_block_and_a_tree_itself(qtbot, shown):
    due = shown.view.due
    place = due.table.visualRect(due.model.index(1, 0)).center()
    qtbot.mouseClick(due.table.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert shown.picked == [Chosen("block", 1)]
    shown.view.show_chosen(Chosen("block", 1))
    assert due.table.currentIndex().row() == 1  # another line of the same block stays
    place = due.list.visualRect(due.trees.index(0, 1)).center()
    qtbot.mouseClick(due.list.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert shown.picked[-1] == Chosen("tree", 4)
    assert "4: near a power line" in due.advice.text()
    due.working.open_working()
    assert due.working.text.isVisible()


def test_ticked_trees_are_written_down_in_one_edit_with_what_was_read(shown):
    due = shown.view.due
    due.trees.setData(due.trees.index(1, TAG), Qt.CheckState.Unchecked.value, Qt.ItemDataRole.CheckStateRole)
    due.trees.setData(due.trees.index(0, READ), "10.5")
    due.trees.setData(due.trees.index(1, READ), "99")  # without a tick it is not written down
    assert "2 of 3 trees ticked" in due.heading.text()
    due.date.setDate(QDate(2020, 5, 1))
    due.record_button.click()
    assert len(shown.edits) == 1
    assert shown.edits[0].name == "Prune 2 trees to 2 m"
    before = shown.farm
    edit = shown.edits[0]
    shown.carry_out()
    taken = shown.farm.measurements.set_index("tree")
    assert taken.loc[1, "pruned_m"] == 2.0
    assert taken.loc[1, "dos_cm"] == 10.5
    assert taken["pruned_m"].isna()[2]
    assert lines(shown)[0] == ("now", 1, 1)
    assert due.trees.read_cm() == {}
    assert edit.turned_round().apply(shown.farm).measurements.equals(before.measurements)


def test_what_is_doubtful_is_asked_back_once(shown):
    due = shown.view.due
    due.date.setDate(QDate(2020, 5, 1))
    due.height_field.setText("7")
    due.record_button.click()
    assert not shown.edits
    assert "is not below the height" in due.answer.text()
    assert due.record_button.text() == "Write down all the same"
    due.record_button.click()
    assert len(shown.edits) == 1


@pytest.mark.parametrize(
    ("height", "stubs", "words"),
    [("tall", "", "is no number"), ("2", "x", "diameter over stubs"), ("", "", "give the height")],
)
def test_what_cannot_be_kept_is_said_in_place(shown, height, stubs, words):
    due = shown.view.due
    due.height_field.setText(height)
    due.trees.setData(due.trees.index(0, READ), stubs)
    due.record_button.click()
    assert not shown.edits
    assert words in due.answer.text().replace("Give", "give")


def test_none_ticked_cannot_be_written_down(shown):
    due = shown.view.due
    due.all.click()
    assert not due.record_button.isEnabled()
    due.all.click()
    assert due.record_button.isEnabled()


def test_what_is_pruned_so_far_by_block_and_height(shown):
    page = shown.view.pruned
    shown.view.show_page(1)
    assert page.model.rowCount() == 1
    bars, pruned, stems = height_bars(list(page.model.table.rows))
    assert (pruned, stems) == (1, 5)
    assert [bar.height for bar in bars] == [0.0, 0.0, pytest.approx(20.0)]
    assert "1 of 5 stems" in page.heights.accessibleName()
    shown.view.show_chosen(Chosen("block", 1))
    assert "North" in page.heights.accessibleName()
    assert not page.grab().isNull()


def test_own_lifts_are_kept_and_taken_away(shown):
    page = shown.view.lifts
    shown.view.show_page(2)
    page.species.setCurrentIndex(page.species.findData("TOTA"))
    assert page.whose.text() == "Your own lifts."
    assert page.lifts.rowCount() == 2
    page.lifts.item(1, 0).setText("5")
    page.keep.click()
    assert not shown.edits
    assert "leaves 44 %" in page.answer.text()
    page.lifts.item(1, 1).setText("10")
    page.keep.click()
    assert shown.edits[0].name == "Set lifts of TOTA"
    shown.carry_out()
    lifts = regimes_of(shown.farm).of("TOTA", "North").lifts
    assert [lift.to_m for lift in lifts] == [2.0, 5.0]
    assert lifts[1].source == "own figures"
    page.back.click()
    shown.carry_out()
    assert page.whose.text().startswith("No lifts are set")
    assert lines(shown) == []
    assert "Nothing is due" in shown.view.due.heading.text()


def test_lifts_of_ones_own_from_nothing(shown):
    page = shown.view.lifts
    page.species.setCurrentIndex(page.species.findData(""))
    page.block.setCurrentIndex(page.block.findData("North"))
    page.keep.click()
    assert "no line to keep" in page.answer.text()
    page.add_lift.click()
    page.lifts.item(0, 0).setText("1.5")
    page.lifts.item(0, 1).setText("4")
    page.add_form.click()
    page.lifts.item(1, 0).setText("6")
    page.lifts.item(1, 1).setText("2")
    page.add_lift.click()
    page.take_away.click()
    page.keep.click()
    shown.carry_out()
    regime = regimes_of(shown.farm).of("REDW", "North")
    assert [lift.to_m for lift in regime.lifts] == [1.5]
    assert regime.form is not None
    assert regimes_of(shown.farm).of("TOTA", "North").lifts[0].to_m == 2.0
    assert page.lifts.verticalHeaderItem(1).text() == "Form"


def test_what_is_being_typed_stays_while_other_things_change(shown):
    page = shown.view.lifts
    page.lifts.item(0, 0).setText("2.3")
    shown.show(shown.farm)
    assert page.lifts.item(0, 0).text() == "2.3"


@pytest.mark.parametrize("farm", [prunable([], []), prunable([{}], [], []), prunable([{}], [])])
def test_strange_farms_are_shown(qtbot, farm):
    shown = Shown(qtbot, farm)
    for page in range(3):
        shown.view.show_page(page)
        assert not shown.view.grab().isNull()


def test_all_trees_of_a_line_are_written_down_also_those_not_listed(qtbot, monkeypatch):
    monkeypatch.setattr("farmmap.panels.pruning.due_page.MOST_LISTED", 10)
    readings = [{"tree": n + 1, "height_m": 6.0, "dbh_cm": 8.0} for n in range(25)]
    shown = Shown(qtbot, prunable([{}] * 25, readings))
    due = shown.view.due
    assert due.trees.rowCount() == 10
    assert "25 trees ticked; the first 10 are listed" in due.heading.text()
    due.date.setDate(QDate(2020, 5, 1))
    due.record_button.click()
    shown.carry_out()
    assert (pruning_of(shown.farm, ON).lift == 2).all()
    assert not (pruning_of(shown.farm, ON).state == DONE).any()


def test_headings_of_lifts_are_whole_in_the_narrowest_column(shown):
    page = shown.view.lifts
    shown.view.show_page(2)
    page.add_lift.click()
    shown.view.resize(shown.view.fontMetrics().averageCharWidth() * 44, 700)
    heading = page.lifts.horizontalHeader()
    for column in range(page.lifts.columnCount()):
        words = page.lifts.horizontalHeaderItem(column).text().split("\n")
        assert heading.sectionSize(column) >= max(map(heading.fontMetrics().horizontalAdvance, words))
