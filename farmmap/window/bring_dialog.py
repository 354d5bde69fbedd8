"""Bringing data in: choose a file, look over the plan of columns, see what would come in, then bring it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from PySide6.QtCore import QDate
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDateEdit,
    QDialog,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import FarmmapError
from farmmap.farm.farm import Farm
from farmmap.farm.schema import TABLES
from farmmap.files.bring import MAY_BE_BROUGHT, Brought, Plan, bring, guess_plan, read_source, write_set_aside
from farmmap.progress import Progress
from farmmap.window.bring_report import BringReport
from farmmap.window.farm_files import FarmFiles
from farmmap.window.jobs import Jobs
from farmmap.window.messages import hint, tell
from farmmap.window.plan_table import PlanTable
from farmmap.window.session import Session

READINGS = ("dbh_cm", "height_m", "crown_m", "pruned_m")
_KINDS = "Files that can be brought in (*.gpkg *.geojson *.json *.gpx *.kml *.kmz *.csv *.txt *.tsv);;All files (*)"


class BringDialog(QDialog):
    """Two pages: the plan, and what would come of it. Nothing is written before the second is agreed to."""

    def __init__(self, session: Session, jobs: Jobs, files: FarmFiles, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._jobs, self._files = session, jobs, files
        self._brought: Brought | None = None
        self._made_for: Farm | None = None
        self._plan_for: tuple[Path, str] | None = None
        self.setWindowTitle("Bring in")
        self.resize(860, 640)
        self._make_fields()
        self.report = BringReport()
        self.pages = QStackedWidget()
        self.pages.addWidget(self._plan_page())
        self.pages.addWidget(self.report)
        self.back_button = QPushButton("Back")
        self.next_button = QPushButton("See what comes in")
        self.close_button = QPushButton("Cancel")
        self.next_button.setDefault(True)
        row = QHBoxLayout()
        row.addWidget(self.back_button)
        row.addStretch(1)
        row.addWidget(self.close_button)
        row.addWidget(self.next_button)
        self.problem = hint("", warning=True)
        column = QVBoxLayout(self)
        column.addWidget(self.pages, 1)
        column.addWidget(self.problem)
        column.addLayout(row)
        self.back_button.clicked.connect(lambda: self._turn_to(0))
        self.next_button.clicked.connect(self._go_on)
        self.close_button.clicked.connect(self.reject)
        self._turn_to(0)

    def choose_file(self, path: Path) -> None:
        """Read a file and guess what its columns mean."""
        self.path.setText(str(path))
        self._read()

    # The plan

    def _make_fields(self) -> None:
        self.path = QLineEdit()
        self.path.setPlaceholderText("GeoPackage, GeoJSON, GPX, KML or CSV")
        self.path.setAccessibleName("File")
        self.path.editingFinished.connect(self._read)
        self.choose = QPushButton("Choose…")
        self.choose.clicked.connect(self._choose)
        self.kind = QComboBox()
        for name in MAY_BE_BROUGHT:
            self.kind.addItem(TABLES[name].words, name)
        self.kind.setCurrentIndex(MAY_BE_BROUGHT.index("trees"))
        self.kind.activated.connect(lambda _place: self._read())
        self.grid = QLineEdit()
        self.grid.setPlaceholderText("As the file says, else the farm's own")
        self.grid.setToolTip("EPSG number of the grid that the file's coordinates are on, such as EPSG:2193")
        self.dated = QCheckBox("Readings without a date were taken on")
        self.day = QDateEdit(QDate.currentDate())
        self.day.setDisplayFormat("d MMMM yyyy")
        self.day.dateChanged.connect(lambda _day: self.dated.setChecked(True))
        self.anyway = QCheckBox("Bring it in even if it lies far from the farm, or the same trees are there already")
        self.plan_table = PlanTable()
        self.plan_table.plan_changed.connect(lambda: self.problem.setText(""))
        self.said = hint("Choose a file to see what its columns would become.")

    def _plan_page(self) -> QWidget:
        page = QWidget()
        file_row = QHBoxLayout()
        file_row.addWidget(self.path, 1)
        file_row.addWidget(self.choose)
        day_row = QHBoxLayout()
        day_row.addWidget(self.dated)
        day_row.addWidget(self.day)
        day_row.addStretch(1)
        form = QFormLayout()
        form.addRow("File", file_row)
        form.addRow("What it holds", self.kind)
        form.addRow("Its grid", self.grid)
        form.addRow("", day_row)
        form.addRow("", self.anyway)
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(form)
        column.addWidget(self.said)
        column.addWidget(self.plan_table, 1)
        return page

    def _choose(self) -> None:
        dialog = QFileDialog(self, "Bring in", str(Path(self.path.text()).parent), _KINDS)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.fileSelected.connect(lambda name: self.choose_file(Path(name)))
        dialog.open()

    def _read(self) -> None:
        text = self.path.text().strip()
        if not text:
            return
        wanted = path, table = Path(text).expanduser(), str(self.kind.currentData())
        if self._plan_for == wanted and (self.plan_table.plan is not None or self._jobs.is_busy("read source")):
            return
        self._drop_plan()
        self._plan_for = wanted

        def read(progress: Progress) -> Plan:
            return guess_plan(read_source(path, like=table, progress=progress), table)

        def show(plan: Plan) -> None:
            if self._plan_for == wanted:
                self._show_plan(plan)

        def fail(error: BaseException) -> None:
            if self._plan_for == wanted:
                self._drop_plan()
                self._tell(error)

        def stopped() -> None:
            if self._plan_for == wanted:
                self._drop_plan()
                self.problem.setText(f"{path.name} was not read.")

        self._jobs.start("read source", read, show, fail, f"Reading {path.name}", self, stopped=stopped)

    def _drop_plan(self) -> None:
        """Have no plan: there is nothing to go on with until a file is read."""
        self._plan_for = None
        self.plan_table.clear_plan()
        self.said.setText("")
        self.problem.setText("")
        self.next_button.setEnabled(False)

    def _show_plan(self, plan: Plan) -> None:
        self.problem.setText("")
        self.next_button.setEnabled(True)
        self.plan_table.show_plan(plan)
        source = plan.source
        told = [f"{source.kind}, {source.read} rows.", *source.said, *plan.said]
        self.said.setText(" ".join(told))
        self.grid.setPlaceholderText(
            f"As the file says: EPSG:{source.epsg}" if source.epsg else "The file says nothing; the farm's own is taken"
        )

    # What would come of it

    def _go_on(self) -> None:
        if self.pages.currentIndex() == 0:
            self._try()
        else:
            self._bring()

    def _try(self) -> None:
        plan, farm = self.plan_table.plan, self._session.farm
        if plan is None or farm is None:
            self.problem.setText("Choose a file first.")
            return
        if self._plan_for != (Path(self.path.text().strip()).expanduser(), str(self.kind.currentData())):
            self._read()  # the plan shown is of another file or table
            return
        if self._date_is_wanted(plan):
            self.problem.setText("The file gives no date for its readings. Tick and set the day they were taken.")
            self.dated.setFocus()
            return
        day = self.day.date()
        measured_on = dt.date(day.year(), day.month(), day.day()) if self.dated.isChecked() else None
        grid, anyway = self.grid.text().strip() or None, self.anyway.isChecked()

        def work_out(progress: Progress) -> Brought:
            return bring(
                farm, plan.source, plan.table, grid=grid, plan=plan, measured_on=measured_on, anyway=anyway,
                progress=progress,
            )  # fmt: skip

        self.next_button.setEnabled(False)

        def show(brought: Brought) -> None:
            self.next_button.setEnabled(self.plan_table.plan is not None)
            if plan is self.plan_table.plan:
                self._made_for = farm
                self._show_report(brought)

        def stopped() -> None:
            self.next_button.setEnabled(self.plan_table.plan is not None)

        words = f"Reading {plan.source.path.name}"
        self._jobs.start("bring try", work_out, show, self._refused, words, self, stopped=stopped)

    def _date_is_wanted(self, plan: Plan) -> bool:
        reads = any(name in plan.fillings for name in READINGS)
        return reads and "measured_on" not in plan.fillings and not self.dated.isChecked()

    def _show_report(self, brought: Brought) -> None:
        self.next_button.setEnabled(True)
        self.problem.setText("")
        self._brought = brought
        self.report.show_brought(brought)
        self._turn_to(1)

    def _refused(self, error: BaseException) -> None:
        self.next_button.setEnabled(self.plan_table.plan is not None)
        self.back_button.setEnabled(True)
        self._tell(error)

    def _tell(self, error: BaseException) -> None:
        if isinstance(error, FarmmapError):
            self.problem.setText(str(error))
        else:
            tell(self, error)

    def _bring(self) -> None:
        brought = self._brought
        if brought is None or brought.edit is None:
            return
        if self._session.farm is not self._made_for:
            self._turn_to(0)
            self.problem.setText("The farm has changed since. Look once more at what comes in.")
            return
        self.next_button.setEnabled(False)
        self.back_button.setEnabled(False)
        self._files.carry_out(brought.edit, lambda: self._put_aside(brought), self._refused, owner=self)

    def _put_aside(self, brought: Brought) -> None:
        """Write the rows that did not come in, now that the others are in the farm file."""
        self._brought_in()

        def set_aside(_progress: Progress) -> Path | None:
            return write_set_aside(brought)

        words = "Setting rows aside"
        self._jobs.start("bring write", set_aside, self.report.show_set_aside, self._tell, words, self, may_stop=False)

    def _brought_in(self) -> None:
        self.report.show_done()
        self.next_button.setVisible(False)
        self.back_button.setVisible(False)
        self.close_button.setText("Close")
        self.close_button.setEnabled(True)

    def _turn_to(self, page: int) -> None:
        self.pages.setCurrentIndex(page)
        self.back_button.setVisible(page == 1)
        self.problem.setText("")
        self.next_button.setText("See what comes in" if page == 0 else "Bring in")
        self.next_button.setEnabled(page == 0 or (self._brought is not None and self._brought.edit is not None))
