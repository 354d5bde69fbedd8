"""What lies under the map: a list to add to, to hide from, and to take away from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDoubleSpinBox,
    QFileDialog,
    QFormLayout,
    QGroupBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import FarmmapError
from farmmap.progress import Progress
from farmmap.window.farm_files import FarmFiles
from farmmap.window.jobs import Jobs
from farmmap.window.map_contents import MapContents
from farmmap.window.messages import hint, tell
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    import pandas as pd

    from farmmap.editing.proposed import Proposed

KINDS = {"picture": "Picture from above", "elevation": "Heights of the ground"}
FILES = "Pictures and elevation grids (*.tif *.tiff *.jpg *.jpeg *.png *.jp2 *.vrt *.asc *.bil *.img);;All files (*)"
EMPTY = (
    "Nothing lies under the map yet. Add an aerial picture (GeoTIFF, or JPEG or PNG with its world file), or an "
    "elevation grid, which is shown as relief and contours and gives slope and aspect in the Ground panel."
)
_ID = Qt.ItemDataRole.UserRole
_PAUSE_MS = 500
"""A value that is being turned is written once it rests so long. [ms]"""


class BackdropDialog(QDialog):
    """One line a backdrop, ticked if shown; beside it what can be set for the one that is chosen."""

    def __init__(
        self, session: Session, contents: MapContents, files: FarmFiles, jobs: Jobs, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._session, self._contents, self._files, self._jobs = session, contents, files, jobs
        self._following = False
        self.setWindowTitle("Backdrops")
        self.resize(760, 420)
        self._make_fields()
        self._lay_out()
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_PAUSE_MS)
        self._pause.timeout.connect(self._write_numbers)
        self.list.currentItemChanged.connect(lambda _item, _before: self._show_chosen())
        self.list.itemChanged.connect(self._ticked)
        self.add_button.clicked.connect(self._choose)
        self.remove_button.clicked.connect(self._remove)
        self.close_button.clicked.connect(self.accept)
        self.name.editingFinished.connect(lambda: self._write({"name": self.name.text().strip()}))
        self.grid.editingFinished.connect(lambda: self._write({"grid": self.grid.text().strip()}))
        self.kind.activated.connect(lambda _place: self._write({"kind": self.kind.currentData()}))
        self.strength.valueChanged.connect(lambda _value: self._later())
        self.contour.valueChanged.connect(lambda _value: self._later())
        session.farm_changed.connect(self._follow)
        session.may_edit_changed.connect(self._follow)
        contents.changed.connect(self._show_trouble)
        self._follow()

    def add(self, path: Path) -> None:
        """Add a file to the backdrops, or say why it cannot be one."""
        farm, folder = self._session.farm, self._folder()
        if farm is None:
            return

        def look(_progress: Progress) -> Proposed:
            from farmmap.editing.backdrops import backdrop_added

            return backdrop_added(farm, path, folder)

        def show(proposed: Proposed) -> None:
            self.add_button.setEnabled(True)
            row = int(proposed.edit.changes["backdrops"].after.index[0])
            self._carry_out(proposed, lambda: self._select(row))

        self.add_button.setEnabled(False)
        self.said.setText("")
        self._jobs.start("backdrop", look, show, self._refused, f"Looking at {path.name}", self, stopped=self._follow)

    # How it is done

    def _make_fields(self) -> None:
        self.list = QListWidget()
        self.list.setAccessibleName("Backdrops")
        self.list.setToolTip("Tick what is to lie under the map (space bar)")
        self.name = QLineEdit()
        self.kind = QComboBox()
        for name, words in KINDS.items():
            self.kind.addItem(words, name)
        self.file = QLabel()
        self.file.setWordWrap(True)
        self.file.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.grid = QLineEdit()
        self.grid.setPlaceholderText("As the file says, else the farm's own")
        self.grid.setToolTip("EPSG number of the grid of a file that names none, such as EPSG:2193")
        self.strength = QSpinBox()
        self.strength.setRange(0, 100)
        self.strength.setSingleStep(10)
        self.strength.setSuffix(" %")
        self.contour = QDoubleSpinBox()
        self.contour.setRange(0.0, 500.0)
        self.contour.setDecimals(1)
        self.contour.setSuffix(" m")
        self.contour.setSpecialValueText("to suit the ground")
        self.trouble = hint("", warning=True)
        self.taken = hint("")
        self.said = hint("", warning=True)
        self.nothing = hint(EMPTY)
        self.add_button = QPushButton("Add a file…")
        self.remove_button = QPushButton("Take away")
        self.remove_button.setToolTip("Takes it out of the farm; its file stays where it is")
        self.close_button = QPushButton("Close")
        for button in (self.add_button, self.remove_button):
            button.setAutoDefault(False)

    def _lay_out(self) -> None:
        self._form = QFormLayout()
        self._form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        for words, field in (
            ("Name", self.name),
            ("What it is", self.kind),
            ("File", self.file),
            ("Its grid", self.grid),
            ("Strength", self.strength),
            ("A contour every", self.contour),
        ):
            self._form.addRow(words, field)
            field.setAccessibleName(words)
        box = QVBoxLayout()
        box.addLayout(self._form)
        box.addWidget(self.trouble)
        box.addWidget(self.taken)
        box.addStretch(1)
        self.chosen = QGroupBox()
        self.chosen.setLayout(box)
        middle = QHBoxLayout()
        middle.addWidget(self.list, 2)
        middle.addWidget(self.chosen, 3)
        row = QHBoxLayout()
        row.addWidget(self.add_button)
        row.addWidget(self.remove_button)
        row.addStretch(1)
        row.addWidget(self.close_button)
        column = QVBoxLayout(self)
        column.addWidget(self.nothing)
        column.addLayout(middle, 1)
        column.addWidget(self.said)
        column.addLayout(row)

    def _folder(self) -> Path | None:
        return None if self._session.path is None else self._session.path.parent

    def _rows(self) -> pd.DataFrame | None:
        return None if self._session.farm is None else self._session.farm.tables["backdrops"]

    def _id(self) -> int | None:
        item = self.list.currentItem()
        return None if item is None else int(item.data(_ID))

    def _follow(self) -> None:
        """Show the farm's backdrops as they are now, staying on the one that was chosen."""
        rows, chosen = self._rows(), self._id()
        if rows is None:
            self.reject()
            return
        self._following = True
        self.list.clear()
        for row, name, shown in zip(rows.index, rows["name"], rows["shown"], strict=True):
            item = QListWidgetItem(str(name))
            item.setData(_ID, int(row))
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Unchecked if shown == "no" else Qt.CheckState.Checked)
            self.list.addItem(item)
        self._following = False
        may_edit = self._session.may_edit
        self.list.setEnabled(may_edit)
        self.add_button.setEnabled(may_edit)
        self.nothing.setVisible(not len(rows))
        self._select(chosen)

    def _select(self, row: int | None) -> None:
        places = [place for place in range(self.list.count()) if self.list.item(place).data(_ID) == row]
        if self.list.count():
            self.list.setCurrentRow(places[0] if places else 0)
        self._show_chosen()

    def _show_chosen(self) -> None:
        rows, row = self._rows(), self._id()
        self.chosen.setVisible(row is not None)
        self.chosen.setEnabled(self._session.may_edit)
        self.remove_button.setEnabled(row is not None and self._session.may_edit)
        if rows is None or row is None or row not in rows.index or self._following:
            return
        one = rows.loc[row]
        self._following = True
        self.name.setText(str(one["name"]))
        self.kind.setCurrentIndex(self.kind.findData(str(one["kind"])))
        self.file.setText(str(one["path"]))
        self.grid.setText(str(one["grid"]))
        self.strength.setValue(100 if one["opacity_percent"] != one["opacity_percent"] else int(one["opacity_percent"]))
        self.contour.setValue(0.0 if one["contour_m"] != one["contour_m"] else float(one["contour_m"]))
        self._form.setRowVisible(self.contour, one["kind"] == "elevation")
        self._following = False
        self._show_trouble()

    def _show_trouble(self) -> None:
        """Say of the one that is chosen why it cannot be shown, or what was taken for granted."""
        now, row = self._contents.now, self._id()
        chosen = [] if now is None else [one for one in now.backdrops.all if one.id == row]
        self.trouble.setText("\n".join(one.trouble for one in chosen))
        self.taken.setText("\n".join(line for one in chosen if one.file is not None for line in one.file.said))

    def _ticked(self, item: QListWidgetItem) -> None:
        if not self._following:
            self.list.setCurrentItem(item)
            self._write({"shown": "yes" if item.checkState() == Qt.CheckState.Checked else "no"})

    def _later(self) -> None:
        if not self._following:
            self._pause.start()

    def _write_numbers(self) -> None:
        rows, row = self._rows(), self._id()
        if rows is None or row is None or row not in rows.index:
            return
        values: dict[str, object] = {"opacity_percent": float(self.strength.value())}
        if rows.loc[row, "kind"] == "elevation":
            values["contour_m"] = self.contour.value() or float("nan")
        self._write(values)

    def _write(self, values: Mapping[str, object]) -> None:
        """Give the one that is chosen other values, if they are other."""
        rows, row = self._rows(), self._id()
        if self._following or self._session.farm is None or rows is None or row is None or row not in rows.index:
            return
        one = rows.loc[row]
        changed = {
            name: value
            for name, value in values.items()
            if one[name] != value and not (one[name] != one[name] and value != value)  # noqa: PLR0124 - nan
        }
        if not changed:
            return
        from farmmap.editing.backdrops import backdrop_changed

        try:
            proposed = backdrop_changed(self._session.farm, row, changed)
        except FarmmapError as error:
            self._refused(error)
            return
        self._carry_out(proposed)

    def _remove(self) -> None:
        row = self._id()
        if self._session.farm is None or row is None:
            return
        from farmmap.editing.backdrops import backdrop_removed

        self._carry_out(backdrop_removed(self._session.farm, row))

    def _carry_out(self, proposed: Proposed, done: Callable[[], None] | None = None) -> None:
        self.said.setText("\n".join(proposed.notes))
        self._files.carry_out(proposed.edit, done, self._refused, self)

    def _choose(self) -> None:
        folder = self._folder()
        dialog = QFileDialog(self, "Add a backdrop", str(folder or Path.home()), FILES)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.fileSelected.connect(lambda name: self.add(Path(name)))
        dialog.open()

    def _refused(self, error: BaseException) -> None:
        self._follow()
        if isinstance(error, FarmmapError):
            self.said.setText(str(error))
        else:
            tell(self, error)

    def done(self, result: int) -> None:
        """Write what is still being turned, and close."""
        if self._pause.isActive():
            self._pause.stop()
            self._write_numbers()
        super().done(result)
