"""Sheets that are kept with the farm: the third page of the form beside the sheet."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QGridLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from farmmap.editing.kept_sheets import kept_sheets
from farmmap.sheets.chosen import PACK
from farmmap.window.messages import hint
from farmmap.window.printing.keeping import SheetKeeper
from farmmap.window.session import Session

NOT_KEPT = (
    "The sheet at hand is not kept yet. Give it a name and keep it, then it can be taken up again; it is kept by "
    "itself once you move something on it or write on it."
)
IS_KEPT = "This is “{name}”. What you change on it is kept as you change it."


class KeptForm(QWidget):
    """A list of kept sheets by name, to keep, take up again, rename and remove them."""

    keep_wanted = Signal(str)
    rename_wanted = Signal(str)
    taken_up = Signal(int)
    """Row of the sheet to go on with; 0 for a new one."""
    remove_wanted = Signal(int)

    def __init__(self, session: Session, keeper: SheetKeeper, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._keeper = session, keeper
        self.told = hint("")
        self.name = QLineEdit()
        self.name.setAccessibleName("Name of the sheet")
        self.name.setPlaceholderText("Name of the sheet")
        self.keep_button = QPushButton("Keep this sheet")
        self.rename_button = QPushButton("Rename")
        self.list = _Sheets()
        self.list.setAccessibleName("Kept sheets")
        self.take_button = QPushButton("Take up again")
        self.remove_button = QPushButton("Remove")
        self.new_button = QPushButton("Begin a new sheet")
        self._lay_out()
        self.keep_button.clicked.connect(lambda: self.keep_wanted.emit(self.name.text()))
        self.rename_button.clicked.connect(lambda: self.rename_wanted.emit(self.name.text()))
        self.name.returnPressed.connect(self._name_given)
        self.take_button.clicked.connect(lambda: self._of_list(self.taken_up))
        self.remove_button.clicked.connect(lambda: self._of_list(self.remove_wanted))
        self.new_button.clicked.connect(lambda: self.taken_up.emit(0))
        self.list.itemActivated.connect(lambda _item: self._of_list(self.taken_up))
        self.list.removed.connect(lambda: self._of_list(self.remove_wanted))
        self.list.itemSelectionChanged.connect(self._enable)
        keeper.changed.connect(self.follow)
        session.may_edit_changed.connect(self.follow)
        self.follow()

    def _lay_out(self) -> None:
        heading = QLabel("Kept with the farm")
        heading.setProperty("heading", True)
        heading.setBuddy(self.list)
        own = QGridLayout()
        own.addWidget(self.name, 0, 0, 1, 2)
        own.addWidget(self.keep_button, 1, 0)
        own.addWidget(self.rename_button, 1, 1)
        of_list = QGridLayout()
        of_list.addWidget(self.take_button, 0, 0)
        of_list.addWidget(self.remove_button, 0, 1)
        of_list.addWidget(self.new_button, 1, 0, 1, 2)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 6, 0)
        column.addWidget(self.told)
        column.addLayout(own)
        column.addSpacing(8)
        column.addWidget(heading)
        column.addWidget(self.list, 1)
        column.addLayout(of_list)

    def _name_given(self) -> None:
        """Rename the sheet at hand if it is kept, else keep it."""
        (self.rename_wanted if self._keeper.current else self.keep_wanted).emit(self.name.text())

    def follow(self) -> None:
        """Show what is kept, and which of it is the sheet at hand."""
        farm = self._session.farm
        chosen = self._row()
        self.list.clear()
        for sheet in () if farm is None else kept_sheets(farm):
            if sheet.choices.get("what") == PACK:
                continue
            at_hand = sheet.id == self._keeper.current
            item = QListWidgetItem(f"{sheet.name}  (at hand)" if at_hand else sheet.name)
            item.setData(Qt.ItemDataRole.UserRole, sheet.id)
            item.setToolTip(sheet.trouble)
            self.list.addItem(item)
            if sheet.id == (chosen or self._keeper.current):
                self.list.setCurrentItem(item)
        name = self._keeper.name
        self.told.setText(self._session.held_by or (IS_KEPT.format(name=name) if name else NOT_KEPT))
        if name or not self.name.hasFocus():
            self.name.setText(name)
        self._enable()

    def _enable(self) -> None:
        may, chosen = self._session.may_edit, self._row()
        kept = bool(self._keeper.current)
        self.keep_button.setText("Keep as another" if kept else "Keep this sheet")
        self.keep_button.setEnabled(may)
        self.rename_button.setVisible(kept)
        self.rename_button.setEnabled(may)
        self.name.setEnabled(may)
        self.take_button.setEnabled(chosen not in {0, self._keeper.current})
        self.remove_button.setEnabled(may and bool(chosen))
        self.new_button.setEnabled(kept)

    def _row(self) -> int:
        item = self.list.currentItem()
        return 0 if item is None else int(item.data(Qt.ItemDataRole.UserRole))

    def _of_list(self, signal: object) -> None:
        if self._row():
            signal.emit(self._row())  # type: ignore[attr-defined]


class _Sheets(QListWidget):
    """A list of names; Delete removes the one that is chosen."""

    removed = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Remove the line that is chosen."""
        if event.key() == Qt.Key.Key_Delete and self.currentItem() is not None:
            self.removed.emit()
        else:
            super().keyPressEvent(event)
