"""What stands on the page: the second page of the form beside the sheet."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from farmmap.panels.wheel import leave_wheel
from farmmap.scene.element_words import words_of
from farmmap.scene.page_by_hand import STAYS
from farmmap.sheets.chosen import SheetChoices
from farmmap.window.messages import hint
from farmmap.window.printing.elements import Element

OVERVIEWS = (
    ("Where only a part is shown", None),
    ("Always", True),
    ("Never", False),
)
COORDINATES = (("Metres east and north", False), ("Latitude and longitude", True))


class ContentsForm(QWidget):
    """A tick list of the elements of the page, what else may stand on it, and the grower's own words."""

    changed = Signal(object, str)
    """`SheetChoices`, and the kind of change."""
    picked = Signal(str)
    """Name of an element that is chosen in the list."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._choices = SheetChoices()
        self._fills = False
        self.elements = _Ticks()
        self.elements.setAccessibleName("What stands on the page")
        self.elements.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.frame = QComboBox()
        for words, value in COORDINATES:
            self.frame.addItem(words, value)
        self.overview = QComboBox()
        for words, shown in OVERVIEWS:
            self.overview.addItem(words, shown)
        self.needle = QCheckBox("How a compass needle lies")
        self.photos = QCheckBox("Photographs and photo points")
        self.note = QPlainTextEdit()
        self.note.setTabChangesFocus(True)
        self.note.setFixedHeight(self.fontMetrics().lineSpacing() * 3 + 16)
        self.credits = QLineEdit()
        self.credits.setPlaceholderText("Drawn by, and where the data comes from")
        self.version = QLineEdit()
        self.version.setPlaceholderText("Such as 2, or Draft for comment")
        leave_wheel(self.frame, self.overview)
        self._lay_out()
        self.elements.itemChanged.connect(self._ticked)
        self.elements.currentItemChanged.connect(self._chosen)
        self.frame.activated.connect(lambda: self._option("graticule", self.frame.currentData()))
        self.overview.activated.connect(lambda: self._option("overview", self.overview.currentData()))
        self.needle.clicked.connect(lambda on: self._option("declination", on))
        self.photos.clicked.connect(lambda on: self._option("photos", on))
        self.note.textChanged.connect(lambda: self._option("note", self.note.toPlainText(), "note"))
        self.credits.textEdited.connect(lambda text: self._option("credits", text, "credits"))
        self.version.textEdited.connect(lambda text: self._option("version", text, "version"))

    def _lay_out(self) -> None:
        heading = QLabel("On this page")
        heading.setProperty("heading", True)
        heading.setBuddy(self.elements)
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        form.setContentsMargins(0, 0, 0, 0)
        form.setVerticalSpacing(6)
        for words, field in (
            ("At the frame of the map", self.frame),
            ("Overview map", self.overview),
        ):
            form.addRow(words, field)
            field.setAccessibleName(words)
        form.addRow(self.needle)
        form.addRow(self.photos)
        for words, text in (
            ("Your own note", self.note),
            ("Credits", self.credits),
            ("Version", self.version),
        ):
            form.addRow(words, text)
            text.setAccessibleName(words)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 6, 0)
        column.addWidget(heading)
        column.addWidget(self.elements)
        column.addWidget(hint("Untick what is to be left out. What is picked here is picked on the page."))
        column.addLayout(form)
        column.addStretch(1)

    def show_choices(self, choices: SheetChoices) -> None:
        """Show what is chosen, without telling of it."""
        self._choices = choices
        chosen = choices.options
        self._fills = True
        self.frame.setCurrentIndex(self.frame.findData(chosen.graticule))
        self.overview.setCurrentIndex(self.overview.findData(chosen.overview))
        self.needle.setChecked(chosen.declination)
        self.photos.setChecked(chosen.photos)
        if self.note.toPlainText() != chosen.note:
            self.note.setPlainText(chosen.note)
        for field, text in ((self.credits, chosen.credits), (self.version, chosen.version)):
            if field.text() != text:
                field.setText(text)
        self._fills = False

    def show_elements(self, elements: tuple[Element, ...], *, has_map: bool) -> None:
        """List the elements of a page, ticked, and after them those that are left out."""
        left_out = self._choices.options.left_out
        names = [one.name for one in elements if one.name not in left_out] if has_map else []
        shown = [(name, True) for name in names]
        shown += [(name, False) for name in sorted(left_out, key=words_of) if has_map]
        now = [(self._name(row), self._is_ticked(row)) for row in range(self.elements.count())]
        if now == shown:
            return
        before = self.elements.currentItem()
        name = "" if before is None else str(before.data(Qt.ItemDataRole.UserRole))
        self._fills = True
        self.elements.clear()
        for called, ticked in shown:
            self.elements.addItem(_item(called, ticked=ticked))
        high = max(min(self.elements.count(), 9), 3) * max(self.elements.sizeHintForRow(0), 24) + 8
        self.elements.setFixedHeight(high)
        self.elements.setEnabled(bool(shown))
        self._fills = False
        self.show_picked(name)

    def show_picked(self, name: str) -> None:
        """Show in the list which element is picked, without telling of it."""
        self._fills = True
        row = next((row for row in range(self.elements.count()) if self._name(row) == name), -1)
        self.elements.setCurrentRow(row)
        self._fills = False

    def _name(self, row: int) -> str:
        return str(self.elements.item(row).data(Qt.ItemDataRole.UserRole))

    def _is_ticked(self, row: int) -> bool:
        return self.elements.item(row).checkState() == Qt.CheckState.Checked

    def _ticked(self, item: QListWidgetItem) -> None:
        if self._fills:
            return
        name = str(item.data(Qt.ItemDataRole.UserRole))
        left_out = self._choices.options.left_out
        if item.checkState() == Qt.CheckState.Checked:
            self._option("left_out", left_out - {name})
        else:
            self._option("left_out", left_out | {name})

    def _chosen(self, item: QListWidgetItem | None) -> None:
        if item is not None and not self._fills:
            self.picked.emit(str(item.data(Qt.ItemDataRole.UserRole)))

    def _option(self, name: str, value: object, kind: str = "") -> None:
        if not self._fills:
            self._choices = self._choices.with_options(**{name: value})
            self.changed.emit(self._choices, kind)


class _Ticks(QListWidget):
    """A list in which Delete unticks a line, as on the page."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Untick the line that is chosen."""
        item = self.currentItem()
        can = item is not None and bool(item.flags() & Qt.ItemFlag.ItemIsUserCheckable)
        if event.key() in {Qt.Key.Key_Delete, Qt.Key.Key_Backspace} and item is not None and can:
            item.setCheckState(Qt.CheckState.Unchecked)
        else:
            super().keyPressEvent(event)


def _item(name: str, *, ticked: bool) -> QListWidgetItem:
    item = QListWidgetItem(words_of(name))
    item.setData(Qt.ItemDataRole.UserRole, name)
    if name in STAYS:
        item.setFlags(item.flags() & ~Qt.ItemFlag.ItemIsUserCheckable)
        item.setToolTip(f"{STAYS[name][:1].upper()}{STAYS[name][1:]} stays on every page")
    item.setCheckState(Qt.CheckState.Checked if ticked else Qt.CheckState.Unchecked)
    return item
