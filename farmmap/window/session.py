"""What the window is looking at: the farm, its file, the date, what is chosen and what is hidden."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.farm.farm import Farm
    from farmmap.scene.scene import Chosen
    from farmmap.window.farm_days import FarmDays


class Session(QObject):
    """One farm at one date; everything in the window reads it and is told when it changes.

    The farm is a value, so whoever works in the background keeps the one that
    the work began with and compares it with `farm` when the answer comes.
    """

    farm_changed = Signal()
    date_changed = Signal()
    chosen_changed = Signal()
    hidden_changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.farm: Farm | None = None
        self.path: Path | None = None
        self.days: FarmDays | None = None
        self.on: dt.date = dt.datetime.now().astimezone().date()
        self.chosen: Chosen | None = None
        self.hidden: frozenset[str] = frozenset()

    def open_farm(self, farm: Farm, path: Path, days: FarmDays) -> None:
        """Look at a farm from its file, on the day of its newest measurement."""
        self.farm, self.path, self.days = farm, path, days
        self.on = days.newest
        self.chosen = None
        self.hidden = frozenset()
        self.farm_changed.emit()

    def replace_farm(self, farm: Farm, days: FarmDays) -> None:
        """Look at the same farm after an edit; the date stays, unless it was the newest and there is a newer."""
        if self.days is not None and self.on == self.days.newest:
            self.on = days.newest
        self.farm, self.days = farm, days
        if self.chosen is not None and not _is_there(farm, self.chosen):
            self.chosen = None
        self.farm_changed.emit()

    def close_farm(self) -> None:
        """Look at no farm."""
        self.farm = self.path = self.days = self.chosen = None
        self.hidden = frozenset()
        self.farm_changed.emit()

    def set_date(self, on: dt.date) -> None:
        """Show everything as it was measured by the end of that day."""
        if on != self.on:
            self.on = on
            self.date_changed.emit()

    def choose(self, chosen: Chosen | None) -> None:
        """Choose a block, margin or tree, or nothing."""
        if chosen != self.chosen:
            self.chosen = chosen
            self.chosen_changed.emit()

    def show_layer(self, layer: str, shown: bool) -> None:
        """Show or hide a layer of the map, or with ``species:CODE`` the trees of one species."""
        hidden = self.hidden - {layer} if shown else self.hidden | {layer}
        if hidden != self.hidden:
            self.hidden = hidden
            self.hidden_changed.emit()


def _is_there(farm: Farm, chosen: Chosen) -> bool:
    if chosen.kind == "margin":
        return False  # margins are numbered afresh with every farm
    return chosen.id in farm.tables["blocks" if chosen.kind == "block" else "trees"].index
