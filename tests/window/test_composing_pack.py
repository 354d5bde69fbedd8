"""The application pack is put together in the window: parts, order, words, bookmarks, PDF and data."""

import pdfplumber
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from farmmap.editing.kept_sheets import kept_sheets, sheet_kept
from farmmap.editing.pack_parts import kept_parts
from farmmap.errors import BadInput
from farmmap.files.farm_file import read_farm
from farmmap.sheets.pack.parts import PARTS
from farmmap.window.printing.dialog import PrintDialog
from farmmap.window.printing.pack_dialog import PackDialog
from farmmap.window.printing.pack_draft import PackDraft, draft_of, pack_edit
from farmmap.window.printing.pack_form import PackForm
from tests.window.composing_hand import LEFT, WAIT_MS


@pytest.fixture
def packing(qtbot, opened, dialog_of):
    """Return a window with the small farm open, and its pack."""
    opened.actions_by_name["print_map:pack"].trigger()
    dialog = dialog_of(opened, PackDialog)
    wait(qtbot, opened, dialog)
    return opened, dialog


def wait(qtbot, window, dialog):
    qtbot.waitUntil(lambda: dialog.is_up_to_date and not window.jobs.is_busy(), timeout=WAIT_MS)


def row_of(dialog, part):
    return next(
        row for row in range(dialog.form.parts.count()) if dialog.form.parts.item(row).text() == PARTS[part].title
    )


def test_a_pack_is_put_together_and_written(qtbot, packing, tmp_path):
    window, dialog = packing
    form, parts = dialog.form, dialog.form.parts
    marks = [dialog.bookmarks.item(row).text() for row in range(dialog.bookmarks.count())]
    assert marks[:3] == ["Summary", "Location", "Existing state"]
    assert "no plan is given" in dialog.problem.text()
    assert "--plan" not in dialog.problem.text()
    assert "(left out)" in parts.item(list(PARTS).index("costs")).text()

    parts.item(row_of(dialog, "location")).setCheckState(Qt.CheckState.Unchecked)
    parts.setFocus()
    parts.setCurrentRow(row_of(dialog, "stocking"))
    assert "basal area" in form.about.text()
    QTest.mouseClick(form.up_button, LEFT)
    assert form.part == "stocking"
    form.text.setFocus()
    qtbot.keyClicks(form.text, "Walked in May.")
    dialog.tabs.show_page(1)
    qtbot.keyClicks(dialog.about.fields["applicant"], "Aroha Field")
    wait(qtbot, window, dialog)
    marks = [dialog.bookmarks.item(row).text() for row in range(dialog.bookmarks.count())]
    assert "Location" not in marks
    assert dialog.bookmarks.currentItem().text() == "Block stocking"

    QTest.keyClick(dialog.view, Qt.Key.Key_PageDown)
    last = dialog.bookmarks.item(dialog.bookmarks.count() - 1)
    dialog.bookmarks.itemActivated.emit(last)
    qtbot.waitUntil(lambda: dialog._set.number == last.data(Qt.ItemDataRole.UserRole), timeout=WAIT_MS)
    assert dialog.bar.number_words.text() == f"Page {dialog._number + 1} of {len(dialog._set.document.pages)}"

    dialog.write(tmp_path / "pack.pdf")
    qtbot.waitUntil(lambda: "pack.pdf" in dialog.told.text(), timeout=WAIT_MS)
    with pdfplumber.open(tmp_path / "pack.pdf") as pdf:
        said = "\n".join(page.extract_text() for page in pdf.pages)
    assert "Walked in May." in said
    assert "Aroha Field" in said
    dialog.write_data(tmp_path / "data")
    qtbot.waitUntil(lambda: "The data is in" in dialog.told.text(), timeout=WAIT_MS)
    assert list((tmp_path / "data").glob("*.gpkg"))

    dialog.reject()
    qtbot.waitUntil(lambda: not window.jobs.is_busy(), timeout=WAIT_MS)


def test_a_pack_is_kept_as_it_is_changed_and_found_again(qtbot, packing, dialog_of):
    window, dialog = packing
    dialog.form.parts.item(row_of(dialog, "location")).setCheckState(Qt.CheckState.Unchecked)
    dialog.form.pick("stocking")
    QTest.mouseClick(dialog.form.up_button, LEFT)
    dialog.form.text.setPlainText("Walked in May.")
    dialog.tabs.show_page(1)
    qtbot.keyClicks(dialog.about.fields["version"], "3")
    dialog.reject()  # what was not yet written is written all the same
    path = window.session.path
    qtbot.waitUntil(lambda: draft_of(read_farm(path)).details.get("version") == "3", timeout=WAIT_MS)
    kept = {one.part: one for one in kept_parts(read_farm(path), "Application")}
    assert not kept["location"].taken
    assert kept["stocking"].text == "Walked in May."
    assert kept["stocking"].place == list(PARTS).index("stocking")
    qtbot.waitUntil(lambda: window.files.undo_name == "Keep pack Application", timeout=WAIT_MS)
    qtbot.waitUntil(lambda: not window.jobs.is_busy() and not window.findChildren(PackDialog), timeout=WAIT_MS)

    window.actions_by_name["print_map:pack"].trigger()
    again = dialog_of(window, PackDialog)
    assert again.draft == draft_of(window.session.farm)
    assert again.about.fields["version"].text() == "3"
    again.form.pick("stocking")
    assert again.form.text.toPlainText() == "Walked in May."
    again.reject()
    window.actions_by_name["print_map"].trigger()
    sheets = dialog_of(window, PrintDialog)
    assert len(kept_sheets(window.session.farm)) == 1
    assert sheets.kept.list.count() == 0, "a pack is no sheet"
    sheets.reject()
    qtbot.waitUntil(lambda: not window.jobs.is_busy(), timeout=WAIT_MS)


def test_own_words_stand_behind_those_of_farmmap_where_that_is_ticked(qtbot):
    form = PackForm(["Lower Sedge"])
    qtbot.addWidget(form)
    told = []
    form.changed.connect(lambda draft, _kind: told.append(draft))
    form.show_draft(PackDraft())
    form.pick("summary")
    form.follows.click()
    qtbot.keyClicks(form.text, "We began in spring.")
    assert told[-1].texts == {"summary": "+ We began in spring."}
    form.pick("location")
    form.pick("summary")
    assert form.text.toPlainText() == "We began in spring."
    assert form.follows.isChecked()
    form.text.clear()
    assert told[-1].texts == {}
    form.plans.item(0).setCheckState(Qt.CheckState.Checked)
    assert told[-1].plans == ("Lower Sedge",)


def test_a_pack_that_is_kept_already_is_the_same_again(farm):
    draft = PackDraft().with_text("summary", "Ours.").with_detail("scheme", "Creeks 2026").with_detail("author", "A")
    draft = draft.with_detail("author", " ")
    taken = sheet_kept(farm, "Pack: Application", {}).edit.apply(farm)  # the name is the grower's already
    kept = pack_edit(taken, draft).apply(taken)
    assert draft_of(kept) == draft
    assert draft.options(None).scheme == "Creeks 2026"
    with pytest.raises(BadInput, match="just as it is"):
        pack_edit(kept, draft)
