"""What stands beside the map: the panels, or the box of the tool that is in the hand."""

from __future__ import annotations

from PySide6.QtWidgets import QStackedWidget, QWidget


class Beside(QStackedWidget):
    """Shows the panels unless a tool has put its box in their place.

    Parameters
    ----------
    panels : QWidget
        The panels.
    """

    def __init__(self, panels: QWidget) -> None:
        super().__init__()
        self._panels = panels
        self._box: QWidget | None = None
        self.addWidget(panels)

    def put_in(self, box: QWidget | None) -> None:
        """Show a box in place of the panels, and take the last one away; None shows the panels again."""
        last, self._box = self._box, box
        if box is not None:
            self.addWidget(box)
        self.setCurrentWidget(self._panels if box is None else box)
        if last is not None:
            self.removeWidget(last)
            last.hide()
            last.deleteLater()
