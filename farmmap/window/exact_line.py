"""The small line near the pointer in which an exact length, bearing or coordinate is typed."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QFrame, QLabel, QLineEdit, QVBoxLayout, QWidget

from farmmap.errors import FarmmapError
from farmmap.window.tools.sentences import sentence

HINT = (
    "25 @ 90: 25 m at a bearing of 90°\n25: 25 m towards the pointer\n"
    "+12 -5: 12 m east and 5 m south\nE 1812000 N 5478000: a place"
)
OPENED_BY = frozenset("0123456789.@eEnN")
"""Characters that open the line when they are typed over the map."""
STEPS_OPENED_BY = frozenset("+-−")
"""Characters that open it where there is a corner to step from; elsewhere they make the map larger and smaller."""


class ExactLine(QFrame):
    """Opens with the first character typed; Enter takes it, Escape gives it up, wrong words are answered in place."""

    changed = Signal()
    """The words are others, or the line was shut."""

    def __init__(self, over: QWidget) -> None:
        super().__init__(over)
        self._over = over
        self._take: Callable[[str], None] | None = None
        self.setAutoFillBackground(True)
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setCursor(Qt.CursorShape.ArrowCursor)
        self.line = _Line(self)
        self.line.setAccessibleName("Exact length, bearing or place")
        self.line.setMinimumWidth(self.fontMetrics().averageCharWidth() * 30)
        self.answer = QLabel(HINT)
        self.answer.setTextFormat(Qt.TextFormat.PlainText)
        self.answer.setWordWrap(True)
        self.answer.setProperty("quiet", True)
        self._column = column = QVBoxLayout(self)
        column.setContentsMargins(8, 8, 8, 6)
        column.addWidget(self.line)
        column.addWidget(self.answer)
        self.line.textEdited.connect(self._edited)
        self.line.returnPressed.connect(self._enter)
        self.hide()

    @property
    def words(self) -> str:
        """What is typed in it; "" while it is shut."""
        return self.line.text().strip() if self.isVisible() else ""

    def open(self, first: str, near: QPointF, take: Callable[[str], None]) -> None:
        """Open near a place of the map.

        Parameters
        ----------
        first : str
            What was typed already.
        near : QPointF
            Place on the map. [px]
        take : callable
            Given the words when Enter is pressed; raises a `FarmmapError` in words where they are wrong.
        """
        self._take = take
        self.line.setText(first)
        self._answer(HINT, warning=False)
        self._place(near)
        self.show()
        self.raise_()
        self.line.setFocus(Qt.FocusReason.OtherFocusReason)
        self.line.deselect()
        self.line.end(False)
        self.changed.emit()

    def shut(self) -> None:
        """Close, and give the keyboard back to the map."""
        if self.isVisible():
            had_focus = self.line.hasFocus()
            self.hide()
            if had_focus:
                self._over.setFocus(Qt.FocusReason.OtherFocusReason)
            self.changed.emit()

    def _enter(self) -> None:
        take, words = self._take, self.words
        if take is None:
            return
        try:
            take(words)
        except FarmmapError as error:
            self._answer(sentence(str(error)), warning=True)
            self.line.selectAll()
        else:
            self.shut()

    def _edited(self) -> None:
        self._answer(HINT, warning=False)
        self.changed.emit()

    def _answer(self, words: str, *, warning: bool) -> None:
        self.answer.setText(words)
        self.answer.setProperty("warning", warning)
        self.answer.setProperty("quiet", not warning)
        self.answer.style().unpolish(self.answer)
        self.answer.style().polish(self.answer)
        self.line.setAccessibleDescription(words)
        if self.isVisible():
            self._place(QPointF(self.pos()) - QPointF(16, 16))

    def _place(self, near: QPointF) -> None:
        wide = self.line.minimumWidth() + 18
        self.resize(wide, self._column.totalHeightForWidth(wide))
        room = self._over.rect().adjusted(4, 4, -4 - self.width(), -4 - self.height())
        left = min(max(round(near.x()) + 16, room.left()), max(room.right(), 4))
        top = min(max(round(near.y()) + 16, room.top()), max(room.bottom(), 4))
        self.move(left, top)


class _Line(QLineEdit):
    def __init__(self, owner: ExactLine) -> None:
        super().__init__(owner)
        self._owner = owner

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self._owner.shut()
            return
        super().keyPressEvent(event)
        event.accept()  # what is typed here is not meant for the map

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if event.reason() in (Qt.FocusReason.MouseFocusReason, Qt.FocusReason.TabFocusReason):
            self._owner.shut()
