"""The main window: the map in the middle, its key on it, panels beside it, the date line beneath."""

from __future__ import annotations

import contextlib
import datetime as dt
import importlib
from pathlib import Path

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QCloseEvent, QFont
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QMainWindow,
    QMessageBox,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from farmmap import __version__
from farmmap.errors import FarmmapError
from farmmap.window.busy_strip import BusyStrip
from farmmap.window.date_line import DateLine
from farmmap.window.farm_files import FarmFiles
from farmmap.window.find_box import FindBox
from farmmap.window.jobs import Jobs
from farmmap.window.key_view import KeyView
from farmmap.window.map_contents import MapContents
from farmmap.window.map_view import ZOOM_STEP, MapView
from farmmap.window.menus import KEYS, LINES, fill_menus
from farmmap.window.messages import CAUTION, tell
from farmmap.window.panel_column import PanelColumn
from farmmap.window.preferences import Preferences
from farmmap.window.session import Session
from farmmap.window.status_line import StatusLine
from farmmap.window.theme import put_on, theme_for
from farmmap.window.welcome import Welcome

MAP_SHARE = 0.6
"""How much of the width the map gets at first."""


class FarmWindow(QMainWindow):
    """One farm on the screen.

    Parameters
    ----------
    preferences : Preferences
        What is remembered from one day to the next.
    """

    def __init__(self, preferences: Preferences | None = None) -> None:
        super().__init__()
        self.preferences = preferences or Preferences()
        self.session = Session(self)
        self.jobs = Jobs(self)
        self.files = FarmFiles(self.session, self.jobs, self)
        self.contents = MapContents(self.session, self.jobs, self)
        self._shared_out = False
        self._make_parts()
        self._lay_out()
        self.actions_by_name = fill_menus(self)
        self._wire()
        self.set_colours(self.preferences.colours)
        self._farm_changed()

    # What the menus do

    def new_farm(self) -> None:
        """Ask for the name and grid of a farm, and start it."""
        from farmmap.window.new_farm_dialog import NewFarmDialog

        dialog = NewFarmDialog(self)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.accepted.connect(lambda: self.files.start_new(*dialog.answers()))
        dialog.open()

    def choose_farm(self) -> None:
        """Ask for a farm file, and open it."""
        dialog = QFileDialog(self, "Open farm", self._folder(), "Farm files (*.gpkg);;All files (*)")
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.fileSelected.connect(lambda name: self.files.open(Path(name)))
        dialog.open()

    def open_farm(self, path: Path) -> None:
        """Open a farm file."""
        self.files.open(path)

    def open_sample(self) -> None:
        """Open the sample farm."""
        self.files.open_sample()

    def close_farm(self) -> None:
        """Close the farm."""
        self.files.close()

    def bring_in(self) -> None:
        """Bring data from a file into the farm."""
        from farmmap.window.bring_dialog import BringDialog

        if self.session.farm is not None and self.session.path is not None:
            _open(BringDialog(self.session, self.jobs, self.files, self))

    def print_map(self) -> None:
        """Print the map, or write it as PDF or picture."""
        from farmmap.window.print_dialog import PrintDialog

        if self.session.farm is not None:
            _open(PrintDialog(self.session, self.jobs, self))

    def whole_farm(self) -> None:
        """Show the whole farm."""
        self.map_view.whole_farm()

    def larger(self) -> None:
        """Come closer."""
        self.map_view.zoom(ZOOM_STEP)

    def smaller(self) -> None:
        """Stand back."""
        self.map_view.zoom(1 / ZOOM_STEP)

    def set_colours(self, choice: str) -> None:
        """Use light or dark colours, or those of the computer."""
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        self.preferences.colours = choice
        self.actions_by_name[f"set_colours:{choice}"].setChecked(True)
        theme = theme_for(app, choice)
        put_on(app, theme)
        self.contents.set_theme(theme.name)

    def explain_figures(self) -> None:
        """Show how every figure is worked out."""
        from farmmap.window.explain_dialog import ExplainDialog

        _open(ExplainDialog(self))

    def show_keys(self) -> None:
        """Show what keys and mouse do."""
        from farmmap.window.explain_dialog import TextDialog

        _open(TextDialog("Keys and mouse", KEYS, self))

    def show_about(self) -> None:
        """Say what this program is, and what a map is not."""
        box = QMessageBox(self)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.setWindowTitle("About farmmap")
        box.setText(f"farmmap {__version__}\nA map of a farm's trees.")
        box.setInformativeText(CAUTION)
        box.open()

    def go_to_find(self) -> None:
        """Put the cursor into the find box."""
        self.find_box.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.find_box.selectAll()

    # How it is put together

    def _make_parts(self) -> None:
        self.farm_name = QLabel()
        font = QFont(self.farm_name.font())
        font.setPointSizeF(font.pointSizeF() * 1.25)
        font.setWeight(QFont.Weight.DemiBold)
        self.farm_name.setFont(font)
        self.farm_name.setTextFormat(Qt.TextFormat.PlainText)
        self.find_box = FindBox(self.session, self.contents, self.jobs)
        self.map_view = MapView(self.session, self.contents, self.jobs)
        self.key_view = KeyView(self.session, self.contents, self.map_view)
        self.date_line = DateLine()
        self.status_line = StatusLine(self.contents)
        self.panels = PanelColumn(self.session, self.jobs)
        self.welcome = Welcome()

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setContentsMargins(12, 8, 10, 8)
        head.addWidget(self.farm_name, 1)
        head.addWidget(self.find_box, 1)
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(head)
        column.addWidget(self.map_view, 1)
        column.addWidget(self.date_line)
        column.addWidget(self.status_line)
        self.splitter = QSplitter(Qt.Orientation.Horizontal)
        self.splitter.addWidget(middle)
        self.splitter.addWidget(self.panels)
        self.splitter.setStretchFactor(0, 62)
        self.splitter.setStretchFactor(1, 38)
        self.splitter.setChildrenCollapsible(False)
        self.stack = QStackedWidget()
        self.stack.addWidget(self.welcome)
        self.stack.addWidget(self.splitter)
        outer = QWidget()
        rows = QVBoxLayout(outer)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(0)
        rows.addWidget(self.stack, 1)
        self.setCentralWidget(outer)
        self.busy_strip = BusyStrip(self.jobs, outer)
        self._give_size()
        for first, second in (
            (self.find_box, self.map_view),
            (self.map_view, self.key_view.fold),
            (self.date_line.later, self.panels),
        ):
            QWidget.setTabOrder(first, second)

    def _give_size(self) -> None:
        screen = self.screen().availableGeometry()
        self.resize(min(1360, screen.width()), min(860, screen.height()))
        self.panels.setMinimumWidth(self.fontMetrics().averageCharWidth() * 46)
        if self.preferences.place is not None:
            self.restoreGeometry(self.preferences.place)

    def _wire(self) -> None:
        self.contents.changed.connect(self.key_view.follow)  # first: the map leaves room for the key
        self.contents.changed.connect(self.map_view.follow_contents)
        self.session.farm_changed.connect(self._farm_changed)
        self.session.date_changed.connect(lambda: self.date_line.show_date(self.session.on))
        self.session.chosen_changed.connect(self._chosen_changed)
        self.date_line.date_chosen.connect(self._date_chosen)
        self.map_view.pointed.connect(self.status_line.point_at)
        self.map_view.picked.connect(self.session.choose)
        self.panels.edit_wanted.connect(self.files.carry_out)
        self.files.opened.connect(self._opened)
        self.jobs.failed.connect(lambda error: tell(self, error))
        self.welcome.new_wanted.connect(self.new_farm)
        self.welcome.open_wanted.connect(self.choose_farm)
        self.welcome.sample_wanted.connect(self.open_sample)
        self.welcome.path_wanted.connect(self.open_farm)
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        app.styleHints().colorSchemeChanged.connect(self._system_colours_changed)

    def load_panels(self) -> None:
        """Find the panels in the background; called once, after the window was first painted."""
        from farmmap.progress import Progress

        def find(_progress: Progress) -> object:
            from farmmap.panels import registry, table_view

            assert table_view  # this and the views are brought in here, so that the window need not wait for them
            found = registry.find_panels()
            for panel in found[0]:
                if panel.view is not None:
                    with contextlib.suppress(Exception):  # told when the panel is shown
                        importlib.import_module(panel.view.partition(":")[0])
            return found

        self.jobs.start("panels", find, lambda found: self.panels.show_panels(*found))

    def _farm_changed(self) -> None:
        farm, days = self.session.farm, self.session.days
        self.stack.setCurrentWidget(self.welcome if farm is None else self.splitter)
        if farm is not None and not self._shared_out:
            self._shared_out = True
            QTimer.singleShot(0, self, self._share_out)
        name = "" if farm is None else farm.settings.name
        self.farm_name.setText(name)
        self.setWindowTitle(f"{name} – farmmap" if name else "farmmap")
        self.find_box.clear()
        if days is not None:
            self.date_line.show_days(days, self.session.on)
        if farm is None:
            self.welcome.show_recent(self.preferences.recent)
        for line, action in self.actions_by_name.items():
            if line in _NEED_FARM:
                action.setEnabled(farm is not None)

    def _chosen_changed(self) -> None:
        if self.session.chosen is not None:
            self.panels.bring_to_front(self.session.chosen.kind)

    def _date_chosen(self, on: dt.date) -> None:
        self.session.set_date(on)

    def _opened(self, path: Path) -> None:
        self.preferences.remember_farm(path)
        self.map_view.setFocus()

    def _system_colours_changed(self) -> None:
        if self.preferences.colours == "system":
            self.set_colours("system")

    def _folder(self) -> str:
        return str(self.session.path.parent) if self.session.path else str(Path.home())

    def _share_out(self) -> None:
        """Share out the width between map and panels when there is one to share for the first time."""
        wide = self.splitter.width()
        self.splitter.setSizes([round(wide * MAP_SHARE), wide - round(wide * MAP_SHARE)])

    def closeEvent(self, event: QCloseEvent) -> None:
        """Wait for the last thread; there is nothing to save."""
        self.preferences.place = self.saveGeometry()
        self.hide()  # what runs in the background may take a moment to stop
        self.jobs.close()
        try:
            self.files.finish()
        except FarmmapError as error:
            QMessageBox.warning(None, "farmmap", str(error))
        super().closeEvent(event)


_NEED_FARM = frozenset(line.does for line in LINES if line.needs_farm)


def _open(dialog: QDialog) -> None:
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.open()
