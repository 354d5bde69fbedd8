"""A list of the grower's own lines of one table, and a form in which one is put in, changed or taken away."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import BadInput
from farmmap.farm.schema import TABLES, Column, Kind
from farmmap.panels.answer_label import AnswerLabel
from farmmap.panels.products.species_list import EVERY_SPECIES, fill_species
from farmmap.panels.wheel import leave_wheel
from farmmap.panels.wrapped_label import WrappedLabel

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm

LABELS = {
    "name": "Name",
    "kind": "Kind",
    "species": "Species",
    "small_end_cm": "Least small end",
    "large_end_cm": "Greatest large end",
    "length_m": "Length of a piece",
    "per": "Price is for a",
    "price": "Price",
    "source": "Source",
    "note": "Note",
    "a": "a",
    "b": "b",
    "c": "c",
    "dbh_cm": "Diameter",
    "height_m": "Height",
    "volume_m3": "Volume",
    "bark_ratio": "Under bark ÷ over bark",
    "density_t_m3": "Basic density",
}
VALUE_WORDS = {
    "m3": "cubic metre",
    "piece": "piece",
    "tonne": "tonne",
    "power": "equation",
    "table": "line of a table",
}
SHORT = {"m3": "m³", "piece": "piece", "tonne": "tonne"}
USED_BY = {
    "form factor": frozenset({"a"}),
    "power": frozenset({"a", "b", "c"}),
    "table": frozenset({"dbh_cm", "height_m", "volume_m3"}),
}
"""Fields of a stem volume that each kind asks for; those of the others are hidden."""
WORDS = {
    "products": "Diameters are under bark at the ends of a piece. With any line here, only your own products are cut. "
    "A price that is left empty is not known; it is never taken as nought.",
    "volumes": "Form factor: volume = a × basal area × height. Equation: a × diameter^b × height^c, in cm and m. "
    "Table: one line for each diameter and height; it is read off between lines, never beyond. All over bark.",
}
NONE_YET = {
    "products": "No product of your own yet: general products are cut, without prices.",
    "volumes": "No stem volume of your own yet: those that come with farmmap are used.",
}
"""What stands in place of a list without lines."""


class LinesForm(QWidget):
    """Lines of ``products`` or ``volumes``.

    Parameters
    ----------
    table : str
        Which table.
    """

    edit_wanted = Signal(object)

    def __init__(self, table: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._table = TABLES[table]
        self._farm: Farm | None = None
        self._may_edit = True
        self.lines = QListWidget()
        self.lines.setAccessibleName(self._table.words)
        self.lines.setMinimumHeight(self.fontMetrics().height() * 7)
        self.lines.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.lines.setWordWrap(True)
        self.fields: dict[str, QLineEdit | QComboBox] = {}
        self._rows: dict[str, QWidget] = {}
        self.form = QFormLayout()
        self.form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self.form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for column in self._table.columns:
            self._add_field(column)
        self.add_button = QPushButton("Add as new")
        self.change_button = QPushButton("Change")
        self.remove_button = QPushButton("Take away")
        self.general_button = QPushButton("Start from the general list")
        self.general_button.setToolTip("Puts the general products into your list, without prices, to be changed")
        buttons = QHBoxLayout()
        for button in (self.add_button, self.change_button, self.remove_button):
            buttons.addWidget(button)
        buttons.addStretch(1)
        self.answer = AnswerLabel()
        self.none_yet = WrappedLabel(NONE_YET[table])
        words = WrappedLabel(WORDS[table])
        words.setProperty("quiet", True)
        column_of = QVBoxLayout(self)
        column_of.setContentsMargins(0, 8, 0, 0)
        column_of.addWidget(self.none_yet)
        column_of.addWidget(self.lines, 1)
        column_of.addWidget(self.general_button, 0, Qt.AlignmentFlag.AlignLeft)
        column_of.addLayout(self.form)
        column_of.addLayout(buttons)
        column_of.addWidget(self.answer)
        column_of.addWidget(words)
        column_of.addStretch(0)
        self.lines.currentItemChanged.connect(lambda _new, _old: self._fill())
        self.add_button.clicked.connect(self._add)
        self.change_button.clicked.connect(self._change)
        self.remove_button.clicked.connect(self._remove)
        self.general_button.clicked.connect(self._take_general)
        self._fit_kind()

    @property
    def row(self) -> int | None:
        """Id of the line that is chosen, None if none is."""
        item = self.lines.currentItem()
        return None if item is None else int(item.data(Qt.ItemDataRole.UserRole))

    def show_lines(self, farm: Farm) -> None:
        """List the lines of a farm, staying on the one that was chosen; a new one is chosen."""
        name = self._table.name
        before, self._farm = self._farm, farm
        if before is not None and before.tables[name] is farm.tables[name] and before.species is farm.species:
            return
        kept = self.row
        added = [] if before is None else farm.tables[name].index.difference(before.tables[name].index).tolist()
        chosen = added[0] if len(added) == 1 else kept
        species = self.fields["species"]
        assert isinstance(species, QComboBox)
        fill_species(species, farm)
        names = dict(zip(farm.species["code"], farm.species["name"], strict=True))
        self.lines.blockSignals(True)
        self.lines.clear()
        for row, line in zip(farm.tables[name].index, farm.tables[name].to_dict("records"), strict=True):
            item = QListWidgetItem(line_words(self._table.name, line, names))
            item.setData(Qt.ItemDataRole.UserRole, int(row))
            self.lines.addItem(item)
            if int(row) == chosen:
                self.lines.setCurrentItem(item)
        self.lines.blockSignals(False)
        self.general_button.setVisible(name == "products" and not self.lines.count())
        self.lines.setVisible(bool(self.lines.count()))
        self.none_yet.setVisible(not self.lines.count())
        self._fill()

    def let_edit(self, may: bool) -> None:
        """Offer to change the lines, or do not."""
        self._may_edit = may
        for button in (self.add_button, self.general_button):
            button.setEnabled(may)
        for button in (self.change_button, self.remove_button):
            button.setEnabled(may and self.row is not None)

    def values(self) -> dict[str, str]:
        """Return what stands in the form, by column."""
        out = {}
        for name, field in self.fields.items():
            if isinstance(field, QLineEdit):
                out[name] = field.text().strip()
            else:
                data = field.currentData()
                out[name] = field.currentText().strip() if data is None else str(data)
        if "kind" in out and self._table.name == "volumes":
            for name in frozenset().union(*USED_BY.values()) - USED_BY[out["kind"]]:
                out[name] = ""
        return out

    def _add_field(self, column: Column) -> None:
        field: QLineEdit | QComboBox
        if column.allowed or column.name == "species":
            field = QComboBox()
            leave_wheel(field)
            field.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            field.setMinimumContentsLength(12)
            for word in column.allowed:
                field.addItem(VALUE_WORDS.get(word, word), word)
            if column.name == "kind":
                field.currentIndexChanged.connect(lambda _place: self._fit_kind())
        else:
            field = QLineEdit()
        label = LABELS.get(column.name, column.name)
        field.setAccessibleName(f"{label} in {column.unit}" if column.unit else label)
        field.setToolTip(column.words)
        holder: QWidget = field
        if column.unit:
            holder = QWidget()
            row = QHBoxLayout(holder)
            row.setContentsMargins(0, 0, 0, 0)
            row.addWidget(field, 1)
            row.addWidget(QLabel(column.unit))
        self.form.addRow(f"{label}:", holder)
        self.fields[column.name] = field
        self._rows[column.name] = holder

    def _fit_kind(self) -> None:
        """Show the fields that the chosen kind asks for."""
        if self._table.name != "volumes":
            return
        field = self.fields["kind"]
        assert isinstance(field, QComboBox)
        used = USED_BY.get(str(field.currentData()), frozenset())
        for name in frozenset().union(*USED_BY.values()):
            self.form.setRowVisible(self._rows[name], name in used)
        label = self.form.labelForField(self._rows["a"])
        assert isinstance(label, QLabel)
        label.setText("Form factor:" if used == {"a"} else "a:")

    def _fill(self) -> None:
        """Put the chosen line into the form."""
        row = self.row
        self.let_edit(self._may_edit)
        self.answer.say("")
        if row is None or self._farm is None:
            return
        line = self._farm.tables[self._table.name].loc[row]
        for column in self._table.columns:
            field, text = self.fields[column.name], _as_typed(line[column.name], column)
            if isinstance(field, QLineEdit):
                field.setText(text)
            else:
                place = field.findData(text)
                if place < 0:
                    field.addItem(text, text)
                    place = field.count() - 1
                field.setCurrentIndex(place)

    def _add(self) -> None:
        from farmmap.plans.harvest.own_lines import line_added

        self._propose(lambda farm: line_added(farm, self._table.name, self.values()))

    def _change(self) -> None:
        from farmmap.plans.harvest.own_lines import line_changed

        row = self.row
        if row is not None:
            self._propose(lambda farm: line_changed(farm, self._table.name, row, self.values()))

    def _remove(self) -> None:
        from farmmap.plans.harvest.own_lines import line_removed

        row = self.row
        if row is not None:
            self._propose(lambda farm: line_removed(farm, self._table.name, row))

    def _take_general(self) -> None:
        from farmmap.plans.harvest.own_lines import general_products_taken

        self._propose(general_products_taken)

    def _propose(self, make: Callable[[Farm], Proposed]) -> None:
        """Hand on an edit, or say in the form why there is none."""
        if self._farm is None:
            return
        try:
            proposed = make(self._farm)
        except BadInput as error:
            self.answer.say(str(error), warning=True)
            return
        self.answer.say("")
        self.edit_wanted.emit(proposed.edit)


def line_words(table: str, line: Mapping[str, Any], names: Mapping[str, str]) -> str:
    """Return a line of ``products`` or ``volumes`` in words, as it stands in the list.

    Parameters
    ----------
    table : str
        Which table.
    line : mapping
        Its values by column.
    names : mapping of str to str
        Trade names of species by code.
    """
    code = str(line["species"])
    species = (names.get(code) or code) if code else EVERY_SPECIES
    if table == "products":
        parts = [str(line["name"])]
        parts += _thickness(line["small_end_cm"], line["large_end_cm"])
        parts += [f"{line['length_m']:g} m"] if line["length_m"] > 0 else []
        parts += [species] if line["species"] else []
        price = "no price" if math.isnan(line["price"]) else f"{line['price']:g} a {SHORT[line['per']]}"
        return ", ".join([*parts, price])
    match line["kind"]:
        case "table":
            height = "" if math.isnan(line["height_m"]) else f", {line['height_m']:g} m"
            words = f"{line['dbh_cm']:g} cm{height}: {line['volume_m3']:g} m³"
        case "power":
            tail = "" if math.isnan(line["c"]) else f" × height^{line['c']:g}"
            words = f"{_written(line['a'])} × diameter^{line['b']:g}{tail}"
        case _:
            words = "wood only" if math.isnan(line["a"]) else f"form factor {line['a']:g}"
    return f"{species}: {words}"


def _thickness(small_cm: float, large_cm: float) -> list[str]:
    if large_cm > 0:
        return [f"{small_cm:g} to {large_cm:g} cm" if small_cm > 0 else f"up to {large_cm:g} cm"]
    return [f"{small_cm:g} cm up"] if small_cm > 0 else []


def _as_typed(value: Any, column: Column) -> str:
    if column.kind is Kind.TEXT:
        return str(value)
    return "" if value is None or math.isnan(value) else _written(value)


def _written(value: float) -> str:
    """Return a number as it is typed, without a power of ten."""
    return f"{value:.12f}".rstrip("0").rstrip(".") or "0"
