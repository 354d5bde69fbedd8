"""The column of panels at the right of the map, one tab each."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QTabWidget, QWidget

from farmmap.window.edit_queue import Coming, Show
from farmmap.window.jobs import Jobs
from farmmap.window.panel_page import PanelPage, ShutNotice
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.installed_parts import BrokenPart
    from farmmap.panels.registry import Panel


class PanelColumn(QTabWidget):
    """Shows the panels that are installed; what is chosen on the map brings its panel to the front."""

    edit_wanted = Signal(object)

    def __init__(self, session: Session, jobs: Jobs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._jobs = session, jobs
        self.setAccessibleName("Panels")
        self.setUsesScrollButtons(True)
        self.setDocumentMode(False)
        self.currentChanged.connect(self._come_into_sight)

    def show_panels(self, panels: tuple[Panel, ...], broken: tuple[BrokenPart, ...]) -> None:
        """Fill the column; called once."""
        for panel in panels:
            page = PanelPage(panel, self._session, self._jobs)
            page.edit_wanted.connect(self.edit_wanted)
            self.addTab(page, panel.name)
        for shut in broken:
            self.addTab(ShutNotice(shut.name, shut.report), f"{shut.name} (shut)")

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
        """Show the panel whose rows are of a kind: ``block``, ``margin`` or ``tree``."""
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

    def _come_into_sight(self, index: int) -> None:
        page = self.widget(index)
        if isinstance(page, PanelPage):
            page.come_into_sight()
