"""The main window: the map in the middle, its key on it, panels beside it, the date line beneath."""

from __future__ import annotations

import contextlib
import importlib
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QApplication, QMainWindow, QStackedWidget, QVBoxLayout, QWidget

from farmmap.errors import FarmFileError, FarmmapError
from farmmap.window.menus import KEYS, enable_lines, fill_menus
from farmmap.window.preferences import Preferences
from farmmap.window.theme import first_theme, put_on, theme_for
from farmmap.window.welcome import Welcome

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from PySide6.QtGui import QCloseEvent, QPaintEvent
    from PySide6.QtWidgets import QDialog

    from farmmap.installed_parts import BrokenPart
    from farmmap.panels.registry import Panel
    from farmmap.window.theme import Theme

ROUND_FOUND_MM = 25.0
"""How much of the map is left on each side of what was found. [mm]"""
MAP_SHARE = 0.6
"""How much of the width the map gets at first."""
VIEWS_AFTER_MS = 2_000
"""How long after the first panel those behind it are made ready, so that they do not hold up a farm. [ms]"""


class FarmWindow(QMainWindow):
    """One farm on the screen.

    It is painted first with little in it, and as few of Qt's names as can be;
    `furnish` then brings in the map and all that goes with it.

    Parameters
    ----------
    preferences : Preferences, optional
        What is remembered from one day to the next.
    opening : Path, optional
        Farm file that will be opened at once; its name stands in the window until then.
    """

    first_painted = Signal()
    """The window stands on the screen for the first time."""

    def __init__(self, preferences: Preferences | None = None, opening: Path | None = None) -> None:
        super().__init__()
        self.preferences = preferences or Preferences()
        self._painted = self._began = self._furnished = self._shared_out = False
        self._theme: Theme | None = None
        self.welcome = Welcome()
        self.stack = QStackedWidget()
        self.stack.addWidget(self.welcome)
        self._outer = QWidget()
        rows = QVBoxLayout(self._outer)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.addWidget(self.stack)
        self.setCentralWidget(self._outer)
        self.actions_by_name = fill_menus(self)
        self._give_size()
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        self._put_on(app, first_theme(app, self.preferences.colours))
        self.setWindowTitle("farmmap")
        self.welcome.show_recent(self.preferences.remembered)
        self.welcome.show_opening(opening)

    # What the menus do

    def new_farm(self) -> None:
        """Ask for the name and grid of a farm, and start it."""
        from farmmap.window.new_farm_dialog import NewFarmDialog

        dialog = NewFarmDialog(self)
        dialog.accepted.connect(lambda: self.files.start_new(*dialog.answers()))
        _open(dialog)

    def choose_farm(self) -> None:
        """Ask for a farm file, and open it."""
        from PySide6.QtWidgets import QFileDialog

        dialog = QFileDialog(self, "Open farm", self._folder(), "Farm files (*.gpkg);;All files (*)")
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.fileSelected.connect(lambda name: self.files.open(Path(name)))
        _open(dialog)

    def open_farm(self, path: Path) -> None:
        """Open a farm file."""
        self._begin()
        self.files.open(path)  # it is read while the window is furnished
        self.furnish()

    def open_sample(self) -> None:
        """Open the sample farm."""
        self.furnish()
        self.files.open_sample()

    def open_again(self) -> None:
        """Read the farm's file again, and take hold of it if nobody else has it any more."""
        if self.session.path is not None:
            self.files.open(self.session.path)

    def close_farm(self) -> None:
        """Close the farm."""
        self.files.close()

    def bring_in(self) -> None:
        """Bring data from a file into the farm."""
        from farmmap.window.bring_dialog import BringDialog

        if self.session.farm is not None and self.session.path is not None:
            _open(BringDialog(self.session, self.jobs, self.files, self))

    def show_copies(self) -> None:
        """Show the dated copies of the farm that is open, to go back to one."""
        if self.session.path is not None:
            self.copies_of(self.session.path)

    def copies_of(self, path: Path) -> None:
        """Show the dated copies of a farm file, to go back to one."""
        from farmmap.window.copies_dialog import CopiesDialog
        from farmmap.window.farm_files import copies_folder

        self.furnish()
        may_change = self.session.may_edit or self.session.path != path
        dialog = CopiesDialog(path, copies_folder(), self.jobs, may_change=may_change, parent=self)
        dialog.wanted.connect(lambda copy: self.files.go_back(path, copy))
        _open(dialog)

    def undo(self) -> None:
        """Take back what was done last."""
        self.files.undo()

    def redo(self) -> None:
        """Do again what was taken back last."""
        self.files.redo()

    def show_history(self) -> None:
        """Show everything that was done since the farm was opened, to take it back to some point."""
        from farmmap.window.undo_dialog import UndoDialog

        _open(UndoDialog(self.files, self))

    def print_map(self, what: str = "sheet") -> None:
        """Compose a sheet, or the application pack, to print it or write it into a file."""
        from farmmap.window.printing.opening import printing_dialog

        if self.session.farm is not None:
            _open(printing_dialog(what, self.session, self.jobs, self.files, self))

    def change_fields(self) -> None:
        """Change fields of what is picked on the map."""
        self.bench.change_fields()

    def take_away_picked(self) -> None:
        """Show what would go with what is picked on the map, and take it away once that was answered."""
        self.bench.ask_to_take_away()

    def show_backdrops(self) -> None:
        """Show what lies under the map, to add to it or take out of it."""
        from farmmap.window.backdrop_dialog import BackdropDialog

        if self.session.farm is not None:
            _open(BackdropDialog(self.session, self.contents, self.files, self.jobs, self))

    def show_photos(self) -> None:
        """Show the photo points and their photographs."""
        from farmmap.window.photos_dialog import PhotosDialog

        _open(PhotosDialog(self.session, self.files, self.jobs, self))

    def whole_farm(self) -> None:
        """Show the whole farm."""
        self.map_view.whole_farm()

    def larger(self) -> None:
        """Come closer."""
        from farmmap.window.map_view import ZOOM_STEP

        self.map_view.zoom(ZOOM_STEP)

    def smaller(self) -> None:
        """Stand back."""
        from farmmap.window.map_view import ZOOM_STEP

        self.map_view.zoom(1 / ZOOM_STEP)

    def set_colours(self, choice: str) -> None:
        """Use light or dark colours, or those of the computer."""
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        self.preferences.colours = choice
        self._put_on(app, theme_for(app, choice))

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
        from farmmap.window.about_box import about_box

        _open(about_box(self))

    def go_to_find(self) -> None:
        """Put the cursor into the find box."""
        from PySide6.QtCore import Qt

        self.find_box.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.find_box.selectAll()

    # How it is put together

    def paintEvent(self, event: QPaintEvent) -> None:
        """Tell when it was painted for the first time."""
        super().paintEvent(event)
        if not self._painted:
            self._painted = True
            QTimer.singleShot(0, self, self.first_painted.emit)

    def furnish(self) -> None:
        """Bring in the map and all that goes with it, unless they are there; called after the first paint."""
        if self._furnished:
            return
        self._begin()
        self._furnished = True
        self._make_parts()
        self._lay_out()
        self._wire()
        self.set_colours(self.preferences.colours)
        self._farm_changed()

    def _begin(self) -> None:
        """Make what reads farms, unless it is there."""
        if self._began:
            return
        from farmmap.window.farm_files import FarmFiles
        from farmmap.window.jobs import Jobs
        from farmmap.window.session import Session

        self._began = True
        self.session = Session(self)
        self.jobs = Jobs(self)
        self.files = FarmFiles(self.session, self.jobs, self)

    def _put_on(self, app: QApplication, theme: Theme) -> None:
        self.actions_by_name[f"set_colours:{self.preferences.colours}"].setChecked(True)
        if theme is not self._theme:
            self._theme = theme
            put_on(app, theme)
        if self._furnished:
            self.contents.set_theme(theme.name)

    def _make_parts(self) -> None:
        from farmmap.window.backdrops import MapBackdrops
        from farmmap.window.date_line import DateLine
        from farmmap.window.farm_heading import farm_heading
        from farmmap.window.find_box import FindBox
        from farmmap.window.forecasts import Forecasts
        from farmmap.window.holding_band import HoldingBand
        from farmmap.window.key_view import KeyView
        from farmmap.window.map_contents import MapContents
        from farmmap.window.map_view import MapView
        from farmmap.window.panel_column import PanelColumn
        from farmmap.window.status_line import StatusLine
        from farmmap.window.tool_parts import tool_parts
        from farmmap.window.undo_line import UndoLine

        self.contents = MapContents(self.session, self.jobs, self)
        self.farm_name = farm_heading()
        self.find_box = FindBox(self.session, self.contents, self.jobs)
        self.undo_line = UndoLine(self.session, self.files)
        self.map_view = MapView(self.session, self.contents, self.jobs)
        self.backdrops = MapBackdrops(self.session, self.jobs, self)
        self.map_view.lay_on(self.backdrops)
        self.key_view = KeyView(self.session, self.contents, self.map_view)
        self.holding_band = HoldingBand(self.session)
        self.date_line = DateLine()
        self.forecasts = Forecasts(self.session, self.jobs, self)
        self.status_line = StatusLine(self.contents)
        self.panels = PanelColumn(self.session, self.jobs)
        self.bench, self.tool_row, self.note_strip = tool_parts(self)

    def _lay_out(self) -> None:
        from PySide6.QtCore import Qt
        from PySide6.QtWidgets import QHBoxLayout, QSplitter

        from farmmap.window.beside import Beside
        from farmmap.window.busy_strip import BusyStrip

        head = QHBoxLayout()
        head.setContentsMargins(12, 8, 10, 8)
        head.addWidget(self.farm_name)
        head.addSpacing(16)
        head.addWidget(self.find_box, 2)
        head.addWidget(self.undo_line, 3)
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(head)
        column.addWidget(self.holding_band)
        column.addWidget(self.tool_row)
        column.addWidget(self.map_view, 1)
        column.addWidget(self.note_strip)
        column.addWidget(self.date_line)
        column.addWidget(self.status_line)
        self.splitter = QSplitter(Qt.Orientation.Horizontal)
        self.splitter.addWidget(middle)
        self.bench.beside = Beside(self.panels)
        self.splitter.addWidget(self.bench.beside)
        self.splitter.setStretchFactor(0, 62)
        self.splitter.setStretchFactor(1, 38)
        self.splitter.setChildrenCollapsible(False)
        self.panels.setMinimumWidth(self.fontMetrics().averageCharWidth() * 46)
        self.stack.addWidget(self.splitter)
        self.busy_strip = BusyStrip(self.jobs, self._outer)
        for first, second in (
            (self.find_box, self.undo_line.undo_button),
            (self.undo_line.redo_button, self.map_view),
            (self.map_view, self.key_view.fold),
        ):
            QWidget.setTabOrder(first, second)
        self.panels.comes_after = self.date_line.later

    def _give_size(self) -> None:
        screen = self.screen().availableGeometry()
        self.resize(min(1360, screen.width()), min(860, screen.height()))
        if self.preferences.place is not None:
            self.restoreGeometry(self.preferences.place)

    def _wire(self) -> None:
        self.contents.changed.connect(self.key_view.follow)  # first: the map leaves room for the key
        self.contents.changed.connect(self.map_view.follow_contents)
        self.session.farm_changed.connect(self._farm_changed)
        self.session.may_edit_changed.connect(self._enable_lines)
        self.session.wanted_changed.connect(self._show_wanted)
        self.session.chosen_changed.connect(self._chosen_changed)
        self.find_box.found.connect(lambda bounds: self.map_view.show_ground(bounds, ROUND_FOUND_MM))
        self.date_line.date_chosen.connect(self.session.set_date)
        self.map_view.pointed.connect(self.status_line.point_at)
        self.map_view.picked.connect(self.session.choose)
        self.map_view.painted.connect(self.files.keep_copy)
        self.backdrops.found.connect(self.contents.lay_on)
        self.backdrops.arrived.connect(self.map_view.paint_again)
        self.backdrops.trouble.connect(self.holding_band.show_notice)
        self.panels.edit_wanted.connect(self.files.carry_out)
        self.holding_band.again_wanted.connect(self.open_again)
        self.files.prepare_by(self.contents.prepare)
        self.files.prepare_by(self.panels.prepare)
        self.files.carry_figures_for(self.panels.values)
        self.files.opened.connect(self._opened)
        self.files.not_opened.connect(self._not_opened)
        self.files.no_copy.connect(self.holding_band.show_trouble)
        self.files.history_changed.connect(self._enable_lines)
        self.jobs.failed.connect(self._tell)
        self.welcome.new_wanted.connect(self.new_farm)
        self.welcome.open_wanted.connect(self.choose_farm)
        self.welcome.sample_wanted.connect(self.open_sample)
        self.welcome.path_wanted.connect(self.open_farm)
        self.welcome.copies_wanted.connect(self.copies_of)
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        app.styleHints().colorSchemeChanged.connect(self._system_colours_changed)

    def load_panels(self) -> None:
        """Find panels and tools in the background; called once, after the window was first painted."""
        from farmmap.progress import Progress

        self.furnish()

        def find(_progress: Progress) -> object:
            from farmmap.panels import registry, table_view

            assert table_view  # this and the views are brought in here, so that the window need not wait for them
            found = registry.find_panels()
            _bring_in_views(found[0][:1])
            return found

        self.jobs.start("panels", find, lambda found: self._show_panels(*found))
        self.tool_row.find_tools(self.jobs)

    def _show_panels(self, panels: tuple[Panel, ...], broken: tuple[BrokenPart, ...]) -> None:
        """Show the panels; the views of those behind are brought in when a farm that is being opened stands there."""
        self.panels.show_panels(panels, broken)

        def bring_in() -> None:
            self.jobs.start("views", lambda _progress: _bring_in_views(panels[1:]), lambda _answer: None)

        QTimer.singleShot(VIEWS_AFTER_MS, self, bring_in)

    def _farm_changed(self) -> None:
        farm, days = self.session.farm, self.session.days
        self.stack.setCurrentWidget(self.welcome if farm is None else self.splitter)
        if farm is not None and not self._shared_out:
            self._shared_out = True
            QTimer.singleShot(0, self, self._share_out)
        name = "" if farm is None else farm.settings.name
        self.farm_name.setText(name)
        self.setWindowTitle(f"{name} – farmmap" if name else "farmmap")
        if days is not None:
            self.date_line.show_days(days, self.session.wanted)
        if farm is None:
            self.welcome.show_recent(self.preferences.remembered)
        self._enable_lines()

    def _show_wanted(self) -> None:
        self.date_line.show_date(self.session.wanted, is_coming=self.session.is_waiting)

    def _enable_lines(self) -> None:
        enable_lines(self.actions_by_name, self.session, self.files)

    def _chosen_changed(self) -> None:
        if self.session.chosen is not None:
            self.panels.bring_to_front(self.session.chosen.kind)

    def _opened(self, path: Path) -> None:
        self.preferences.remember_farm(path)
        self.find_box.clear()
        self.map_view.setFocus()

    def _tell(self, error: BaseException) -> None:
        from farmmap.window.edit_queue import NotWritten
        from farmmap.window.messages import tell
        from farmmap.window.trouble import tell_not_written

        if isinstance(error, NotWritten):
            tell_not_written(self, error)
        else:
            tell(self, error)

    def _not_opened(self, path: Path, error: BaseException) -> None:
        from farmmap.window.trouble import tell_not_opened

        self.welcome.show_opening(None)
        if isinstance(error, FarmFileError):
            tell_not_opened(self, path, error)
        else:
            self._tell(error)

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
        if self._began:
            if self._furnished:
                self.bench.finish()
            self.jobs.close()
            try:
                self.files.finish()
            except FarmmapError as error:
                from PySide6.QtWidgets import QMessageBox

                QMessageBox.warning(None, "farmmap", str(error))
        super().closeEvent(event)


def _bring_in_views(panels: tuple[Panel, ...]) -> None:
    """Load what shows panels, in the background."""
    for panel in panels:
        if panel.view is not None:
            with contextlib.suppress(Exception):  # told when the panel is shown
                importlib.import_module(panel.view.partition(":")[0])


def _open(dialog: QDialog) -> None:
    from PySide6.QtCore import Qt

    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.open()
