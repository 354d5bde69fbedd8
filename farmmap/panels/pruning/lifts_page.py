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
from farmmap.panels.answer_label import AnswerLabel
from farmmap.panels.wheel import leave_wheel
from farmmap.panels.wrapped_label import WrappedLabel

COLUMNS = (
    ("to_m", "To\nm", "Height to which the lift prunes; for form pruning, up to which the stem is kept straight"),
    ("tree_height_m", "Tree\nm tall", "Height of the tree at which it is due"),
    ("dos_cm", "Stubs\ncm", "Diameter over the stubs at which it is due"),
    ("stems_per_ha", "Stems\n/ha", "Stems that are pruned; empty: all"),
    ("crown_left_percent", "Green\nleft %", "Share of the tree's height that keeps its green crown"),
)
OWN = "own figures"
FORM_LINE = "Form"
"""What stands before the line of form pruning; the others are numbered."""
HEADING_EDGES_PX = 4
"""What a heading takes beside its words. [px]"""
ALL_SPECIES, ALL_BLOCKS = "all other species", "every block"


class LiftsPage(QWidget):
    """Shows which lifts hold and whose they are; what is typed becomes the grower's own in one edit."""

    edit_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._farm: Farm | None = None
        self._touched = self._filling = self._is_own = False
        self._may_edit = True
        self.species, self.block = QComboBox(), QComboBox()
        self.species.setAccessibleName("Species")
        self.block.setAccessibleName("Block")
        for choice in (self.species, self.block):
            choice.currentIndexChanged.connect(self._show_lifts)
        leave_wheel(self.species, self.block)
        choices = QGridLayout()
        for row, (words, choice) in enumerate((("&Species", self.species), ("&Block", self.block))):
            label = QLabel(words)
            label.setBuddy(choice)
            choices.addWidget(label, row, 0)
            choices.addWidget(choice, row, 1)
        choices.setColumnStretch(1, 1)
        self.whose = WrappedLabel()
        self.whose.setProperty("heading", True)
        self._make_table()
        self.add_lift, self.add_form = QPushButton("Add a lift"), QPushButton("Add form pruning")
        self.take_away, self.keep, self.back = map(
            QPushButton, ("Take the line away", "Keep as my own", "Take my own away")
        )
        self.add_lift.clicked.connect(lambda: self._add(is_form=False))
        self.add_form.clicked.connect(lambda: self._add(is_form=True))
        self.take_away.clicked.connect(self._take_line_away)
        self.keep.clicked.connect(self._keep)
        self.back.clicked.connect(lambda: self._propose([]))
        self.answer, self.sources = AnswerLabel(), WrappedLabel()
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
        self.let_edit(True)

    def _make_table(self) -> None:
        self.lifts = QTableWidget(0, len(COLUMNS))
        self.lifts.setAccessibleName("Lifts")
        self.lifts.setHorizontalHeaderLabels([heading for _, heading, _ in COLUMNS])
        for column, (_, _, tip) in enumerate(COLUMNS):
            item = self.lifts.horizontalHeaderItem(column)
            assert item is not None
            item.setToolTip(tip)
        heading = self.lifts.horizontalHeader()
        heading.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        heading.setStyleSheet("QHeaderView::section { padding: 4px 1px; }")
        words = [line for _, words, _ in COLUMNS for line in words.split("\n")]
        heading.setMinimumSectionSize(max(map(self.fontMetrics().horizontalAdvance, words)) + HEADING_EDGES_PX)
        self.lifts.verticalHeader().setDefaultSectionSize(round(self.fontMetrics().height() * 1.65))
        self.lifts.setTabKeyNavigation(False)
        self.lifts.setMinimumHeight(self.fontMetrics().height() * 12)
        self.lifts.cellChanged.connect(self._typed)

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

    def let_edit(self, may: bool) -> None:
        """Offer what changes the lifts, or do not."""
        self._may_edit = may
        for part in (self.add_lift, self.add_form, self.take_away, self.keep):
            part.setEnabled(may)
        self.back.setEnabled(may and self._is_own)
        triggers = QAbstractItemView.EditTrigger
        self.lifts.setEditTriggers(triggers.AllEditTriggers if may else triggers.NoEditTriggers)

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
            self._add_line(str(lift.number), lift)
        if regime.form is not None:
            self._add_line(FORM_LINE, regime.form)
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
        self._is_own = own is not None
        self.let_edit(self._may_edit)
        season = (f"Season: {regime.season}.",) if regime.season else ()
        sources = [f"{text[:1].upper()}{text[1:]}." for text in regime.sources]
        self.sources.setText("\n".join([*season, *sources]))
        self.answer.say(regime.trouble, warning=True)

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
        self._add_line(FORM_LINE if is_form else str(lifts + 1))
        self._filling = False
        self._touched = True
        self.lifts.setCurrentCell(self.lifts.rowCount() - 1, 0)
        self.lifts.setFocus()

    def _take_line_away(self) -> None:
        line = self.lifts.currentRow()
        if line < 0:
            self.answer.say("Choose the line in the table first.", warning=True)
            return
        self.lifts.removeRow(line)
        self._touched = True

    def _typed(self) -> None:
        if not self._filling:
            self._touched = True
            self.answer.say("")

    def _is_form(self, line: int) -> bool:
        head = self.lifts.verticalHeaderItem(line)
        return head is not None and head.text() == FORM_LINE

    def _text(self, line: int, column: int) -> str:
        item = self.lifts.item(line, column)
        return "" if item is None else item.text().strip()

    def _keep(self) -> None:
        rows = self.rows()
        if rows:
            self._propose(rows)
        else:
            self.answer.say("There is no line to keep; add a lift first.", warning=True)

    def _propose(self, rows: list[dict[str, object]]) -> None:
        from farmmap.plans.pruning.own_lifts import lifts_set

        if self._farm is None:
            return
        try:
            found = lifts_set(self._farm, self.species.currentData(), self.block.currentData(), rows)
        except BadInput as error:
            self.answer.say(str(error), warning=True)
            return
        self._touched = False
        self.answer.say("")
        self.edit_wanted.emit(found.edit)


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
