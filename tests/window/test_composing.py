"""A sheet is composed on the screen by mouse and keys: moved, snapped, resized, left out, brought back, undone."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from farmmap.scene.page_items import Box
from farmmap.scene.page_snapping import Place
from farmmap.scene.paper import Paper
from farmmap.sheets.chosen import SheetChoices
from farmmap.sheets.page import SheetOptions
from farmmap.sheets.subjects import compose_chosen
from farmmap.window.printing.dialog import PLACES_DROPPED
from farmmap.window.printing.elements import elements_of, troubled
from farmmap.window.printing.held import grip_place, grips_of, nearest_grip
from farmmap.window.printing.page_maker import PageMaker
from farmmap.window.printing.seen import MOST_DOTS, Seen
from tests.conftest import small_farm
from tests.window.composing_hand import LEFT, NO_KEYS, Composing, at, drag, element, middle, place

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier


@pytest.fixture(scope="module")
def of_module(qapp, tmp_path_factory):
    """Return the place where the small farm's sheet is composed; one for all tests, as it takes a while to make."""
    made = Composing(small_farm(), tmp_path_factory.mktemp("farm"))
    yield made
    made.close()


@pytest.fixture
def composing(qtbot, of_module):
    """Return the place where a new sheet is composed."""
    of_module.begin_anew()
    return of_module


def test_an_element_is_dragged_snaps_and_is_composed_there(composing):
    dialog = composing.dialog
    name = "scale bar"
    was, frame = place(dialog, name), place(dialog, "map")
    step = (frame.x - was.x + 1.1, -50.0)
    drag(dialog, middle(dialog, name), step, let_go=False)
    assert any(guide.upright and guide.at == pytest.approx(frame.x) for guide in dialog.view._held.guides)
    held = dialog.view.grab().toImage()
    QTest.keyClick(dialog.view, Qt.Key.Key_Escape)
    assert dialog.isVisible(), "Escape takes the drag back, and does not close the window"
    assert place(dialog, name) == was
    assert dialog.view.grab().toImage() != held, "the guide and the element on its way are gone"
    QTest.mouseRelease(dialog.view.viewport(), LEFT, NO_KEYS, at(dialog, 1, 1))
    assert dialog.choices.options.moved == ()
    assert not dialog.bar.undo_button.isEnabled()

    drag(dialog, middle(dialog, name), step)
    now = place(dialog, name)
    assert now.x == pytest.approx(frame.x, abs=0.01), "it snapped to the frame of the map, not to the pointer"
    assert (now.width, now.height) == pytest.approx((was.width, was.height), abs=0.02)
    assert dialog.choices.options.moved[0].name == name
    composing.wait()
    composed = element(dialog, name).place
    assert (composed.x, composed.y) == pytest.approx((now.x, now.y), abs=0.02)
    assert dialog.place_words.text().startswith("Scale bar: ")
    assert f"{now.x:.0f} mm from the left" in dialog.view.accessibleDescription()

    drag(dialog, middle(dialog, name), (2.2, 0.0), keys=CTRL)
    assert frame.x + 1.2 < place(dialog, name).x < frame.x + 3.2, "with Ctrl held nothing snaps"
    composing.wait()
    assert element(dialog, name).place.width == pytest.approx(composed.width), "it is as large as before"


def test_the_map_is_moved_once_it_is_picked_and_drawn_smaller_by_its_corner(composing):
    dialog = composing.dialog
    was = place(dialog, "map")
    drag(dialog, middle(dialog, "map"), (20.0, 12.0))
    assert dialog.view.name == "map"
    assert place(dialog, "map") == was, "the first drag draws the page along"
    corner = grip_place(was, (1, 1))
    drag(dialog, corner, (-40.0, -30.0), keys=CTRL)
    now = place(dialog, "map")
    assert (now.x, now.y) == pytest.approx((was.x, was.y), abs=0.01)
    assert (now.width, now.height) == pytest.approx((was.width - 40, was.height - 30), abs=0.6)
    composing.wait()
    frame = element(dialog, "map").place
    assert (frame.width, frame.height) == pytest.approx((now.width, now.height), abs=0.05)
    assert dialog.choices.options.landscape is not None, "the page does not turn round by itself any more"


