"""What every panel's view is: a widget that is shown figures and says what was picked in it."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Options, Panel
from farmmap.scene.scene import Chosen


class PanelView(QWidget):
    """Base of the views of panels.

    Parameters
    ----------
    panel : Panel
        The panel that it belongs to.
    parent : QWidget, optional
        Where it is shown.
    """

    picked = Signal(object)
    """A `Chosen` that was picked here."""
    edit_wanted = Signal(object)
    """A `farmmap.farm.edits.Edit`: the only way in which a panel changes the farm."""
    asks_anew = Signal()
    """`asked` returns something else now: the figures are worked out again."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.panel = panel

    def asked(self) -> object:
        """Return what a form of its own asks for, handed to the panel's ``work_out``; a value that can be compared."""
        return None

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show figures that were worked out from a farm; a view of its own kind says how."""

    def let_edit(self, may: bool) -> None:
        """Offer what changes the farm, or do not while the farm may only be looked at."""

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Follow what was chosen on the map."""
