"""A composed sheet is kept with the farm as it is changed, and taken up again."""

import pytest

from farmmap.editing.kept_sheets import kept_sheets
from farmmap.files.farm_file import read_farm
from farmmap.window.printing.dialog import PrintDialog
from tests.window.composing_hand import LEFT, WAIT_MS, drag, middle, place, wait_set


def test_a_composed_sheet_is_kept_by_itself_and_found_again(qtbot, opened, dialog_of):
    window = opened
    window.actions_by_name["print_map"].trigger()
    dialog = dialog_of(window, PrintDialog)
    wait_set(qtbot, window.jobs, dialog)
    drag(dialog, middle(dialog, "key"), (40.0, -120.0))
    wait_set(qtbot, window.jobs, dialog)
    there = place(dialog, "key")
    qtbot.waitUntil(lambda: not dialog.keeper.is_busy, timeout=WAIT_MS)
    name = window.session.farm.settings.name
    assert [sheet.name for sheet in kept_sheets(window.session.farm)] == [name]
    assert window.files.undo_name == f"Keep sheet {name}"
    qtbot.keyClicks(dialog.contents.version, "2")
    dialog.reject()
    path = window.session.path
    qtbot.waitUntil(lambda: "version" in kept_sheets(read_farm(path))[0].choices, timeout=WAIT_MS)
    qtbot.waitUntil(lambda: not window.findChildren(PrintDialog), timeout=WAIT_MS)
    window.actions_by_name["print_map"].trigger()
    again = dialog_of(window, PrintDialog)
    wait_set(qtbot, window.jobs, again)
    assert place(again, "key") != there
    kept = again.kept
    again.tabs.show_page(2)
    assert kept.list.item(0).text() == name
    kept.list.setCurrentRow(0)
    qtbot.mouseClick(kept.take_button, LEFT)
    wait_set(qtbot, window.jobs, again)
    assert (place(again, "key").x, place(again, "key").y) == pytest.approx((there.x, there.y), abs=0.02)
    assert again.contents.version.text() == "2"
    assert again.windowTitle().endswith(name)
    kept.name.setText("For the grant")
    qtbot.mouseClick(kept.rename_button, LEFT)
    qtbot.waitUntil(lambda: kept.list.item(0).text().startswith("For the grant"), timeout=WAIT_MS)
    kept.name.setText("For the council")
    qtbot.mouseClick(kept.keep_button, LEFT)
    qtbot.waitUntil(lambda: kept.list.count() == 2, timeout=WAIT_MS)
    qtbot.mouseClick(kept.remove_button, LEFT)
    qtbot.waitUntil(lambda: kept.list.count() == 1, timeout=WAIT_MS)
    assert len(kept_sheets(read_farm(path))) == 1
    window.files.undo()
    qtbot.waitUntil(lambda: len(kept_sheets(window.session.farm)) == 2, timeout=WAIT_MS)
    again.take_up(kept_sheets(window.session.farm)[-1].id)
    assert again.windowTitle().endswith("For the council")
    window.files.undo()
    qtbot.waitUntil(lambda: kept.list.count() == 1, timeout=WAIT_MS)
    assert not again.keeper.is_kept, "what was taken back in the main window is not kept any more"
    assert again.windowTitle() == "Print map"
    again.reject()
