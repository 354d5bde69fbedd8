"""Starting a farm and bringing data in, by their dialogs."""

import pytest
from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import QDialogButtonBox

from farmmap.files.farm_file import read_farm
from farmmap.window.bring_dialog import BringDialog
from farmmap.window.new_farm_dialog import NewFarmDialog

CSV = """\
tag;species;x;y;DBH mm;height
31;tōtara;1812015;5478015;123;6,5
32;kānuka;1812025;5478015;88;
33;tōtara;here;5478015;90;
34;;1812035;5478015;-5;4
"""


def press(qtbot, button):
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


@pytest.fixture
def trees_csv(tmp_path):
    path = tmp_path / "walked.csv"
    path.write_text(CSV, encoding="utf-8")
    return path


def test_a_new_farm_is_started(qtbot, window, tmp_path, dialog_of):
    window.actions_by_name["new_farm"].trigger()
    dialog = dialog_of(window, NewFarmDialog)
    button = dialog.buttons.button(QDialogButtonBox.StandardButton.Ok)
    press(qtbot, button)
    assert "needs a name" in dialog.problem.text()
    qtbot.keyClicks(dialog.name, "Heron Flat")
    assert dialog.path.text().endswith("Heron Flat.gpkg")
    dialog.path.setText(str(tmp_path / "nowhere" / "heron.gpkg"))
    press(qtbot, button)
    assert "There is no folder" in dialog.problem.text()
    dialog.path.setText(str(tmp_path / "heron.gpkg"))
    dialog.grid.setEditText("EPSG:32633")
    press(qtbot, button)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=30_000)
    qtbot.waitUntil(lambda: not window.jobs.is_busy() and window.map_view.is_up_to_date, timeout=30_000)
    assert read_farm(tmp_path / "heron.gpkg").settings.name == "Heron Flat"
    assert window.session.farm.settings.epsg == 32633
    bare = window.map_view.grab().toImage()
    middle = bare.rect().center()
    written = [bare.pixelColor(middle.x() + x, middle.y() + y).name() for x in range(-80, 80) for y in range(-30, 30)]
    assert len(set(written)) > 5, "an empty farm's map says what to do"


def test_trees_are_brought_in_with_the_plan_changed_and_bad_rows_set_aside(qtbot, opened, trees_csv, dialog_of, settle):
    opened.actions_by_name["bring_in"].trigger()
    dialog = dialog_of(opened, BringDialog)
    dialog.choose_file(trees_csv)
    qtbot.waitUntil(lambda: dialog.plan_table.plan is not None, timeout=30_000)
    table = dialog.plan_table
    assert table.theirs["dbh_cm"].currentText() == "DBH mm"
    assert table.units["dbh_cm"].currentText() == "mm"
    table.units["dbh_cm"].setCurrentText("girth in mm")
    table.units["dbh_cm"].activated.emit(table.units["dbh_cm"].currentIndex())
    assert table.plan.fillings["dbh_cm"].target.girth
    table.units["dbh_cm"].setCurrentText("mm")
    table.units["dbh_cm"].activated.emit(table.units["dbh_cm"].currentIndex())
    press(qtbot, dialog.next_button)
    assert "no date for its readings" in dialog.problem.text()
    dialog.day.setDate(QDate(2024, 3, 9))
    press(qtbot, dialog.next_button)
    qtbot.waitUntil(lambda: dialog.pages.currentIndex() == 1, timeout=30_000)
    assert "4 rows read: 2 come in as trees, 2 do not" in dialog.report.counts.text()
    assert [dialog.report.bad.item(row, 0).text() for row in range(2)] == ["4", "5"]
    farm = opened.session.farm
    press(qtbot, dialog.next_button)
    qtbot.waitUntil(lambda: opened.session.farm is not farm, timeout=30_000)
    qtbot.waitUntil(lambda: "in the farm file now" in dialog.report.outcome.text(), timeout=30_000)
    press(qtbot, dialog.close_button)
    settle(opened)
    brought = read_farm(opened.session.path)
    assert set(brought.trees["tag"]) >= {"31", "32"}
    new = brought.measurements.loc[brought.measurements["measured_on"] == "2024-03-09"]
    assert sorted(new["dbh_cm"]) == [8.8, 12.3]
    assert opened.session.on.isoformat() == "2024-03-09"
    assert len(list(trees_csv.parent.glob("walked-set-aside*.csv"))) == 1


def test_a_file_that_cannot_be_used_is_told_in_the_dialog(qtbot, opened, tmp_path, dialog_of):
    picture = tmp_path / "photo.jpg"
    picture.write_bytes(b"\xff\xd8\xff\xe0 not trees")
    opened.actions_by_name["bring_in"].trigger()
    dialog = dialog_of(opened, BringDialog)
    press(qtbot, dialog.next_button)
    assert "Choose a file first" in dialog.problem.text()
    dialog.choose_file(picture)
    qtbot.waitUntil(lambda: "photograph" in dialog.problem.text(), timeout=30_000)
    dialog.reject()


def test_a_column_left_empty_stays_empty(qtbot, opened, trees_csv, dialog_of):
    opened.actions_by_name["bring_in"].trigger()
    dialog = dialog_of(opened, BringDialog)
    dialog.choose_file(trees_csv)
    qtbot.waitUntil(lambda: dialog.plan_table.plan is not None, timeout=30_000)
    choice = dialog.plan_table.theirs["species"]
    choice.setCurrentIndex(0)
    choice.activated.emit(0)
    assert "species" not in dialog.plan_table.plan.fillings
    dialog.reject()
