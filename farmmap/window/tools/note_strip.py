"""The strip under the map: what a tool asks for, what an edit has to say, and answers to choose from."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence

from PySide6.QtCore import QRect, Qt, Signal
from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QWidget

Answer = tuple[str, Callable[[], None]]
"""Words of a button, and what it does."""


class NoteStrip(QFrame):
    """Room for two lines of words, so that the map above never moves under the pointer; a tip shows what does not fit.

    A note stays until the next action; without one the strip says what may be
    done next.
    """

    reading_changed = Signal()
    """The length, bearing or area that is read is another."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._hint = ""
        self._note = ""
        self._warns = False
        self._hint_answers: tuple[Answer, ...] = ()
        self._note_answers: tuple[Answer, ...] = ()
        self._answers: tuple[Answer, ...] = ()
        self._options: QWidget | None = None
        self.label = QLabel()
        self.label.setProperty("quiet", True)
        self.label.setWordWrap(True)
        self.label.setTextFormat(Qt.TextFormat.PlainText)
        self.label.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.reading = QLabel()
        self.reading.setTextFormat(Qt.TextFormat.PlainText)
        self.reading.setProperty("heading", True)
        self.reading.setMinimumWidth(1)  # a long one is cut off rather than make the window wider
        self.reading.setAccessibleName("Length and area")
        self.setAccessibleName("What to do next")
        self.answers: list[QPushButton] = []
        self.row = row = QHBoxLayout(self)
        row.setContentsMargins(10, 2, 10, 2)
        row.setSpacing(8)
        row.addWidget(self.label, 1)
        self._fit()

    @property
    def words(self) -> str:
        """What it says."""
        return self._note or self._hint

    @property
    def note_words(self) -> str:
        """What the last edit or refusal had to say; "" once the next action has begun."""
        return self._note

    def hint(self, words: str, answers: Sequence[Answer] = ()) -> None:
        """Say what may be done next, once no note stands there, with buttons that do it."""
        if (words, tuple(answers)) != (self._hint, self._hint_answers):
            self._hint, self._hint_answers = words, tuple(answers)
            self._show()

    def note(self, words: str, *, warning: bool = False, answers: Sequence[Answer] = ()) -> None:
        """Say something that stays until the next action, and offer answers to it."""
        self._note, self._warns, self._note_answers = words, warning, tuple(answers)
        self._show()
        urgent = QAccessible.AnnouncementPoliteness.Assertive if warning else QAccessible.AnnouncementPoliteness.Polite
        event = QAccessibleAnnouncementEvent(self.label, words)
        event.setPoliteness(urgent)
        QAccessible.updateAccessibility(event)

    def clear_note(self) -> None:
        """Forget the note."""
        if self._note:
            self._note, self._warns, self._note_answers = "", False, ()
            self._show()

    def read(self, words: str) -> None:
        """Show a length, bearing or area in the status line."""
        if words != self.reading.text():
            self.reading.setText(words)
            self.reading_changed.emit()

    def put_in(self, options: QWidget | None) -> None:
        """Show what a tool lets one set, in place of what the last one did."""
        if self._options is not None:
            self.row.removeWidget(self._options)
            self._options.hide()
            self._options.deleteLater()
        self._options = options
        if options is not None:
            self.row.insertWidget(1, options)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show as much of the words as there is room for now."""
        super().resizeEvent(event)
        self._fit()

    def showEvent(self, event: QShowEvent) -> None:
        """Show as much of the words as there is room for."""
        super().showEvent(event)
        self._fit()

    def _fit(self) -> None:
        two_lines = 2 * self.fontMetrics().lineSpacing()
        self.setFixedHeight(max(two_lines, QPushButton("Keep").sizeHint().height()) + 6)
        self.label.setText(self._shortened())

    def _shortened(self) -> str:
        """Return as many of the words as two lines hold."""
        if not self.isVisible() or self._fits(self.words):
            return self.words
        words = self.words.split(" ")
        most = bisect_left(range(1, len(words)), True, key=lambda count: not self._fits(_first(words, count)))
        return _first(words, max(most, 1))

    def _fits(self, words: str) -> bool:
        metrics = self.label.fontMetrics()
        needed = metrics.boundingRect(QRect(0, 0, self.label.width(), 0), Qt.TextFlag.TextWordWrap, words)
        return needed.height() <= 2 * metrics.lineSpacing()

    def _show(self) -> None:
        self.label.setToolTip(self.words)
        self.label.setAccessibleName(self.words)
        if bool(self.label.property("warning")) != self._warns:
            self.label.setProperty("warning", self._warns)
            self.label.setProperty("quiet", not self._warns)
            self.label.style().unpolish(self.label)
            self.label.style().polish(self.label)
        answers = self._note_answers or self._hint_answers
        if answers != self._answers:
            self._show_answers(answers)
        self.row.activate()
        self._fit()

    def _show_answers(self, answers: tuple[Answer, ...]) -> None:
        self._answers = answers
        for button in self.answers:
            self.row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self.answers = []
        for words, do in answers:
            button = QPushButton(words)
            button.setAutoDefault(False)
            button.clicked.connect(lambda _checked=False, do=do: do())
            self.row.addWidget(button)
            self.answers.append(button)


def _first(words: list[str], count: int) -> str:
    return " ".join(words[:count]) + " …"
