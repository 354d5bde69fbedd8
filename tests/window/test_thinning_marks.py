"""Marking trees on the map by mouse and keys: each is one edit in the file, and is undone as one."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage

from farmmap.scene.scene import Chosen
from farmmap.window.tools.marks import MarkTool
from tests.window.tool_hand import Hand

SHIFT = Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def hand(qtbot, opened, settle):
    made = Hand(qtbot, opened, settle)
    made.take("Mark")
    assert isinstance(made.tool, MarkTool)
    return made


def marks(farm):
    return {tag: mark for tag, mark in zip(farm.trees["tag"], farm.trees["mark"], strict=True) if mark}


def test_a_click_turns_a_tree_from_left_to_crop_to_take_and_back(hand, opened):
    for wanted in ({"1": "crop"}, {"1": "take"}, {}):
        hand.click(10, 10)
        hand.wait_for_edit()
        assert marks(hand.file()) == wanted
    assert opened.files.undo_name == "Take the mark off tree 1"
    assert opened.session.chosen is None
    for wanted in ({"1": "take"}, {"1": "crop"}, {}):
        assert marks(hand.undo()) == wanted
    assert marks(hand.file()) == {}


def test_letters_mark_the_tree_under_the_pointer_and_a_double_click_turns_twice(hand):
    for key, mark in ((Qt.Key.Key_T, "take"), (Qt.Key.Key_C, "crop")):
        hand.hover(20, 10)
        hand.key(key)
        hand.wait_for_edit()
        assert marks(hand.file()) == {"2": mark}
    hand.hover(20, 10)
    hand.key(Qt.Key.Key_L)
    hand.wait_for_edit()
    assert marks(hand.file()) == {}
    hand.hover(60, 60)
    hand.key(Qt.Key.Key_C)
    assert hand.tool.mark == "crop"
    assert "A drag now marks: crop" in hand.words
    assert hand.tool.buttons["crop"].isChecked()
    hand.double_click(10, 10)
    hand.qtbot.waitUntil(lambda: marks(hand.file()) == {"1": "take"})


def test_by_keys_alone(hand, opened):
    """Arrow keys bring the cross-hair to a tree; Enter turns it, again and again."""
    hand.map.go_to(*hand.window.session.farm.trees.loc[1, ["x", "y"]])
    hand.map.setFocus()
    middle = hand.map.view.to_mm(*hand.window.session.farm.trees.loc[1, ["x", "y"]])
    across = float(middle[0]) - hand.map.width() / hand.map.dots_per_mm() / 2
    down = float(middle[1]) - hand.map.height() / hand.map.dots_per_mm() / 2
    hand.key(Qt.Key.Key_Right if across > 0 else Qt.Key.Key_Left, times=round(abs(across) / 2.5))
    hand.key(Qt.Key.Key_Down if down > 0 else Qt.Key.Key_Up, times=round(abs(down) / 2.5))
    assert hand.tool.pointer_words() == "1, tōtara 22.5 cm: left"
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    assert marks(hand.file()) == {"1": "crop"}
    assert hand.tool.pointer_words().endswith(": crop tree")
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    assert marks(hand.file()) == {"1": "take"}
    hand.key(Qt.Key.Key_Escape)
    assert not isinstance(hand.tool, MarkTool)


def test_a_drag_from_a_tree_marks_all_it_passes_over_as_one_edit(hand, opened):
    hand.press((10, 10))
    hand.pull((10, 10), (121, 10))
    assert len(hand.tool.swept) == 4
    assert hand.tool.pointer_lines() == ["4 trees: to be taken out"]
    hand.qtbot.mouseRelease(hand.map, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, hand.at(121, 10))
    hand.wait_for_edit()
    assert marks(hand.file()) == dict.fromkeys(("1", "2", "4", "5"), "take")  # tree 3 is dead
    assert marks(hand.undo()) == {}


def test_a_rectangle_marks_what_is_chosen_for_a_drag(hand, opened):
    hand.qtbot.mouseClick(hand.tool.buttons["crop"], Qt.MouseButton.LeftButton)
    hand.drag((5, 2), (65, -40), SHIFT)
    assert "No tree" not in hand.words
    hand.wait_for_edit()
    assert marks(hand.file()) == {"6": "crop"}
    hand.drag((100, 60), (140, 40), SHIFT)
    assert hand.words == "No tree lies there; nothing was marked."
    assert opened.files.undo_name == "Mark tree 6 as crop"


def test_nothing_is_chosen_or_let_go_by_marking(hand, opened):
    opened.session.choose(Chosen("block", 1))
    hand.settle()
    panel = opened.panels.currentIndex()
    hand.click(10, 10)
    hand.wait_for_edit()
    assert opened.session.chosen == Chosen("block", 1)
    assert opened.panels.currentIndex() == panel
    hand.click(60, 60)
    assert hand.words.startswith("No tree stands there")
    before = hand.map.view
    hand.drag((60, 60), (80, 70))
    assert hand.map.view != before  # from bare ground a drag moves the map
    assert marks(hand.file()) == {"1": "crop"}


def test_marking_again_as_it_is_says_so_and_makes_no_edit(hand, opened):
    hand.hover(10, 10)
    hand.key(Qt.Key.Key_T)
    hand.wait_for_edit()
    hand.hover(10, 10)
    hand.key(Qt.Key.Key_T)
    hand.qtbot.waitUntil(lambda: "marked so already" in hand.words)
    assert marks(hand.undo()) == {}


def test_a_drag_is_given_up_by_escape(hand):
    hand.press((10, 10))
    hand.pull((10, 10), (60, 10))
    hand.key(Qt.Key.Key_Escape)
    hand.qtbot.mouseRelease(hand.map, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, hand.at(60, 10))
    hand.settle()
    assert marks(hand.file()) == {}
    assert isinstance(hand.tool, MarkTool)


def test_signs_stand_on_the_map_and_in_the_key_at_once(hand, opened):
    def lines():
        return [name for name in opened.key_view._counts if "crop" in name or "taken" in name]

    assert lines() == []
    before = picture(hand)
    hand.click(10, 10)
    hand.wait_for_edit()
    assert lines() == ["trees/crop tree, kept"]
    assert opened.key_view._counts["trees/crop tree, kept"].text() == "1"
    hand.hover(60, 60)
    hand.settle()
    assert picture(hand) != before
    hand.undo()
    assert lines() == []


def picture(hand):
    """The map around tree 1."""
    place = hand.at(10, 10)
    image = hand.map.grab().toImage().copy(place.x() - 12, place.y() - 12, 24, 24)
    return bytes(image.convertToFormat(QImage.Format.Format_RGB888).constBits())
