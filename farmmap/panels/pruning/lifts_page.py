"""The lifts of a species in a block, with the form in which the grower sets lifts of his own."""

from __future__ import annotations

import math

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.panels.wrapped_label import WrappedLabel

COLUMNS = (
    ("to_m", "To\nm", "Height to which the lift prunes; for form pruning, up to which the stem is kept straight"),
    ("tree_height_m", "Tree\nheight\nm", "Height of the tree at which it is due"),
    ("dos_cm", "Over\nstubs\ncm", "Diameter over the stubs at which it is due"),
    ("stems_per_ha", "Stems\nper ha", "Stems that are pruned; empty: all"),
    ("crown_left_percent", "Green\nleft\n%", "Share of the tree's height that keeps its green crown"),
)
OWN = "own figures"
ALL_SPECIES, ALL_BLOCKS = "all other species", "every block"


class LiftsPage(QWidget):
    """Shows which lifts hold and whose they are; what is typed becomes the grower's own in one edit."""

    edit_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._farm: Farm | None = None
        self._touched = False
        self._filling = False
        self.species, self.block = QComboBox(), QComboBox()
        self.species.setAccessibleName("Species")
        self.block.setAccessibleName("Block")
        for choice in (self.species, self.block):
            choice.currentIndexChanged.connect(self._show_lifts)
        choices = QGridLayout()
        for row, (words, choice) in enumerate((("&Species", self.species), ("&Block", self.block))):
            label = QLabel(words)
            label.setBuddy(choice)
            choices.addWidget(label, row, 0)
            choices.addWidget(choice, row, 1)
        choices.setColumnStretch(1, 1)
        self.whose = WrappedLabel()
        self.whose.setProperty("heading", True)
        self.lifts = QTableWidget(0, len(COLUMNS))
        self.lifts.setAccessibleName("Lifts")
        self.lifts.setHorizontalHeaderLabels([heading for _, heading, _ in COLUMNS])
        for column, (_, _, tip) in enumerate(COLUMNS):
            item = self.lifts.horizontalHeaderItem(column)
            assert item is not None
            item.setToolTip(tip)
        self.lifts.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.lifts.verticalHeader().setDefaultSectionSize(round(self.fontMetrics().height() * 1.65))
        self.lifts.setTabKeyNavigation(False)
        self.lifts.setEditTriggers(QAbstractItemView.EditTrigger.AllEditTriggers)
        self.lifts.setMinimumHeight(self.fontMetrics().height() * 12)
        self.lifts.cellChanged.connect(self._typed)
        self.add_lift, self.add_form = QPushButton("Add a lift"), QPushButton("Add form pruning")
        self.take_away = QPushButton("Take the line away")
        self.keep, self.back = QPushButton("Keep as my own"), QPushButton("Take my own away")
        self.add_lift.clicked.connect(lambda: self._add(is_form=False))
        self.add_form.clicked.connect(lambda: self._add(is_form=True))
        self.take_away.clicked.connect(self._take_line_away)
        self.keep.clicked.connect(self._keep)
        self.back.clicked.connect(lambda: self._propose([]))
        self.answer, self.sources = WrappedLabel(), WrappedLabel()
        self.sources.setProperty("quiet", True)
        self.sources.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        column_of = QVBoxLayout(self)
        column_of.setContentsMargins(0, 4, 0, 0)
        column_of.addLayout(choices)
        column_of.addWidget(self.whose)
        column_of.addWidget(self.lifts, 1)
        column_of.addLayout(_row(self.add_lift, self.add_form))
        column_of.addLayout(_row(self.take_away))
        column_of.addLayout(_row(self.keep, self.back))
        column_of.addWidget(self.answer)
        column_of.addWidget(self.sources)
        column_of.addStretch(1)

    def show_farm(self, farm: Farm) -> None:
        """Offer the species and blocks of a farm; lifts that are being typed stay while their choice does."""
        before, self._farm = self._farm, farm
        self._filling = True
        species = [
            (str(name or code), str(code))
            for code, name in zip(farm.species["code"], farm.species["name"], strict=True)
        ]
        _offer(self.species, [*sorted(species), (ALL_SPECIES, "")])
        names = dict.fromkeys(str(name) for name in farm.blocks["name"])
        _offer(self.block, [(ALL_BLOCKS, ""), *((name, name) for name in names)])
        self._filling = False
        same = before is not None and before.tables["regimes"] is farm.tables["regimes"]
        if not (self._touched and same):
            self._show_lifts()

    def rows(self) -> list[dict[str, object]]:
        """Return the lines as they are typed, numbered from 1; those with nothing in them are left out."""
        from farmmap.plans.pruning.lifts import CLEAR, FORM

        out: list[dict[str, object]] = []
        number = 0
        for line in range(self.lifts.rowCount()):
            typed = {name: self._text(line, column) for column, (name, _, _) in enumerate(COLUMNS)}
            if not any(typed.values()):
                continue
            head = self.lifts.verticalHeaderItem(line)
            source, note, before = head.data(Qt.ItemDataRole.UserRole) if head is not None else ("", "", [])
            source = source if list(typed.values()) == before else OWN
            is_form = self._is_form(line)
            number += not is_form
            kind, lift = (FORM, 1) if is_form else (CLEAR, number)
            out.append({**typed, "kind": kind, "lift": lift, "source": source, "note": note})
        return out

    def _show_lifts(self) -> None:
        if self._farm is None or self._filling:
            return
        from farmmap.plans.pruning.lifts import regimes_of

        book, species, block = regimes_of(self._farm), self.species.currentData(), self.block.currentData()
        regime, own = book.of(species, block), book.own(species, block)
        self._filling = True
        self.lifts.setRowCount(0)
        for lift in regime.lifts:
            self._add_line(f"Lift {lift.number}", lift)
        if regime.form is not None:
            self._add_line("Form", regime.form)
        self._filling = False
        self._touched = False
        if own is not None:
            whose = "Your own lifts."
        elif regime.is_own:
            whose = "Your own lifts of more species or blocks hold here."
        elif regime.lifts:
            whose = "Lifts that come with farmmap; change them and keep them as your own."
        else:
            whose = "No lifts are set, so nothing comes due. Add lifts and keep them as your own."
        self.whose.setText(whose)
        self.back.setEnabled(own is not None)
        season = (f"Season: {regime.season}.",) if regime.season else ()
        sources = [f"{text[:1].upper()}{text[1:]}." for text in regime.sources]
        self.sources.setText("\n".join([*season, *sources]))
        self._say(regime.trouble)

    def _add_line(self, head: str, lift: object = None) -> None:
        line = self.lifts.rowCount()
        self.lifts.insertRow(line)
        values = [float(getattr(lift, name, math.nan)) for name, _, _ in COLUMNS]
        texts = ["" if math.isnan(value) else f"{value:g}" for value in values]
        header = QTableWidgetItem(head)
        header.setData(Qt.ItemDataRole.UserRole, (getattr(lift, "source", ""), getattr(lift, "note", ""), texts))
        self.lifts.setVerticalHeaderItem(line, header)
        for column, text in enumerate(texts):
            item = QTableWidgetItem(text)
            item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            self.lifts.setItem(line, column, item)

    def _add(self, *, is_form: bool) -> None:
        self._filling = True
        lifts = sum(not self._is_form(line) for line in range(self.lifts.rowCount()))
        self._add_line("Form" if is_form else f"Lift {lifts + 1}")
        self._filling = False
        self._touched = True
        self.lifts.setCurrentCell(self.lifts.rowCount() - 1, 0)
        self.lifts.setFocus()

    def _take_line_away(self) -> None:
        line = self.lifts.currentRow()
        if line >= 0:
            self.lifts.removeRow(line)
            self._touched = True

    def _typed(self) -> None:
        if not self._filling:
            self._touched = True
            self._say("")

    def _is_form(self, line: int) -> bool:
        head = self.lifts.verticalHeaderItem(line)
        return head is not None and head.text() == "Form"

    def _text(self, line: int, column: int) -> str:
        item = self.lifts.item(line, column)
        return "" if item is None else item.text().strip()

    def _keep(self) -> None:
        rows = self.rows()
        if rows:
            self._propose(rows)
        else:
            self._say("There is no line to keep; add a lift first.")

    def _propose(self, rows: list[dict[str, object]]) -> None:
        from farmmap.plans.pruning.own_lifts import lifts_set

        if self._farm is None:
            return
        try:
            found = lifts_set(self._farm, self.species.currentData(), self.block.currentData(), rows)
        except BadInput as error:
            words = str(error)
            self._say(f"{words[:1].upper()}{words[1:]}.")
            return
        self._touched = False
        self._say("")
        self.edit_wanted.emit(found.edit)

    def _say(self, words: str) -> None:
        self.answer.setText(words)
        self.answer.setVisible(bool(words))
        self.answer.setProperty("warning", True)
        self.answer.style().unpolish(self.answer)
        self.answer.style().polish(self.answer)


def _offer(choice: QComboBox, offered: list[tuple[str, str]]) -> None:
    """Offer these, staying on what was chosen."""
    held = [(choice.itemText(place), choice.itemData(place)) for place in range(choice.count())]
    if held == offered:
        return
    chosen = choice.currentData()
    choice.clear()
    for words, data in offered:
        choice.addItem(words, data)
    choice.setCurrentIndex(max(choice.findData(chosen), 0))


def _row(*buttons: QPushButton) -> QHBoxLayout:
    row = QHBoxLayout()
    for button in buttons:
        row.addWidget(button)
    row.addStretch(1)
    return row
