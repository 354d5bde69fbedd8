"""Map tools as plug-ins: ours and anybody's come by the same door, and one that fails stops nothing."""

import importlib.metadata
import tomllib
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from farmmap.installed_parts import BrokenPart
from farmmap.window import map_tool
from farmmap.window.map_tool import MapTool, ToolChoice, ToolKind, find_tools
from farmmap.window.tools import kinds
from tests.window.tool_hand import TOOL_NAMES, Hand

TOP = Path(__file__).parents[2]


@pytest.fixture
def hand(qtbot, opened, settle):
    return Hand(qtbot, opened, settle)


def registered():
    text = (TOP / "pyproject.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)["project"]["entry-points"][map_tool.GROUP]


def test_every_kind_of_ours_is_registered():
    ours = {name for name, value in vars(kinds).items() if isinstance(value, ToolKind)}
    assert {value.partition(":")[2] for value in registered().values()} == ours


def test_tools_are_found_in_the_order_of_the_row(monkeypatch):
    points = [importlib.metadata.EntryPoint(name, value, map_tool.GROUP) for name, value in registered().items()]
    points.append(importlib.metadata.EntryPoint("odd", "farmmap.window.tools.kinds:ToolChoice", map_tool.GROUP))
    points.append(importlib.metadata.EntryPoint("gone", "no.such.module:TOOL", map_tool.GROUP))
    monkeypatch.setattr(importlib.metadata, "entry_points", lambda group: points)
    tools, broken = find_tools()
    assert [kind.name for kind in tools] == TOOL_NAMES
    assert [shut.name for shut in broken] == ["odd", "gone"]
    assert "not a ToolKind" in broken[0].report


def test_keys_of_the_tools_differ():
    keys = [value.key for value in vars(kinds).values() if isinstance(value, ToolKind)]
    assert len(set(keys)) == len(keys)


class LeftAlone(MapTool):
    """A tool of somebody else's that does nothing."""


class Fails(MapTool):
    """A tool of somebody else's that cannot be made."""

    def __init__(self, bench, choice=""):
        raise RuntimeError("no good")


class Stumbles(MapTool):
    """A tool of somebody else's that fails when it is used."""

    def clicked(self, event):
        raise RuntimeError("stumbled")


def test_a_tool_that_fails_is_laid_down_with_a_report(hand, opened, dialog_of):
    from farmmap.window.messages import ReportDialog

    opened.bench.take_up(ToolKind("Bad", "", f"{__name__}:Stumbles", changes=False))
    hand.click(30, 60)
    report = dialog_of(opened, ReportDialog)
    assert "stumbled" in report.report.toPlainText()
    report.close()
    hand.qtbot.waitUntil(lambda: opened.bench.kind is kinds.PICK)
    hand.click(30, 60)
    assert opened.bench.picks.rows == (("blocks", 1),)


def test_every_hook_of_a_tool_is_guarded():
    from farmmap.window.tools.guard import HOOKS

    hooks = {name for name, value in vars(MapTool).items() if callable(value) and not name.startswith("_")}
    assert hooks == set(HOOKS)


def test_a_tool_that_takes_nothing_leaves_the_map_as_it_was(hand, opened):
    opened.bench.take_up(ToolKind("Other", "", f"{__name__}:LeftAlone", changes=False))
    assert type(opened.map_view.tool).__name__ == "LeftAlone"
    before = opened.map_view.view
    hand.key(Qt.Key.Key_Left)
    assert opened.map_view.view != before
    hand.settle()
    hand.click(30, 60)
    assert opened.session.chosen is not None


def test_a_tool_that_cannot_be_made_is_told_of_and_the_one_in_the_hand_stays(hand, opened, dialog_of):
    from farmmap.window.messages import ReportDialog

    before = opened.map_view.tool
    opened.bench.take_up(ToolKind("Bad", "", f"{__name__}:Fails", changes=False))
    dialog_of(opened, ReportDialog).close()
    assert opened.map_view.tool is before


def test_a_broken_tool_stands_in_the_row_as_shut(opened, hand):
    from PySide6.QtWidgets import QToolButton

    opened.tool_row.show_tools((), (BrokenPart("Odd", "it failed"),))
    words = [button.text() for button in opened.tool_row.findChildren(QToolButton)]
    assert "Odd (shut)" in words


def test_keys_take_tools_up_and_drop_lists_down(hand, opened):
    hand.qtbot.keyClick(opened, Qt.Key.Key_F4)
    assert opened.bench.kind is kinds.RESHAPE
    hand.qtbot.keyClick(opened, Qt.Key.Key_F2)
    assert opened.bench.kind is kinds.PICK
    button = opened.tool_row.buttons["Tree"]
    hand.qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert opened.bench.kind is kinds.TREE
    hand.qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert opened.bench.kind is kinds.PICK
    assert opened.tool_row.buttons["Pick"].isChecked()


def test_choices_are_offered_by_the_button_and_by_the_menu(hand, opened):
    menu = opened.tool_row.buttons["Draw"].menu()
    assert [action.text() for action in menu.actions()] == [choice.words for choice in kinds.DRAW.choices]
    tools = next(action for action in opened.menuBar().actions() if action.text() == "Tools").menu()
    names = [action.text() for action in tools.actions()]
    told = ["Pick", "Draw\tF3", "Reshape", "Blocks\tF6", "Tree", "Tape", "Mark", "Plant", "Measure\tF9"]
    assert names[:9] == told, "keys that only drop a list down are named as well"
    assert isinstance(kinds.DRAW.choices[0], ToolChoice)
    menu.actions()[3].trigger()
    assert opened.map_view.tool.choice == "fence"


def test_the_key_folds_when_a_small_map_is_worked_on_and_opens_by_a_click_only(hand, opened):
    opened.resize(760, 560)
    hand.settle()
    assert opened.key_view.fold.isChecked()
    hand.take("Reshape")
    assert not opened.key_view.fold.isChecked()
    hand.take("Pick")
    assert not opened.key_view.fold.isChecked()
    hand.qtbot.mouseClick(opened.key_view.fold, Qt.MouseButton.LeftButton)
    assert opened.key_view.fold.isChecked()


def test_the_whole_farm_takes_the_room_of_a_folded_key_unless_the_map_was_moved(hand, opened):
    opened.resize(1024, 640)
    hand.settle()
    opened.map_view.whole_farm()
    beside = opened.map_view.view
    opened.key_view.fold.click()
    alone = opened.map_view.view
    west, _, east, _ = opened.session.farm.bounds()
    assert alone.metres_per_mm < beside.metres_per_mm
    assert alone.centre_x == pytest.approx((west + east) / 2)
    opened.key_view.fold.click()
    assert opened.map_view.view == beside
    opened.map_view.pan(3.0, 0.0)
    moved = opened.map_view.view
    opened.key_view.fold.click()
    assert opened.map_view.view == moved


def test_a_corner_that_is_still_being_nudged_is_in_the_file_after_the_window_closes(hand, opened):
    path = opened.session.path
    hand.take("Reshape")
    hand.click(30, 60)
    hand.key(Qt.Key.Key_Tab)
    corner = hand.tool.corners[0]
    hand.key(Qt.Key.Key_Right)
    opened.close()
    from farmmap.files.farm_file import read_farm

    moved = read_farm(path).blocks.geometry.loc[1]
    assert abs(moved.area - 10_000) > 10
    assert corner.x not in [x for x, y in moved.exterior.coords if abs(y - corner.y) < 1e-6]
