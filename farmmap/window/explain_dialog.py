"""How every figure is worked out, to be read through or searched."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontDatabase
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPlainTextEdit,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from farmmap.farm.species import plain
from farmmap.figures.catalogue import CATALOGUE, explain


class ExplainDialog(QDialog):
    """The catalogue of figures: a list at the left, formula, meaning and source at the right."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("How figures are worked out")
        self.resize(780, 480)
        self.looked_for = QLineEdit()
        self.looked_for.setPlaceholderText("Look for a figure")
        self.looked_for.setAccessibleName("Look for a figure")
        self.looked_for.setClearButtonEnabled(True)
        self.figures = QListWidget()
        self.figures.setAccessibleName("Figures")
        for figure in CATALOGUE.values():
            if figure.formula:
                item = QListWidgetItem(f"{figure.title}, {figure.unit}" if figure.unit else figure.title)
                item.setData(Qt.ItemDataRole.UserRole, figure.name)
                self.figures.addItem(item)
        self.text = QPlainTextEdit()
        self.text.setReadOnly(True)
        self.text.setTabChangesFocus(True)
        self.text.setAccessibleName("How it is worked out")
        split = QSplitter()
        split.addWidget(self.figures)
        split.addWidget(self.text)
        split.setSizes([290, 490])
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(self.looked_for)
        column.addWidget(split, 1)
        column.addWidget(buttons)
        self.figures.currentItemChanged.connect(lambda item, _before: self._show(item))
        self.looked_for.textChanged.connect(self._look)
        self.figures.setCurrentRow(0)

    def _show(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.text.setPlainText("\n\n".join(explain(item.data(Qt.ItemDataRole.UserRole)).splitlines()))

    def _look(self, words: str) -> None:
        wanted = plain(words)
        first = None
        for row in range(self.figures.count()):
            item = self.figures.item(row)
            figure = CATALOGUE[item.data(Qt.ItemDataRole.UserRole)]
            fits = wanted in plain(f"{figure.title} {figure.heading} {figure.name} {figure.symbol}")
            item.setHidden(not fits)
            first = first if first is not None or not fits else item
        if first is not None:
            self.figures.setCurrentItem(first)


class TextDialog(QDialog):
    """A page of plain words in columns."""

    def __init__(self, title: str, words: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.text = QPlainTextEdit(words)
        self.text.setReadOnly(True)
        self.text.setTabChangesFocus(True)
        self.text.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)  # a wrapped line would break the columns
        font = QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont)
        font.setPointSizeF(self.font().pointSizeF())
        self.text.setFont(font)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(self.text)
        column.addWidget(buttons)
        widest = max(map(self.text.fontMetrics().horizontalAdvance, words.splitlines()), default=0)
        self.resize(min(widest + _BESIDE_PX, self.screen().availableGeometry().width()), 560)


_BESIDE_PX = 70
"""What margins, frame and scroll bar take. [px]"""
