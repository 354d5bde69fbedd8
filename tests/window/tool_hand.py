"""A hand that works on the map of a window by mouse and keys, and looks at the farm file afterwards."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from farmmap.farm.farm import Farm
from farmmap.files.farm_file import read_farm
from farmmap.window.farm_window import FarmWindow
from tests.place import EAST, NORTH

LEFT = Qt.MouseButton.LeftButton
NONE = Qt.KeyboardModifier.NoModifier
WAIT_MS = 30_000
TOOL_NAMES = ["Pick", "Draw", "Reshape", "Blocks", "Tree", "Tape", "Mark", "Plant", "Measure"]


class Hand:
    """Places are metres east and north of the small farm's corner."""

    def __init__(self, qtbot: QtBot, window: FarmWindow, settle: Callable[[FarmWindow], None]) -> None:
        self.qtbot, self.window, self._settle = qtbot, window, settle
        qtbot.waitUntil(lambda: "Measure" in window.tool_row.buttons, timeout=WAIT_MS)
        qtbot.waitUntil(lambda: window.map_view.tool is not None, timeout=WAIT_MS)
        self._before: Any = window.session.farm

    @property
    def map(self) -> Any:
        return self.window.map_view

    @property
    def tool(self) -> Any:
        return self.window.map_view.tool

    @property
    def words(self) -> str:
        return self.window.note_strip.words

    def at(self, east: float, north: float) -> QPoint:
        return self.map.place_of(EAST + east, NORTH + north).toPoint()

    def take(self, name: str, choice: str = "") -> Any:
        """Take a tool up as the menu and the row do."""
        self.window.tool_row.actions_by_choice[name, choice].trigger()
        return self.tool

    def hover(self, east: float, north: float, modifiers: Qt.KeyboardModifier = NONE) -> None:
        """Move the pointer, no button held."""
        self._move(self.at(east, north), Qt.MouseButton.NoButton, modifiers)

    def click(self, east: float, north: float, modifiers: Qt.KeyboardModifier = NONE) -> None:
        self.hover(east, north, modifiers)
        self.qtbot.mouseClick(self.map, LEFT, modifiers, self.at(east, north))

    def double_click(self, east: float, north: float, modifiers: Qt.KeyboardModifier = NONE) -> None:
        """The first click, then the second, as a mouse sends them."""
        self.click(east, north, modifiers)
        self.qtbot.mouseDClick(self.map, LEFT, modifiers, self.at(east, north))
        self.qtbot.mouseRelease(self.map, LEFT, modifiers, self.at(east, north))

    def drag(self, start: tuple[float, float], end: tuple[float, float], modifiers: Qt.KeyboardModifier = NONE) -> None:
        self.press(start, modifiers)
        self.pull(start, end, modifiers)
        self.qtbot.mouseRelease(self.map, LEFT, modifiers, self.at(*end))

    def press(self, start: tuple[float, float], modifiers: Qt.KeyboardModifier = NONE) -> None:
        self.qtbot.mousePress(self.map, LEFT, modifiers, self.at(*start))

    def pull(self, start: tuple[float, float], end: tuple[float, float], modifiers: Qt.KeyboardModifier = NONE) -> None:
        for step in range(1, 5):
            place = start[0] + (end[0] - start[0]) * step / 4, start[1] + (end[1] - start[1]) * step / 4
            self._move(self.at(*place), LEFT, modifiers)

    def _move(self, place: QPoint, held: Qt.MouseButton, modifiers: Qt.KeyboardModifier) -> None:
        """QTest's own move would carry the modifiers of the click before it."""
        at = QPointF(place)
        none = Qt.MouseButton.NoButton
        event = QMouseEvent(QEvent.Type.MouseMove, at, self.map.mapToGlobal(at), none, held, modifiers)
        QApplication.sendEvent(self.map, event)

    def key(self, key: Qt.Key, modifiers: Qt.KeyboardModifier = NONE, times: int = 1) -> None:
        for _ in range(times):
            QTest.keyClick(self.map, key, modifiers)

    def type(self, words: str) -> None:
        """Type into whatever has the keyboard."""
        for letter in words:
            focused = self.window.focusWidget()
            QTest.keyClicks(focused, letter)

    def enter(self) -> None:
        QTest.keyClick(self.window.focusWidget(), Qt.Key.Key_Return)

    def wait_for_edit(self) -> Farm:
        """Wait until another farm stands on the screen; return it."""
        before = self._before

        def another() -> None:
            assert self.window.session.farm is not before, self.words

        self.qtbot.waitUntil(another, timeout=WAIT_MS)
        self.settle()
        self._before = self.window.session.farm
        return self._before

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.window.bench.is_writing, timeout=WAIT_MS)
        self._settle(self.window)

    def file(self) -> Farm:
        """Return the farm as its file holds it now."""
        return read_farm(self.window.session.path)

    def undo(self) -> Farm:
        self.window.actions_by_name["undo"].trigger()
        return self.wait_for_edit()
