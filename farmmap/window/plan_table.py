"""The plan of columns as a table: ours at the left, theirs to choose, their unit, and what stands there."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from farmmap.errors import BadInput
from farmmap.files.bring import Plan
from farmmap.files.bringing.heads import columns_of, takes_places, takes_unit
from farmmap.files.bringing.plan import AXES

EMPTY = "not in this file"
SAMPLES = 3
"""How many of their values are shown beside a column."""
_PLACE_WORDS = {"x": "east on the grid", "y": "north on the grid", "lon": "longitude", "lat": "latitude"}


class PlanTable(QTableWidget):
    """Shows a plan and lets every line of it be changed."""

    plan_changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(0, 4, parent)
        self.plan: Plan | None = None
        self.theirs: dict[str, QComboBox] = {}
        self.units: dict[str, QComboBox] = {}
        self.setHorizontalHeaderLabels(["What farmmap keeps", "Column of the file", "Written in", "For example"])
        self.setAccessibleName("Plan of columns")
        self.verticalHeader().setVisible(False)
        self.setTabKeyNavigation(False)
        self.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QTableWidget.SelectionMode.NoSelection)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        heading = self.horizontalHeader()
        heading.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        heading.setSectionResizeMode(0, QHeaderView.ResizeMode.Interactive)
        heading.resizeSection(0, self.fontMetrics().averageCharWidth() * 40)
        heading.setSectionResizeMode(3, QHeaderView.ResizeMode.Stretch)
        heading.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)

    def clear_plan(self) -> None:
        """Show no plan."""
        self.plan = None
        self.theirs, self.units = {}, {}
        self.setRowCount(0)

    def show_plan(self, plan: Plan) -> None:
        """Show a plan, a line for each column that the table can take."""
        self.plan = plan
        self.theirs, self.units = {}, {}
        columns = columns_of(plan.table)
        names = [*columns]
        if plan.source.geometry is None and takes_places(plan.table):
            names = [*AXES, *names]
        self.setRowCount(len(names))
        heads = [str(head) for head in plan.source.rows.columns]
        for row, name in enumerate(names):
            words = _PLACE_WORDS.get(name) or columns[name].words
            needed = name in columns and columns[name].needed
            item = QTableWidgetItem(f"{words}{' – needed' if needed else ''}")
            item.setToolTip(f"{item.text()} ({name})")
            self.setItem(row, 0, item)
            self._add_choice(row, name, heads)
            self._add_unit(row, name)
        self._update()
        self.resizeRowsToContents()

    def _add_choice(self, row: int, name: str, heads: list[str]) -> None:
        choice = QComboBox()
        choice.addItem(EMPTY, "")
        for head in heads:
            choice.addItem(head, head)
        choice.setAccessibleName(f"Column of the file for {name}")
        choice.activated.connect(self._changing(name))
        self.theirs[name] = choice
        self.setCellWidget(row, 1, choice)

    def _add_unit(self, row: int, name: str) -> None:
        assert self.plan is not None
        if not takes_unit(name, self.plan.table):
            self.setItem(row, 2, QTableWidgetItem(""))
            return
        unit = QComboBox()
        base = name.rpartition("_")[0] or name
        for one in ("cm", "mm", "m", "in", "ft") if name == "dbh_cm" else ("m", "ft", "cm", "mm", "in"):
            unit.addItem(one, f"{base}_{one}")
        if name == "dbh_cm":
            for one in ("cm", "mm", "in"):
                unit.addItem(f"girth in {one}", f"girth_{one}")
        unit.setAccessibleName(f"Unit of {name}")
        unit.activated.connect(self._changing(name))
        self.units[name] = unit
        self.setCellWidget(row, 2, unit)

    def _changing(self, name: str) -> Callable[[int], None]:
        def change(_place: int) -> None:
            assert self.plan is not None
            theirs = str(self.theirs[name].currentData())
            asked = str(self.units[name].currentData()) if name in self.units else name
            self.plan = self.plan.with_column(asked, theirs)
            self._update()
            self.plan_changed.emit()

        return change

    def _update(self) -> None:
        """Bring every line into step with the plan: filling one may have emptied another."""
        assert self.plan is not None
        for row, (name, choice) in enumerate(self.theirs.items()):
            filling = self.plan.fillings.get(name)
            choice.setCurrentIndex(0 if filling is None else max(choice.findData(filling.theirs), 0))
            unit = self.units.get(name)
            if unit is not None:
                unit.setEnabled(filling is not None)
                if filling is not None:
                    own = "cm" if name == "dbh_cm" else "m"
                    base = "girth" if filling.target.girth else name.rpartition("_")[0] or name
                    unit.setCurrentIndex(max(unit.findData(f"{base}_{filling.target.unit or own}"), 0))
            shown = "" if filling is None else self._samples(filling.theirs)
            why = f"{shown}   ({filling.why})" if filling is not None and filling.why else shown
            self.setItem(row, 3, QTableWidgetItem(why))

    def _samples(self, head: str) -> str:
        assert self.plan is not None
        if head not in self.plan.source.rows.columns:
            raise BadInput(f"{self.plan.source.path.name} has no column '{head}'")
        values = self.plan.source.rows[head].head(60)
        texts = [text for text in values.astype("str").tolist() if text and text not in {"nan", "NaT", "None"}]
        return ", ".join(list(dict.fromkeys(texts))[:SAMPLES])