def test_everything_is_done_by_keys(composing):
    dialog = composing.dialog
    view = dialog.view
    view.setFocus()
    names = []
    for _ in view.elements:
        QTest.keyClick(view, Qt.Key.Key_Tab)
        names.append(view.name)
    assert names == [one.name for one in view.elements]
    QTest.keyClick(view, Qt.Key.Key_Backtab)
    assert view.name == names[-2]
    view.pick("key")
    was = place(dialog, "key")
    QTest.keyClick(view, Qt.Key.Key_Right)
    QTest.keyClick(view, Qt.Key.Key_Down, SHIFT)
    now = place(dialog, "key")
    assert (now.x - was.x, now.y - was.y) == pytest.approx((1, 5), abs=0.02)
    QTest.keyClick(view, Qt.Key.Key_Left, CTRL)
    assert place(dialog, "key").width == pytest.approx(was.width - 1, abs=0.02)
    composing.wait()
    QTest.keyClick(view, Qt.Key.Key_Escape)
    assert view.name == ""
    assert dialog.isVisible()
    view.pick("caution")
    QTest.keyClick(view, Qt.Key.Key_Delete)
    assert "stays on every page" in dialog.place_words.text()
    assert dialog.choices.options.left_out == frozenset()
    view.pick(view.elements[-1].name)
    QTest.keyClick(view, Qt.Key.Key_Tab)
    assert not view.hasFocus(), "after the last element the keyboard goes on to the next field"


def test_what_is_left_out_is_brought_back_by_its_tick_and_by_undo(composing):
    dialog = composing.dialog
    view = dialog.view
    drag(dialog, middle(dialog, "scale bar"), (0.0, 0.0))
    assert view.name == "scale bar"
    QTest.keyClick(view, Qt.Key.Key_Delete)
    assert "is left out" in dialog.place_words.text()
    composing.wait()
    assert "scale bar" not in {one.name for one in view.elements}
    rows = {
        ticks.item(row).text(): ticks.item(row) for ticks in [dialog.contents.elements] for row in range(ticks.count())
    }
    assert rows["Scale bar"].checkState() == Qt.CheckState.Unchecked
    rows["Scale bar"].setCheckState(Qt.CheckState.Checked)
    composing.wait()
    assert "scale bar" in {one.name for one in view.elements}
    QTest.keyClick(dialog, Qt.Key.Key_Z, CTRL)
    composing.wait()
    assert "scale bar" not in {one.name for one in view.elements}


def test_steps_go_back_and_forth_and_all_places_are_dropped(composing):
    dialog = composing.dialog
    was = place(dialog, "key")
    drag(dialog, middle(dialog, "key"), (40.0, -120.0))
    composing.wait()
    moved = place(dialog, "key")
    QTest.mouseClick(dialog.bar.undo_button, LEFT)
    composing.wait()
    assert place(dialog, "key") == was
    QTest.keyClick(dialog, Qt.Key.Key_Y, CTRL)
    composing.wait()
    assert place(dialog, "key") == moved
    QTest.mouseClick(dialog.bar.anew_button, LEFT)
    composing.wait()
    assert place(dialog, "key") == was
    assert not dialog.bar.anew_button.isEnabled()


def test_elements_over_each_other_are_told_of_and_other_paper_drops_places(composing):
    dialog = composing.dialog
    key, caution = place(dialog, "key"), place(dialog, "caution")
    view = dialog.view
    dialog.view.pick("key")
    drag(dialog, middle(dialog, "key"), (caution.x - key.x, caution.y - key.y))
    composing.wait()
    assert "Upon each other: cautions and key." in dialog.problem.text()
    assert view.grab().toImage().size() == view.size()
    dialog.form.paper.setCurrentText("A3")
    dialog.form.paper.activated.emit(dialog.form.paper.currentIndex())
    composing.wait()
    assert dialog.choices.options.moved == ()
    assert dialog.place_words.text() == PLACES_DROPPED
    assert dialog.problem.text() == ""


