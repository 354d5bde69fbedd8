"""Fields of the planting box: numbers, words, lists and ticks that say in words what is wrong with them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QWheelEvent
from PySide6.QtWidgets import QCheckBox, QComboBox, QGridLayout, QHBoxLayout, QLabel, QLineEdit, QSizePolicy, QWidget

from farmmap.panels.wrapped_label import WrappedLabel

NUMBER_CHARACTERS = 7
MOST_SHOWN = 27
"""A list is as wide as its longest line, but never wider than so many characters."""
ARROW_PX = 42
"""Room for the arrow and the edges of a list."""


def as_typed(value: float | None) -> str:
    """Return a number as it is typed, without needless noughts; "" for none."""
    if value is None or not math.isfinite(value):
        return ""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in {"", "-0"} else text


class NumberField(QLineEdit):
    """A number with the least and the most that it may be; tells at once, and keeps the last good one."""

    changed = Signal(object)
    """Another number, or None where it may be left empty and was."""
    judged = Signal(str)
    """What is wrong with it, in words; "" if nothing is."""

    def __init__(
        self,
        words: str,
        unit: str,
        least: float,
        most: float,
        step: float,
        *,
        whole: bool = False,
        may_be_empty: str = "",
    ) -> None:
        super().__init__()
        self._words, self._unit, self.least, self.most, self._step = words, unit, least, most, step
        self._whole = whole
        self.may_be_empty = may_be_empty
        """What an empty field means; "" if it may not be empty."""
        self._held: float | None = None
        self.trouble = ""
        """What is wrong with it."""
        self.setAccessibleName(f"{words}, {unit}" if unit else words)
        self.setPlaceholderText(may_be_empty)
        metrics = self.fontMetrics()
        room = metrics.averageCharWidth() * 3
        self.setFixedWidth(
            max(metrics.averageCharWidth() * NUMBER_CHARACTERS, metrics.horizontalAdvance(may_be_empty)) + room
        )
        self.textEdited.connect(self._edited)

    @property
    def value(self) -> float | None:
        """The last good number."""
        return self._held

    def show_value(self, value: float | None) -> None:
        """Show a number; what is being typed stays while it means the same."""
        if not self.trouble and self._same(value, self._held) and self.text():
            return
        if self.trouble and self._same(value, self._held) and self.hasFocus():
            return
        self._held = value
        self.setText(as_typed(value))
        self._judge("")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Step up and down with the arrow keys, ten steps at once with the page keys."""
        steps = {
            Qt.Key.Key_Up: 1,
            Qt.Key.Key_Down: -1,
            Qt.Key.Key_PageUp: 10,
            Qt.Key.Key_PageDown: -10,
        }.get(Qt.Key(event.key()))
        if steps is None:
            super().keyPressEvent(event)
            return
        start = self._held if self._held is not None else max(self.least, 0.0)
        value = min(max(round(start + steps * self._step, 6), self.least), self.most)
        self.setText(as_typed(value))
        self.selectAll()
        self._edited(self.text())

    def _edited(self, text: str) -> None:
        value, trouble = self._read(text)
        self._judge(trouble)
        if not trouble and not self._same(value, self._held):
            self._held = value
            self.changed.emit(value)

    def _read(self, text: str) -> tuple[float | None, str]:
        bare = text.strip().removesuffix(self._unit).strip().replace("−", "-")
        if not bare:
            return None, "" if self.may_be_empty else f"{self._words} is empty; give a number."
        try:
            value = float(bare.replace(",", "."))
        except ValueError:
            return (
                None,
                f"“{text.strip()}” is no number; write digits, such as {as_typed(max(self.least, self._step))}.",
            )
        unit = f" {self._unit}" if self._unit else ""
        if not math.isfinite(value) or not self.least <= value <= self.most:
            return None, f"{self._words} may be {as_typed(self.least)} to {as_typed(self.most)}{unit}."
        if self._whole and value != round(value):
            return None, f"{self._words} is a whole number."
        return value, ""

    def _judge(self, trouble: str) -> None:
        if trouble == self.trouble:
            return
        self.trouble = trouble
        self.setProperty("bad", bool(trouble))
        self.setAccessibleDescription(trouble)
        self.style().unpolish(self)
        self.style().polish(self)
        self.judged.emit(trouble)

    @staticmethod
    def _same(one: float | None, other: float | None) -> bool:
        return one is other or (one is not None and other is not None and abs(one - other) < 1e-9)


