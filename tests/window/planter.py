"""A hand with the planting tool in it, and a planting to begin from."""

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog

from tests.place import EAST, NORTH
from tests.window.tool_hand import LEFT, WAIT_MS, Hand


class Planter(Hand):
    """A hand with the planting tool in it."""

    def settle(self) -> None:
        self.qtbot.waitUntil(self.is_still, timeout=WAIT_MS)

    def is_still(self) -> bool:
        window = self.window
        quiet = not window.bench.is_writing and not window.jobs.is_busy() and window.map_view.is_up_to_date
        return quiet and (not hasattr(self.tool, "live") or self.tool.live.is_up_to_date)

    @property
    def live(self):
        return self.tool.live

    @property
    def box(self):
        return self.tool.box

    @property
    def plan(self):
        return self.live.worked.plan

    def push(self, button) -> None:
        """Press a button of the box where it is seen."""
        self.box._scroll.ensureWidgetVisible(button)
        assert button.isVisible()
        assert button.isEnabled(), button.text()
        self.qtbot.mouseClick(button, LEFT)

    def open(self, section) -> None:
        if not section.is_open:
            self.push(section.button)
            self.qtbot.wait(20)  # it is laid out

    def write(self, field, words: str) -> None:
        """Put the cursor into a field by a click, and type over what stands in it."""
        self.box._scroll.ensureWidgetVisible(field)
        assert field.isVisible()
        self.qtbot.mouseClick(field, LEFT)
        assert self.window.focusWidget() in (field, field.parent())
        field.selectAll()
        QTest.keyClicks(field, words)

    def choose(self, field, words: str) -> None:
        """Choose a line of a list by its keys."""
        field.setFocus()
        place = field.findText(words)
        assert place >= 0, words
        field.showPopup()
        view = field.view()
        while view.currentIndex().row() != place:
            down = view.currentIndex().row() < place
            QTest.keyClick(view, Qt.Key.Key_Down if down else Qt.Key.Key_Up)
        QTest.keyClick(view, Qt.Key.Key_Return)
        assert field.currentText() == words
        self.qtbot.waitUntil(lambda: not view.isVisible(), timeout=WAIT_MS)

        def in_front() -> bool:
            self.window.activateWindow()
            return self.window.isActiveWindow()

        self.qtbot.waitUntil(in_front, timeout=WAIT_MS)

    def drag_grip(self, name: str, east: float, north: float) -> None:
        """Drag a handle to a place, as the grip lies."""
        grip = next(one for one in self.live.worked.grips if one.name == name)
        self.drag((grip.x - EAST, grip.y - NORTH), (east, north))


def taken_up(qtbot, opened, settle):
    """Take the tool up with a recipe that comes along."""
    planter = Planter(qtbot, opened, settle)
    qtbot.mouseClick(opened.tool_row.buttons["Plant"], LEFT)
    planter.settle()
    planter.open(planter.box.recipe)
    planter.choose(planter.box.recipe.examples, "Poles on a steep bank")
    planter.settle()
    planter.open(planter.box.where)
    planter.tool.take_focus()
    return planter


def left_bank(hand):
    """Plan a planting of the left bank from 40 m to 140 m, 8 m wide."""
    hand.click(100, -30)
    hand.click(20, -30)
    hand.click(120, -30)
    hand.choose(hand.box.where.bank, "left bank")
    hand.open(hand.box.width_part)
    rule = hand.box.width_part.rules[0]
    while len(hand.box.width_part.rules) > 1:
        hand.push(hand.box.width_part.rules[-1].remove)
    hand.choose(rule.kind, "the same everywhere")
    hand.write(rule.same, "8")
    hand.settle()
    return hand


def answered(monkeypatch, path):
    """The file dialog is answered with a path; nothing else is put in its place."""
    monkeypatch.setattr(QFileDialog, "open", lambda dialog: dialog.fileSelected.emit(str(path)))
