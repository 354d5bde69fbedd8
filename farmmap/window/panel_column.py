"""The column of panels at the right of the map, one tab each, all tabs in sight."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QShowEvent
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from farmmap.window.edit_queue import Coming, Show
from farmmap.window.jobs import Jobs
from farmmap.window.panel_page import PanelPage, ShutNotice
from farmmap.window.session import Session
from farmmap.window.tab_rows import TabRows

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.installed_parts import BrokenPart
    from farmmap.panels.registry import Panel


class PanelColumn(QWidget):
    """Shows the panels that are installed; what is chosen on the map brings its panel to the front."""

    edit_wanted = Signal(object)

    def __init__(self, session: Session, jobs: Jobs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._jobs = session, jobs
        self.setAccessibleName("Panels")
        self.comes_after: QWidget | None = None
        """From which Tab goes on to the tabs."""
        self.tabs = TabRows()
        self.tabs.setAccessibleName("Panels")
        self.tabs.chosen.connect(self._chosen)
        self._pages = QStackedWidget()
        self._pages.setProperty("pane", True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.tabs)
        column.addWidget(self._pages, 1)

    def show_panels(self, panels: tuple[Panel, ...], broken: tuple[BrokenPart, ...]) -> None:
        """Fill the column; called once."""
        for panel in panels:
            page = PanelPage(panel, self._session, self._jobs)
            page.edit_wanted.connect(self.edit_wanted)
            self._pages.addWidget(page)
        for shut in broken:
            self._pages.addWidget(ShutNotice(shut.name, shut.report))
        self.tabs.add(*(panel.name for panel in panels), *(f"{shut.name} (shut)" for shut in broken))
        if self.comes_after is not None:
            self.tabs.come_after(self.comes_after)

    def count(self) -> int:
        """Return how many panels there are, those that are shut among them."""
        return self._pages.count()

    def widget(self, place: int) -> QWidget | None:
        """Return the page at a place, None if there is none."""
        return self._pages.widget(place)

    def tabText(self, place: int) -> str:
        """Return the words of a tab."""
        return self.tabs.tabs[place].text()

    def currentIndex(self) -> int:
        """Return the place of the panel in sight, -1 while there is none."""
        return self._pages.currentIndex()

    def currentWidget(self) -> QWidget | None:
        """Return the page in sight."""
        return self._pages.currentWidget()

    def setCurrentIndex(self, place: int) -> None:
        """Bring the panel at a place into sight."""
        self.tabs.choose(place)

    def setCurrentWidget(self, page: QWidget) -> None:
        """Bring a page into sight."""
        self.tabs.choose(self._pages.indexOf(page))

    def page(self, name: str) -> PanelPage:
        """Return the page of the panel of that name.

        Raises
        ------
        KeyError
            There is none.
        """
        for index in range(self.count()):
            page = self.widget(index)
            if isinstance(page, PanelPage) and page.panel.name == name:
                return page
        raise KeyError(name)

    def bring_to_front(self, kind: str) -> None:
        """Show the panel whose rows are of a kind: ``block``, ``margin`` or ``tree``; one that shows it too stays."""
        here = self.currentWidget()
        if isinstance(here, PanelPage) and kind in here.panel.stays_for:
            return
        for index in range(self.count()):
            page = self.widget(index)
            if isinstance(page, PanelPage) and page.panel.rows_are == kind:
                self.setCurrentIndex(index)
                return

    def values(self) -> dict[str, float]:
        """Return what is set in the forms of all panels, by the option's name."""
        pages = [self.widget(index) for index in range(self.count())]
        return {name: value for page in pages if isinstance(page, PanelPage) for name, value in page.values().items()}

    def prepare(self) -> Callable[[Coming], Show] | None:
        """Return what works out the figures of the panel in sight after an edit, see `PanelPage.prepare`."""
        page = self.currentWidget()
        return page.prepare() if isinstance(page, PanelPage) else None

    def showEvent(self, event: QShowEvent) -> None:
        """Catch up with what was changed meanwhile."""
        super().showEvent(event)
        self._come_into_sight(self.currentIndex())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go on to the next panel with Ctrl+Tab, back with Shift besides, from anywhere in one."""
        control = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        step = {Qt.Key.Key_Tab: 1, Qt.Key.Key_Backtab: -1}.get(Qt.Key(event.key()), 0)
        if control and step and self.count():
            self.setCurrentIndex((self.currentIndex() + step) % self.count())
        else:
            super().keyPressEvent(event)

    def _chosen(self, place: int) -> None:
        self._pages.setCurrentIndex(place)
        self._come_into_sight(place)

    def _come_into_sight(self, index: int) -> None:
        page = self.widget(index)
        if isinstance(page, PanelPage):
            page.come_into_sight()
