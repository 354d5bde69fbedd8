"""Tabs in as many rows as their words need, so that all of them can be read at any width."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QSize, Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QButtonGroup, QSizePolicy, QToolButton, QWidget

GAP_PX = 2
"""Kept free between two tabs, and beneath each row. [px]"""
ROUND_WORDS_PX = 18
"""What a tab takes beside its words, its edges among it. [px]"""


class TabRows(QWidget):
    """One tab a page; Tab comes to the one that is chosen, arrow keys go on from there to the others."""

    chosen = Signal(int)
    """Place of the tab that was chosen, by mouse, by keys or by `choose`."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.tabs: list[QToolButton] = []
        self._group = QButtonGroup(self)
        self._group.idToggled.connect(self._toggled)
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    @property
    def current(self) -> int:
        """Place of the tab that is chosen, -1 while there is none."""
        return self._group.checkedId()

    def add(self, *words: str) -> None:
        """Put tabs behind the others, each with its words; the first of all is chosen."""
        for of in words:
            tab = PanelTab(self)
            tab.setText(of)
            tab.setCheckable(True)
            tab.setProperty("tab", True)
            tab.setAccessibleName(of)
            tab.setAccessibleDescription("Panel; arrow keys go to the others")
            self._group.addButton(tab, len(self.tabs))
            self.tabs.append(tab)
            tab.show()
        if self.tabs and self.current < 0:
            self.tabs[0].setChecked(True)
        self._make_one_stop()
        self._lay_out()
        self.updateGeometry()

    def come_after(self, before: QWidget) -> None:
        """Let Tab go from a widget to the tab that is chosen, and from there past the others."""
        for tab in self.tabs:
            tab.setFocusPolicy(Qt.FocusPolicy.TabFocus)  # without it Qt would not put it into its order
            QWidget.setTabOrder(before, tab)
            before = tab
        self._make_one_stop()

    def choose(self, place: int) -> None:
        """Choose a tab by its place."""
        self.tabs[place].setChecked(True)

    def rows(self, width: int) -> list[list[int]]:
        """Return the places of the tabs of each row at a width, as few rows as hold them, filled about evenly."""
        needed = self._needed()
        least = _broken(needed, width)
        if len(least) < 2:
            return least
        longest = max(needed)
        for narrower in range(max(sum(needed) // len(least), longest), width):
            rows = _broken(needed, narrower)
            if len(rows) == len(least):
                return rows
        return least

    def sizeHint(self) -> QSize:
        """Return the room for all tabs in the width that it has."""
        return QSize(sum(self._needed()), self.heightForWidth(self.width()))

    def minimumSizeHint(self) -> QSize:
        """Return room for the longest tab alone."""
        return QSize(max(self._needed(), default=0), self._row_height())

    def hasHeightForWidth(self) -> bool:
        """Narrower is higher."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return how high all rows are."""
        return max(len(self.rows(width)), 1) * self._row_height()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the tabs out over the rows anew."""
        super().resizeEvent(event)
        self._lay_out()

    def changeEvent(self, event: QEvent) -> None:
        """Share the tabs out anew when the type is another."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange):
            self._lay_out()
            self.updateGeometry()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go on along the tabs, or up and down among the rows; the tab that has the keyboard hands its keys on."""
        place = self._after(Qt.Key(event.key()))
        if place is None:
            super().keyPressEvent(event)
            return
        self.choose(place)
        self.tabs[place].setFocus(Qt.FocusReason.TabFocusReason)

    def _after(self, key: Qt.Key) -> int | None:
        """Return the place of the tab that a key goes to, None if it goes to none."""
        here, many = self.current, len(self.tabs)
        if here < 0:
            return None
        along = {
            Qt.Key.Key_Right: (here + 1) % many,
            Qt.Key.Key_Left: (here - 1) % many,
            Qt.Key.Key_Home: 0,
            Qt.Key.Key_End: many - 1,
        }
        step = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}.get(key, 0)
        return self._across(here, step) if step else along.get(key)

    def _across(self, here: int, step: int) -> int | None:
        """Return the tab that lies nearest in the next row down or up, None if there is no such row."""
        rows = self.rows(self.width())
        row = next(number for number, places in enumerate(rows) if here in places) + step
        if not 0 <= row < len(rows):
            return None
        middles = [tab.geometry().center().x() for tab in self.tabs]
        return min(rows[row], key=lambda place: abs(middles[place] - middles[here]))

    def _lay_out(self) -> None:
        needed, high = self._needed(), self._row_height()
        for down, row in enumerate(self.rows(self.width())):
            spare = max(self.width() - sum(needed[place] for place in row), 0)
            left = 0
            for at, place in enumerate(row):
                wide = needed[place] + spare * (at + 1) // len(row) - spare * at // len(row)
                self.tabs[place].setGeometry(left, down * high, wide - GAP_PX, high - GAP_PX)
                left += wide

    def _needed(self) -> list[int]:
        """Width that each tab needs, its words in bold as when it is chosen. [px]."""
        bold = QFont(self.font())
        bold.setWeight(QFont.Weight.DemiBold)
        metrics = QFontMetrics(bold)
        return [metrics.horizontalAdvance(tab.text()) + ROUND_WORDS_PX + GAP_PX for tab in self.tabs]

    def _row_height(self) -> int:
        return self.fontMetrics().height() + 12 + GAP_PX

    def _toggled(self, place: int, on: bool) -> None:
        if on:
            self._make_one_stop()
            self.chosen.emit(place)

    def _make_one_stop(self) -> None:
        for place, tab in enumerate(self.tabs):
            tab.setFocusPolicy(Qt.FocusPolicy.TabFocus if place == self.current else Qt.FocusPolicy.NoFocus)


class PanelTab(QToolButton):
    """A tab that leaves the arrow keys to the rows."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take only what presses a button."""
        if event.key() in (Qt.Key.Key_Space, Qt.Key.Key_Select):
            super().keyPressEvent(event)
        else:
            event.ignore()


def _broken(needed: list[int], width: int) -> list[list[int]]:
    """Fill one row after the other; each takes as many as it holds, at least one."""
    rows: list[list[int]] = []
    left = 0
    for place, wide in enumerate(needed):
        if not rows or wide > left:
            rows.append([])
            left = width
        rows[-1].append(place)
        left -= wide
    return rows
