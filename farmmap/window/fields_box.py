"""The box in which fields of one row or many are changed: a form made from the schema."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import (
    QComboBox,
    QDateEdit,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from farmmap.editing.words import column_label, counted
from farmmap.errors import FarmmapError
from farmmap.farm.schema import TABLES, Column, Kind
from farmmap.window.species_choice import SpeciesChoice
from farmmap.window.tools.bench import Bench
from farmmap.window.tools.sentences import within, words_of_error

if TYPE_CHECKING:
    import pandas as pd

    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm

ENDED = ("dead", "felled")
"""What a tree may be whose day of status is worth a word."""
SEVERAL = "several"
"""Stands in a field whose rows hold different values."""
LEAST_OF_SCREEN, MOST_OF_SCREEN = 0.4, 0.8
"""How much of the screen's height the form takes at least and at most, if it needs as much."""


class Field:
    """One field of the form; knows whether it was touched.

    Parameters
    ----------
    column : Column
        What it is of.
    held : str or None
        What all rows hold, as it is typed; None if they differ.
    species_of : Farm or None
        The farm whose species are offered, for a field that holds one.
    """

    def __init__(self, column: Column, held: str | None, species_of: Farm | None = None) -> None:
        self.column = column
        self.held = held
        self.choice: QComboBox | None = None
        self.line: QLineEdit | None = None
        self.species: SpeciesChoice | None = None
        if column.allowed:
            self.choice = QComboBox()
            if held is None or held not in column.allowed:
                self.choice.addItem(SEVERAL if held is None else held, None)
            for word in column.allowed:
                self.choice.addItem(word or "not given", word)
            self.choice.setCurrentIndex(max(self.choice.findData(held), 0))
        elif species_of is not None:
            self.choice = self.species = SpeciesChoice(species_of, held or "")
            self.line = self.choice.lineEdit()
        else:
            self.line = QLineEdit(held or "")
        if self.line is not None and held is None:
            self.line.setPlaceholderText(SEVERAL)
        self.widget.setAccessibleName(column_label(column.name))
        self.widget.setToolTip(column.words)

    @property
    def widget(self) -> QWidget:
        """What is put into the form."""
        widget = self.choice or self.line
        assert widget is not None
        return widget

    @property
    def text(self) -> str | None:
        """What stands in it; None where a list still stands on several."""
        if self.species is not None:
            return self.species.code
        if self.line is not None:
            return self.line.text().strip()
        assert self.choice is not None
        data = self.choice.currentData()
        return None if data is None else str(data)

    @property
    def touched(self) -> bool:
        """Whether it is another than the rows hold; an empty field of rows that differ leaves them so."""
        text = self.text
        return text is not None and text != (self.held or "")


