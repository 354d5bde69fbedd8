"""Asking for counts of plants: how many were planted and when, or how many live and how many should."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from PySide6.QtCore import QDate, Qt, Signal
from PySide6.QtWidgets import (
    QDateEdit,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.window.tools.planting.fields import KeepInSight, NumberField

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm


WIDE_PX, ROUND_ROWS_PX, MOST_HIGH_PX = 460, 200, 600
"""Width of the dialog, room above and below its rows, and its greatest height."""


def planned_counts(farm: Farm, name: str) -> dict[str, tuple[str, int]]:
    """Return how many plants of a plan are planned yet, by code of their species, with its name."""
    trees = farm.trees
    mine = trees[
        ((trees["plan"] == name) & (trees["stage"] == "planned") & (trees["status"] == "alive")).to_numpy(bool)
    ]
    names = dict(zip(farm.species["code"], farm.species["name"], strict=True))
    return {
        str(code): (str(names.get(code) or code), int(count)) for code, count in mine["species"].value_counts().items()
    }


class CountsDialog(QDialog):
    """A number for each kind of plant, and a day or what part is to stand again.

    Parameters
    ----------
    title, words : str
        Heading of the dialog, and what the numbers are.
    counts : mapping of str to (str, int)
        Name and number of each kind, by its code.
    yes : str
        Words of the button that does it.
    target : bool
        Whether the part that is to stand again is asked, and not the day.
    """

    agreed = Signal(object, object)
    """The day or the part that is to stand again [%], and the numbers by code."""

    def __init__(
        self,
        title: str,
        words: str,
        counts: dict[str, tuple[str, int]],
        yes: str,
        parent: QWidget | None = None,
        *,
        target: bool = False,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.fields: dict[str, NumberField] = {}
        self.date = QDateEdit(QDate.currentDate())
        self.date.setDisplayFormat("d MMMM yyyy")
        self.date.setMaximumDate(QDate.currentDate())
        self.date.setAccessibleName("Day")
        self.target = NumberField("To stand again", "%", 1, 100, 5)
        self.target.show_value(100)
        self.target.judged.connect(self._judge)
        self._asks_target = target
        form = QFormLayout()
        if target:
            form.addRow("&To stand again, % of what was planted", self.target)
        else:
            form.addRow("&Day", self.date)
        inside = QWidget()
        lines = QFormLayout(inside)
        for code, (name, count) in counts.items():
            field = NumberField(name, "", 0, count, 1, whole=True)
            field.show_value(count)
            field.judged.connect(self._judge)
            lines.addRow(f"{name.replace('&', '&&')} (of {count:,})", field)
            self.fields[code] = field
        scroll = QScrollArea()
        scroll.setWidget(inside)
        scroll.setWidgetResizable(True)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        sight = KeepInSight(scroll)
        for field in self.fields.values():
            field.installEventFilter(sight)
        self.answer = WrappedLabel()
        self.answer.setProperty("warning", True)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.yes = buttons.addButton(yes, QDialogButtonBox.ButtonRole.AcceptRole)
        self.yes.setDefault(True)
        buttons.accepted.connect(self._agree)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        head = WrappedLabel(words)
        column.addWidget(head)
        column.addLayout(form)
        for widget in (scroll, self.answer, buttons):
            column.addWidget(widget)
        self.resize(WIDE_PX, min(inside.sizeHint().height() + ROUND_ROWS_PX, MOST_HIGH_PX))

    def _judge(self) -> None:
        troubles = [field.trouble for field in (*self.fields.values(), self.target) if field.trouble]
        self.answer.setText(" ".join(troubles))
        self.yes.setEnabled(not troubles)

    def _agree(self) -> None:
        date = self.date.date()
        counts = {code: int(field.value or 0) for code, field in self.fields.items()}
        said = float(self.target.value or 0) if self._asks_target else dt.date(date.year(), date.month(), date.day())
        self.agreed.emit(said, counts)
        self.accept()