class Choice(QComboBox):
    """A list to choose from that the wheel does not turn while the box is scrolled."""

    def __init__(self, words: str, choices: Sequence[tuple[object, str]] = ()) -> None:
        super().__init__()
        self.setAccessibleName(words)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(4)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.offer(choices)

    def sizeHint(self) -> QSize:
        """Ask for the room that the longest line needs."""
        return self._with_room(super().sizeHint())

    def minimumSizeHint(self) -> QSize:
        """Ask for the room that the longest line needs, so that none is cut off in a narrow box."""
        return self._with_room(super().minimumSizeHint())

    def showPopup(self) -> None:
        """Show the lines as wide as they are, also where the list itself has less room."""
        view = self.view()
        bar = view.verticalScrollBar().sizeHint().width() if self.count() > self.maxVisibleItems() else 0
        view.setMinimumWidth(view.sizeHintForColumn(0) + bar + 8)
        super().showPopup()

    def _with_room(self, size: QSize) -> QSize:
        if self.isEditable():
            return size
        metrics = self.fontMetrics()
        widest = max((metrics.horizontalAdvance(self.itemText(place)) for place in range(self.count())), default=0)
        wide = min(widest, metrics.averageCharWidth() * MOST_SHOWN) + ARROW_PX
        return QSize(max(size.width(), wide), size.height())

    def offer(self, choices: Sequence[tuple[object, str]]) -> None:
        """Offer these values under these words; keeps the one that is chosen if it is still there."""
        shown = [(self.itemData(place), self.itemText(place)) for place in range(self.count())]
        if shown == list(choices):
            return
        held = self.currentData()
        self.blockSignals(True)
        self.clear()
        for value, said in choices:
            self.addItem(said, value)
        self.setCurrentIndex(self.findData(held) if held is not None else (0 if choices else -1))
        self.blockSignals(False)
        self.updateGeometry()

    def show_value(self, value: object) -> None:
        """Stand on a value."""
        place = next((place for place in range(self.count()) if self.itemData(place) == value), -1)
        if place != self.currentIndex():
            self.blockSignals(True)
            self.setCurrentIndex(place)
            self.blockSignals(False)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave the wheel to what is scrolled."""
        event.ignore()


class Words(QLineEdit):
    """A line of words."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self.setAccessibleName(words)

    def show_value(self, value: str) -> None:
        """Show these words, unless they stand there already."""
        if value != self.text():
            self.setText(value)
            self.setCursorPosition(0)


