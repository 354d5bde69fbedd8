"""One panel in the window: its form, its view, and shutting it when it fails."""

from __future__ import annotations

import importlib
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QDoubleSpinBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from farmmap.farm.day_words import in_words
from farmmap.window.edit_queue import Coming, Show
from farmmap.window.jobs import Jobs
from farmmap.window.messages import report_of, show_report
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.farm.farm import Farm
    from farmmap.figures.result import FigureTable
    from farmmap.panels.panel_view import PanelView
    from farmmap.panels.registry import Option, Options, Panel

GREY_AFTER_MS = 250
"""How long figures may be behind before they are greyed. [ms]"""
QUICK_S = 0.008
"""How long a panel may have taken after the last edit to be worked out before the next is shown. [s]"""


class PanelPage(QWidget):
    """Works a panel out in the background while it is in sight, and shows its figures."""

    shown_figures = Signal()
    """New figures stand in the panel."""
    edit_wanted = Signal(object)

    def __init__(self, panel: Panel, session: Session, jobs: Jobs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.panel, self._session, self._jobs = panel, session, jobs
        self.view: PanelView | None = None
        self.fields: dict[str, QDoubleSpinBox] = {}
        self._behind = True
        self._chosen_behind = False
        self._form_of: Farm | None = None
        self._asked: tuple[Farm, Options] | None = None
        self._ahead: _Figures | None = None
        self._is_quick = True
        self._failed = False
        self._notice: ShutNotice | None = None
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self._form = QWidget()
        self._form_row = QHBoxLayout(self._form)
        self._form_row.setContentsMargins(8, 6, 8, 0)
        self._form.setVisible(False)
        self.column.addWidget(self._form)
        self._scroll = QScrollArea()
        self._scroll.setViewport(QWidget())  # Qt's own, asked for, makes PySide6 look through all of its classes
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.column.addWidget(self._scroll, 1)
        self._grey = QTimer(self)
        self._grey.setSingleShot(True)
        self._grey.setInterval(GREY_AFTER_MS)
        self._grey.timeout.connect(lambda: self._dim(True))
        session.farm_changed.connect(self._farm_changed)
        session.date_changed.connect(self._mark_behind)
        session.chosen_changed.connect(self._chosen_changed)
        session.may_edit_changed.connect(self._let_edit)
        if session.farm is not None:  # opened before the panels were found
            self._farm_changed()

    @property
    def is_up_to_date(self) -> bool:
        """Whether the figures are those of the farm and the date that the window shows."""
        return not self._behind and not self._jobs.is_busy(self._key)

    def come_into_sight(self) -> None:
        """Load the view if this is the first time, and catch up."""
        if self._failed:
            return
        if self.view is None:
            self._load_view()
        if self._behind:
            self._work_out()
        elif self._chosen_behind:
            self._safely(lambda view: view.show_chosen(self._session.chosen))
        self._chosen_behind = False

    def prepare(self) -> Callable[[Coming], Show] | None:
        """Return what works the figures out after an edit, so that they are shown together with the map.

        None if the panel is not in sight, is behind already, or took long the last time: then its figures follow.
        """
        is_quick = self._is_quick and not self.panel.takes_long
        if self.view is None or self._failed or self._behind or not is_quick or not self.isVisible():
            return None
        values, folder, asked = self.values(), self._folder(), self.view.asked()
        work_out = self.panel.work_out

        def work(coming: Coming) -> Show:
            from farmmap.panels.registry import Options

            options = Options(coming.on, coming.chosen, values, folder, asked)
            began = time.perf_counter()
            try:
                figures = _Figures(coming.farm, options, work_out(coming.farm, options))
            except Exception:  # noqa: BLE001 - worked out again as always, where a panel that fails is shut
                return _nothing
            took = time.perf_counter() - began
            return lambda: self._have_ahead(figures, took)

        return work

    def _have_ahead(self, figures: _Figures, took: float) -> None:
        self._ahead = figures
        self._is_quick = took <= QUICK_S

    def values(self) -> dict[str, float]:
        """Return what is set in the form, by the option's name."""
        return {name: field.value() for name, field in self.fields.items()}

    def _folder(self) -> Path | None:
        return None if self._session.path is None else self._session.path.parent

    @property
    def _key(self) -> str:
        return f"panel {self.panel.name}"

    def _load_view(self) -> None:
        from farmmap.panels.table_view import FigureTableView

        try:
            view_class: type[PanelView] = FigureTableView
            if self.panel.view is not None:
                module, _, name = self.panel.view.partition(":")
                view_class = getattr(importlib.import_module(module), name)
            view = view_class(self.panel, self)
        except Exception as error:  # noqa: BLE001 - somebody else's panel may fail in any way; the window goes on
            self._shut(error)
            return
        view.picked.connect(self._session.choose)
        view.edit_wanted.connect(self.edit_wanted)
        view.asks_anew.connect(self._mark_behind)
        self._scroll.setWidget(view)
        view.setAutoFillBackground(False)  # the tab's own ground shows through
        self._scroll.setVisible(True)
        self.view = view
        self._let_edit()

    def _let_edit(self) -> None:
        may = self._session.may_edit
        self._safely(lambda view: view.let_edit(may))

    def _farm_changed(self) -> None:
        farm = self._form_of = self._session.farm
        if farm is not None and len(self.fields) != len(self.panel.options):
            for option in self.panel.options:
                self._add_field(option, option.start(farm))
            self._form_row.addStretch(1)
            self._form.setVisible(bool(self.fields))
        self._mark_behind()

    def _add_field(self, option: Option, value: float) -> None:
        label = QLabel(option.words)
        field = QDoubleSpinBox()
        field.setRange(option.least, option.most)
        field.setSingleStep(option.step)
        field.setDecimals(0 if option.step == int(option.step) else 1)
        field.setSuffix(f" {option.unit}" if option.unit else "")
        field.setValue(value)
        field.setAccessibleName(option.words)
        field.setKeyboardTracking(False)
        field.valueChanged.connect(self._mark_behind)
        label.setBuddy(field)
        self._form_row.addWidget(label)
        self._form_row.addWidget(field)
        self.fields[option.name] = field

    def _chosen_changed(self) -> None:
        if self.panel.follows_choice:
            self._mark_behind()
        elif self.isVisible():
            self._safely(lambda view: view.show_chosen(self._session.chosen))
        else:
            self._chosen_behind = True

    def _mark_behind(self) -> None:
        self._behind = True
        if self.isVisible():
            self.come_into_sight()

    def _work_out(self) -> None:
        from farmmap.panels.registry import Options

        farm, ahead = self._session.farm, self._ahead
        self._ahead = None
        if farm is None or self.view is None or farm is not self._form_of:  # told of the farm in a moment
            return
        asked = self.view.asked()
        options = Options(self._session.on, self._session.chosen, self.values(), self._folder(), asked)
        self._behind = False
        if ahead is not None and ahead.farm is farm and ahead.options == options:
            self._jobs.stop(self._key)
            self._asked = (farm, ahead.options)
            self._take(ahead)
            return
        work_out = self.panel.work_out
        self._asked = (farm, options)
        self._grey.start()
        self._jobs.start(
            self._key,
            lambda _progress: _Figures(farm, options, work_out(farm, options)),
            self._take,
            self._shut_in_background,
            words=f"Working out “{self.panel.name}”" if self.panel.takes_long else "",
            stopped=lambda: self._stopped(options),
        )

    def _take(self, figures: _Figures) -> None:
        farm, options, table = figures.farm, figures.options, figures.table
        if farm is not self._session.farm:
            return
        if self._asked is None or self._asked[1] is options:
            self._grey.stop()
            self._dim(False)
        self._safely(lambda view: view.show_figures(farm, options, table))
        if options.chosen != self._session.chosen:
            self._safely(lambda view: view.show_chosen(self._session.chosen))
        self.setAccessibleDescription(f"as at {in_words(options.on)}")
        self.shown_figures.emit()

    def _stopped(self, options: Options) -> None:
        """Leave what is shown as it is; coming back to the panel begins anew."""
        if self._asked is not None and self._asked[1] is options:
            self._grey.stop()
            self._dim(False)
            self._behind = True

    def _dim(self, dimmed: bool) -> None:
        if self.view is not None:
            self.view.setEnabled(not dimmed)

    def _safely(self, do: Callable[[PanelView], None]) -> None:
        if self.view is None:
            return
        try:
            do(self.view)
        except Exception as error:  # noqa: BLE001 - somebody else's panel may fail in any way; the window goes on
            self._shut(error)

    def _shut_in_background(self, error: BaseException) -> None:
        if self._asked is not None and self._asked[0] is self._session.farm:
            self._shut(error)

    def _shut(self, error: BaseException) -> None:
        self._grey.stop()
        if self.view is not None:
            self._scroll.takeWidget()
            self.view.deleteLater()
            self.view = None
        self._scroll.setVisible(False)
        self._form.setVisible(False)
        self._failed = True
        self._notice = ShutNotice(self.panel.name, report_of(error), self._try_again)
        self.column.addWidget(self._notice, 1)

    def _try_again(self) -> None:
        if self._notice is not None:
            self._notice.setParent(None)
            self._notice.deleteLater()
            self._notice = None
        self._failed, self._behind = False, True
        self._form.setVisible(bool(self.fields))
        self.come_into_sight()


@dataclass(frozen=True, eq=False)
class _Figures:
    """What a panel worked out, and from what."""

    farm: Farm
    options: Options
    table: FigureTable


def _nothing() -> None:
    """Show nothing yet."""


class ShutNotice(QWidget):
    """What stands in place of a panel that failed."""

    def __init__(self, name: str, report: str, try_again: Callable[[], None] | None = None) -> None:
        super().__init__()
        self.report = report
        words = QLabel(f"“{name}” ran into trouble and was shut. The map and the other panels go on.")
        words.setWordWrap(True)
        self.show_button = QPushButton("Show the report…")
        self.show_button.clicked.connect(
            lambda: show_report(self, f"“{name}” ran into trouble and was shut.", self.report)
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 16, 16, 16)
        column.addWidget(words)
        column.addWidget(self.show_button, 0, Qt.AlignmentFlag.AlignLeft)
        self.again_button: QPushButton | None = None
        if try_again is not None:
            self.again_button = QPushButton("Try again")
            self.again_button.clicked.connect(try_again)
            column.addWidget(self.again_button, 0, Qt.AlignmentFlag.AlignLeft)
        column.addStretch(1)
