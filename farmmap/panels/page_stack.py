"""Pages in one place, of which only the one in sight asks for room."""

from __future__ import annotations

from PySide6.QtWidgets import QVBoxLayout, QWidget


class PageStack(QWidget):
    """Shows one of its pages.

    Qt's own stack gives every page the height of the longest, so that short
    ones are scrolled past nothing.

    Parameters
    ----------
    pages : QWidget
        The first is in sight.
    """

    def __init__(self, *pages: QWidget) -> None:
        super().__init__()
        self._pages = pages
        self._current = 0
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for place, page in enumerate(pages):
            column.addWidget(page, 1)
            page.setVisible(place == 0)

    def currentIndex(self) -> int:
        """Return the place of the page in sight."""
        return self._current

    def currentWidget(self) -> QWidget:
        """Return the page in sight."""
        return self._pages[self._current]

    def setCurrentIndex(self, place: int) -> None:
        """Bring a page into sight."""
        before, self._current = self._current, place
        if before != place:
            self._pages[before].hide()
            self._pages[place].show()

    def setCurrentWidget(self, page: QWidget) -> None:
        """Bring a page into sight."""
        self.setCurrentIndex(self._pages.index(page))