class Form(QWidget):
    """Lines of fields with their names before them and, where something is wrong, the reason beneath."""

    changed = Signal(str, object)
    """Name of the field that is another, and its value."""
    judged = Signal()
    """Something is wrong with a field, or not any more."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.fields: dict[str, QWidget] = {}
        self.labels: dict[str, QLabel] = {}
        self._units: dict[str, QLabel] = {}
        self._answers: dict[str, WrappedLabel] = {}
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(0, 3)
        self._grid.setColumnStretch(1, 2)

    @property
    def troubles(self) -> tuple[str, ...]:
        """What is wrong with its fields."""
        return tuple(
            field.trouble for field in self.fields.values() if isinstance(field, NumberField) and field.trouble
        )

    def add_number(
        self,
        name: str,
        words: str,
        unit: str,
        least: float,
        most: float,
        step: float,
        *,
        whole: bool = False,
        empty: str = "",
        tip: str = "",
    ) -> NumberField:
        """Add a line for a number; ``empty`` says what an empty field means, "" if it may not be empty."""
        bare = words.replace("&", "")
        field = NumberField(bare, unit, least, most, step, whole=whole, may_be_empty=empty)
        self._add(name, words, field, unit, tip)
        answer = WrappedLabel()
        answer.setProperty("warning", True)
        answer.hide()
        self._answers[name] = answer
        self._grid.addWidget(answer, self._grid.rowCount(), 0, 1, 2)
        field.judged.connect(lambda trouble: self._say(name, trouble))
        field.changed.connect(lambda value: self.changed.emit(name, value))
        return field

    def add_choice(
        self, name: str, words: str, choices: Sequence[tuple[object, str]], tip: str = "", *, below: bool = False
    ) -> Choice:
        """Add a line for a list; with ``below`` it stands under its name and has the whole width."""
        field = Choice(words.replace("&", ""), choices)
        self._add(name, words, field, None, tip, below=below)
        field.activated.connect(lambda _place: self.changed.emit(name, field.currentData()))
        return field

    def add_words(self, name: str, words: str, tip: str = "", *, below: bool = False) -> Words:
        """Add a line for words; with ``below`` they stand under their name and have the whole width."""
        field = Words(words.replace("&", ""))
        self._add(name, words, field, None, tip, below=below)
        field.textEdited.connect(lambda text: self.changed.emit(name, text.strip()))
        return field

    def add_tick(self, name: str, words: str, tip: str = "") -> QCheckBox:
        """Add a line that is ticked or not."""
        field = QCheckBox(words)
        field.setToolTip(tip)
        self.fields[name] = field
        self._grid.addWidget(field, self._grid.rowCount(), 0, 1, 2)
        field.clicked.connect(lambda ticked: self.changed.emit(name, ticked))
        return field

    def say_unit(self, name: str, unit: str) -> None:
        """Say another unit behind a number."""
        self._units[name].setText(unit)

    def show_values(self, values: Mapping[str, object]) -> None:
        """Show values by the names of their fields."""
        for name, value in values.items():
            field = self.fields[name]
            if isinstance(field, QCheckBox):
                field.setChecked(bool(value))
            elif isinstance(field, NumberField):
                field.show_value(None if value is None else float(value))  # type: ignore[arg-type]
            elif isinstance(field, Choice):
                field.show_value(value)
            elif isinstance(field, Words):
                field.show_value(str(value))

    def show_line(self, name: str, shown: bool) -> None:
        """Show or hide one line."""
        for widget in (self.labels.get(name), self.fields[name], self._units.get(name)):
            if widget is not None:
                widget.setVisible(shown)
        answer = self._answers.get(name)
        if answer is not None:
            answer.setVisible(shown and bool(answer.text()))

    def _add(self, name: str, words: str, field: QWidget, unit: str | None, tip: str, *, below: bool = False) -> None:
        row = self._grid.rowCount()
        label = QLabel(words)
        label.setBuddy(field)
        label.setWordWrap(True)
        label.setToolTip(tip)
        field.setToolTip(tip)
        self.fields[name], self.labels[name] = field, label
        if below:
            self._grid.addWidget(label, row, 0, 1, 2)
            self._grid.addWidget(field, row + 1, 0, 1, 2)
            return
        self._grid.addWidget(label, row, 0)
        if unit is None:
            self._grid.addWidget(field, row, 1)
            return
        said = QLabel(unit)
        self._units[name] = said
        cell = QHBoxLayout()
        cell.setSpacing(6)
        cell.addWidget(field)
        cell.addWidget(said)
        cell.addStretch(1)
        self._grid.addLayout(cell, row, 1)

    def _say(self, name: str, trouble: str) -> None:
        answer = self._answers[name]
        answer.setText(trouble)
        answer.setVisible(bool(trouble) and not self.fields[name].isHidden())
        self.judged.emit()


class KeepInSight(QObject):
    """Scrolls the field that the keyboard has come to into sight."""

    def __init__(self, scroll: QWidget) -> None:
        super().__init__(scroll)
        self._scroll = scroll

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Scroll when a field is given the keyboard."""
        from PySide6.QtWidgets import QScrollArea

        if event.type() == QEvent.Type.FocusIn and isinstance(watched, QWidget):
            assert isinstance(self._scroll, QScrollArea)
            self._scroll.ensureWidgetVisible(watched, 0, 24)
        return False
