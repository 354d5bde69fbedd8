"""Starting a farm: its name, its grid and where its file goes."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QStandardPaths
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import FarmmapError
from farmmap.window.messages import hint

GRIDS = (
    ("New Zealand – NZTM", "EPSG:2193"),
    ("Great Britain – National Grid", "EPSG:27700"),
    ("Ireland – ITM", "EPSG:2157"),
    ("Australia east – MGA zone 55", "EPSG:7855"),
    ("Australia east coast – MGA zone 56", "EPSG:7856"),
    ("Europe – UTM zone 32", "EPSG:25832"),
    ("Europe – UTM zone 33", "EPSG:25833"),
)
"""Grids offered by name; any other is given by its EPSG number."""


class NewFarmDialog(QDialog):
    """Asks for what an empty farm needs."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("New farm")
        self.name = QLineEdit()
        self.name.setPlaceholderText("Name of the farm")
        self.grid = QComboBox()
        self.grid.setEditable(True)
        self.grid.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        for words, epsg in GRIDS:
            self.grid.addItem(f"{words} ({epsg})", epsg)
        self.path = QLineEdit()
        choose = QPushButton("Choose…")
        choose.clicked.connect(self._choose_path)
        place = QHBoxLayout()
        place.addWidget(self.path, 1)
        place.addWidget(choose)
        self.problem = hint("", warning=True)
        form = QFormLayout()
        form.addRow("Name", self.name)
        form.addRow("Grid", self.grid)
        form.addRow("", hint("The plane coordinates of your country's maps. For another, type its EPSG number."))
        form.addRow("Farm file", place)
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setText("Start the farm")
        self.buttons.accepted.connect(self._check)
        self.buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addLayout(form)
        column.addWidget(self.problem)
        column.addWidget(self.buttons)
        self.resize(560, self.sizeHint().height())
        self._own_path = True
        self.path.textEdited.connect(self._path_typed)
        self.name.textChanged.connect(self._suggest_path)
        self._suggest_path("")

    def answers(self) -> tuple[str, str, Path]:
        """Return name, grid and path."""
        return self.name.text().strip(), self._epsg(), Path(self.path.text().strip()).expanduser()

    def _epsg(self) -> str:
        typed = self.grid.currentText().strip()
        place = self.grid.findText(typed)
        return typed if place < 0 else str(self.grid.itemData(place))

    def _check(self) -> None:
        from farmmap.farm.farm import new_farm

        name, epsg, path = self.answers()
        try:
            new_farm(name, epsg)
        except FarmmapError as error:
            self.problem.setText(str(error))
            return
        if path.exists():
            self.problem.setText(f"{path} is there already; choose another name.")
        elif not path.parent.is_dir():
            self.problem.setText(f"There is no folder {path.parent}.")
        else:
            self.accept()

    def _path_typed(self) -> None:
        self._own_path = False

    def _suggest_path(self, name: str) -> None:
        if self._own_path:
            folder = Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation))
            clean = "".join(sign for sign in name if sign.isalnum() or sign in " -_").strip() or "farm"
            self.path.setText(str((folder if folder.is_dir() else Path.home()) / f"{clean}.gpkg"))

    def _choose_path(self) -> None:
        dialog = QFileDialog(self, "Where the farm file goes", self.path.text(), "Farm files (*.gpkg)")
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("gpkg")
        dialog.fileSelected.connect(self._path_chosen)
        dialog.open()

    def _path_chosen(self, name: str) -> None:
        self._own_path = False
        self.path.setText(name)