def test_parts_of_a_maps_frame_go_with_it_and_what_lies_over_others_is_found(farm, day):
    page = compose_chosen(farm, day, SheetChoices(options=SheetOptions(landscape=True))).document.pages[0]
    page = replace(page, boxes=(*page.boxes, Box("map 2 title", 5, 5, 9, 9, ()), Box("eastings 2", 5, 5, 9, 9, ())))
    found = elements_of(page)
    names = [one.name for one in found]
    assert "map" in names
    assert not {"eastings", "northings", "map 2 title", "eastings 2"} & set(names)
    assert troubled(page) == frozenset()
    key = next(box for box in page.boxes if box.name == "key")
    title = next(box for box in page.boxes if box.name == "title")
    over = tuple(box.placed(title.x, title.y) if box is key else box for box in page.boxes)
    assert troubled(replace(page, boxes=over)) >= {"key", "title"}
    off = tuple(box.placed(page.paper.width_mm - 3, box.y) if box is key else box for box in page.boxes)
    assert "key" in troubled(replace(page, boxes=off))


def test_letters_that_no_typeface_has_are_told_of_whatever_is_printed(farm, day, monkeypatch):
    monkeypatch.setattr("farmmap.sheets.subjects.not_written", lambda document: (f"of {len(document.pages)} pages",))
    done = compose_chosen(farm, day, SheetChoices("blocks"))
    assert f"of {len(done.document.pages)} pages" in done.messages


def test_what_was_asked_before_is_stopped_for_what_is_asked_now(qtbot, composing):
    dialog, made = composing.dialog, []

    def endless(progress):
        while True:
            progress.step(0, 0, "")

    maker = PageMaker(composing.jobs, dialog)
    maker.made.connect(lambda done: made.append(done.asked))
    maker.stopped.connect(lambda: made.append("stopped"))
    maker.compose("old", endless, 0, dialog.view.seen)
    maker.compose("new", lambda _progress: dialog._set.composed, 0, dialog.view.seen)
    qtbot.waitUntil(lambda: bool(made), timeout=30_000)
    assert made == ["new"]


def test_the_picture_is_as_sharp_as_the_screen_whatever_page_comes():
    across, upright = Paper("A4", 297.0, 210.0), Paper("A4", 210.0, 297.0)
    seen = Seen(28 + 594, 28 + 594, 2.0)
    assert seen.dots_per_mm(across) == seen.dots_per_mm(upright) == pytest.approx(4.0)
    assert seen.zoomed(across, 3.0) == pytest.approx(6.0)
    assert replace(seen, zoom=6.0).dots_per_mm(across) == pytest.approx(12.0)
    closest = seen.zoomed(across, 1000.0)
    assert (closest * 2.0) ** 2 * 297 * 210 <= MOST_DOTS * 1.001


def test_small_elements_have_squares_at_their_corners_only():
    assert set(grips_of(Place(0, 0, 100, 100), 30)) == {(x, y) for x in (-1, 0, 1) for y in (-1, 0, 1)} - {(0, 0)}
    assert set(grips_of(Place(0, 0, 20, 20), 30)) == {(x, y) for x in (-1, 1) for y in (-1, 1)}
    assert (0, 1) in grips_of(Place(0, 0, 100, 9), 30)
    assert nearest_grip(Place(0, 0, 20, 20), grips_of(Place(0, 0, 20, 20), 30), 19, 21, 2) == (1, 1)
    assert nearest_grip(Place(0, 0, 20, 20), grips_of(Place(0, 0, 20, 20), 30), 10, 21, 2) is None