class FieldsBox(QDialog):
    """Changes only what was touched, in one edit for each kind of thing.

    Parameters
    ----------
    bench : Bench
        Gives what is picked, and takes the edit.
    parent : QWidget, optional
        The window.
    """

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self.fields: dict[str, Field] = {}
        self.pruned: QLineEdit | None = None
        self.pruned_on: QDateEdit | None = None
        self.stubs: QLineEdit | None = None
        self._offered_day = ""
        self.setWindowTitle("Change fields")
        self.table = QComboBox()
        self.table.setAccessibleName("What is changed")
        farm = bench.farm
        assert farm is not None
        for name in bench.picks.tables():
            words = counted(farm, name, bench.picks.of(name))
            self.table.addItem(words[:1].upper() + words[1:], name)
        self.heading = QLabel(self.table.currentText())
        self.heading.setProperty("heading", True)
        self.heading.setTextFormat(Qt.TextFormat.PlainText)
        several = self.table.count() > 1
        self.table.setVisible(several)
        self.heading.setVisible(not several)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.answer = QLabel("Only fields that you change are written.")
        self.answer.setWordWrap(True)
        self.answer.setTextFormat(Qt.TextFormat.PlainText)
        self.answer.setProperty("quiet", True)
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.change_button = self.buttons.addButton("Change", QDialogButtonBox.ButtonRole.AcceptRole)
        self.change_button.setDefault(True)
        self.buttons.accepted.connect(self.carry_out)
        self.buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(self.heading)
        column.addWidget(self.table)
        column.addWidget(self._scroll, 1)
        column.addWidget(self.answer)
        column.addWidget(self.buttons)
        self.table.currentIndexChanged.connect(self._fill)
        self._fill()
        for first in list(self.fields.values())[:1]:
            first.widget.setFocus(Qt.FocusReason.TabFocusReason)

    def values(self) -> dict[str, object]:
        """Return what was touched, by column."""
        return {name: field.text for name, field in self.fields.items() if field.touched}

    def carry_out(self) -> None:
        """Change what was touched; what cannot be is answered in the box, which stays open."""
        table = str(self.table.currentData())
        ids = self._bench.picks.of(table)
        values = self.values()
        pruned = self._pruned_to()
        if not values and pruned is None:
            self.reject()
            return

        def make(farm: Farm) -> Proposed:
            from farmmap.editing.fields import fields_changed
            from farmmap.editing.pruning import pruned_to

            parts = [fields_changed(farm, table, ids, values)] if values else []
            parts += [pruned_to(farm, ids, *pruned)] if pruned is not None else []
            return _as_one(parts)

        farm = self._bench.farm
        assert farm is not None
        try:
            make(farm)
        except FarmmapError as error:
            self._refused(error)
            return
        self.change_button.setEnabled(False)
        self._bench.propose(make, (), lambda _proposed: self.accept(), self._refused)

    def _pruned_to(self) -> tuple[str, dt.date, str] | None:
        """Return height of pruning, day and diameter over stubs as they were typed; None if there are none."""
        if self.pruned is None or self.pruned_on is None or self.stubs is None:
            return None
        height, stubs = self.pruned.text().strip(), self.stubs.text().strip()
        date = self.pruned_on.date()
        return (height, dt.date(date.year(), date.month(), date.day()), stubs) if height or stubs else None

    def _refused(self, error: BaseException) -> None:
        self.change_button.setEnabled(True)
        self.answer.setText(words_of_error(error))
        self.answer.setProperty("quiet", False)
        self.answer.setProperty("warning", True)
        self.answer.style().unpolish(self.answer)
        self.answer.style().polish(self.answer)

    def _fill(self) -> None:
        farm, table = self._bench.farm, str(self.table.currentData())
        assert farm is not None
        rows = farm.tables[table].loc[self._bench.picks.of(table)]
        holder = QWidget()
        form = QFormLayout(holder)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.fields = {}
        self.pruned = self.pruned_on = self.stubs = None
        for column in TABLES[table].columns:
            if column.points_to or column.by_program:
                continue
            is_species = (table, column.name) == ("trees", "species")
            field = Field(column, _held(rows, column), farm if is_species else None)
            self.fields[column.name] = field
            form.addRow(f"{column_label(column.name).capitalize()}:", _with_unit(field.widget, column.unit))
            if (table, column.name) == ("trees", "planted"):
                self._add_pruning(form)
        status, day = self.fields.get("status"), self.fields.get("status_on")
        if status is not None and status.choice is not None and day is not None and day.held == "":
            status.choice.currentIndexChanged.connect(self._offer_day)
        self._scroll.setWidget(holder)
        self._scroll.setMinimumWidth(self.fontMetrics().averageCharWidth() * 56)
        room = self.screen().availableGeometry().height()
        wanted = holder.sizeHint().height() + 4
        self._scroll.setMinimumHeight(min(wanted, round(room * LEAST_OF_SCREEN)))
        others = self.sizeHint().height() - self._scroll.minimumHeight()
        self.resize(self.sizeHint().width(), min(wanted + others, round(room * MOST_OF_SCREEN)))

    def _offer_day(self) -> None:
        """Put today beside the status of a tree that stands no more; a day that was typed stays."""
        status, day = self.fields["status"].text, self.fields["status_on"].line
        assert day is not None
        if day.text().strip() not in ("", self._offered_day):
            return
        today = dt.datetime.now().astimezone().date().isoformat()
        self._offered_day = today if status in ENDED else ""
        day.setText(self._offered_day)

    def _add_pruning(self, form: QFormLayout) -> None:
        self.pruned = QLineEdit()
        self.pruned.setAccessibleName("pruned height in m")
        self.pruned.setToolTip("Height to which they were pruned; it is written down as measured on that day")
        self.pruned_on = QDateEdit(QDate.currentDate())
        self.pruned_on.setDisplayFormat("d MMMM yyyy")
        self.pruned_on.setMaximumDate(QDate.currentDate())
        self.pruned_on.setAccessibleName("day of pruning")
        holder = QWidget()
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.pruned, 1)
        row.addWidget(QLabel("m on"))
        row.addWidget(self.pruned_on)
        form.addRow("Pruned to:", holder)
        self.stubs = QLineEdit()
        self.stubs.setAccessibleName("diameter over stubs in cm")
        self.stubs.setToolTip(
            "Largest diameter over the stubs that were left, if it was read; it goes with the pruning"
        )
        form.addRow("Over stubs:", _with_unit(self.stubs, "cm"))


def _as_one(parts: list[Proposed]) -> Proposed:
    """Return what changes different tables as one edit, to be taken back in one step."""
    if len(parts) == 1:
        return parts[0]
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.edits import Edit

    first, *others = (part.edit.name for part in parts)
    name = " and ".join([first, *map(within, others)])
    changes = {table: change for part in parts for table, change in part.edit.changes.items()}
    return Proposed(Edit(name, changes), tuple(note for part in parts for note in part.notes))


def _with_unit(widget: QWidget, unit: str) -> QWidget:
    if not unit:
        return widget
    holder = QWidget()
    row = QHBoxLayout(holder)
    row.setContentsMargins(0, 0, 0, 0)
    row.addWidget(widget, 1)
    row.addWidget(QLabel(unit))
    return holder


def _held(rows: pd.DataFrame, column: Column) -> str | None:
    """Return what all rows hold in a column as it would be typed, None if they differ."""
    values = rows[column.name].unique()
    if len(values) != 1:
        return None
    value = values[0]
    match column.kind:
        case Kind.TEXT | Kind.WHEN:
            return str(value)
        case Kind.DAY:
            return "" if value != value else str(value)[:10]  # noqa: PLR0124 - NaT is not itself
        case Kind.WHOLE | Kind.NUMBER:
            return "" if value != value else f"{value:.10g}"  # noqa: PLR0124 - nan is not itself
