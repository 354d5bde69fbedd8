"""What the window is looking at: the farm, its file, the date, what is chosen and what is hidden."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
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
    wanted_changed = Signal()
    """Another day is asked for, or the one asked for is shown at last."""
    chosen_changed = Signal()
    hidden_changed = Signal()
    may_edit_changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.farm: Farm | None = None
        self.path: Path | None = None
        self.days: FarmDays | None = None
        self.on: dt.date = dt.datetime.now().astimezone().date()
        """The day that is shown."""
        self.wanted: dt.date = self.on
        """The day that was asked for; another than `on` only while its forecast is worked out."""
        self.chosen: Chosen | None = None
        self.hidden: frozenset[str] = frozenset()
        self.held_by = ""
        """Why the farm may only be looked at, in words; "" if it may be changed."""

    @property
    def may_edit(self) -> bool:
        """Whether there is a farm that may be changed."""
        return self.farm is not None and not self.held_by

    def open_farm(self, farm: Farm, path: Path, days: FarmDays, held_by: str = "") -> None:
        """Look at a farm from its file, on the day of its newest measurement."""
        self.farm, self.path, self.days = farm, path, days
        self.on = self.wanted = days.newest
        self.chosen = None
        self.hidden = frozenset()
        self.held_by = held_by
        self.farm_changed.emit()
        self.may_edit_changed.emit()

    def replace_farm(self, farm: Farm, days: FarmDays, first: Callable[[], None] | None = None) -> None:
        """Look at the same farm after an edit; the date stays, unless it was the newest and there is a newer.

        Parameters
        ----------
        farm : Farm
            The farm after the edit.
        days : FarmDays
            Its days.
        first : callable, optional
            Called before anybody is told of the farm: puts what was worked out for it already in its place.
        """
        wanted = days.newest if self.stands_on_newest else self.wanted
        self.on, self.chosen = after_edit(self, farm, days)
        self.farm, self.days, self.wanted = farm, days, wanted
        if first is not None:
            first()
        self.farm_changed.emit()
        self.wanted_changed.emit()

    def close_farm(self) -> None:
        """Look at no farm."""
        self.farm = self.path = self.days = self.chosen = None
        self.hidden = frozenset()
        self.held_by = ""
        self.farm_changed.emit()
        self.may_edit_changed.emit()

    def only_look(self, why: str) -> None:
        """Let the farm be looked at only, and say why; "" lets it be changed."""
        if why != self.held_by:
            self.held_by = why
            self.may_edit_changed.emit()

    def set_date(self, on: dt.date) -> None:
        """Show everything as it was measured by the end of that day, or as it is forecast for it.

        While it is not known yet how the trees grow, the last day that needs no forecast is shown in its stead.
        """
        if on != self.wanted:
            self.wanted = on
            self._show_wanted()

    def growth_found(self) -> None:
        """Show the day that was asked for, now that its forecast can be had at once."""
        self._show_wanted()

    @property
    def is_waiting(self) -> bool:
        """Whether the day that was asked for waits for its forecast."""
        return self.farm is not None and self.wanted != self.on

    @property
    def stands_on_newest(self) -> bool:
        """Whether the day that was asked for is that of the newest measurement."""
        return self.days is not None and self.wanted == self.days.newest

    def _show_wanted(self) -> None:
        on = self.wanted if self.farm is None or self.days is None else shown_day(self.farm, self.days, self.wanted)
        is_other, self.on = on != self.on, on
        if is_other:
            self.date_changed.emit()
        self.wanted_changed.emit()

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


def after_edit(session: Session, farm: Farm, days: FarmDays) -> tuple[dt.date, Chosen | None]:
    """Return the date and what is chosen once the farm of a session is replaced by another."""
    wanted = days.newest if session.stands_on_newest else session.wanted
    chosen = session.chosen if session.chosen is not None and _is_there(farm, session.chosen) else None
    return shown_day(farm, days, wanted), chosen


def shown_day(farm: Farm, days: FarmDays, wanted: dt.date) -> dt.date:
    """Return the day that is shown when another is asked for: the last without forecast while that cannot be had."""
    if not days.is_forecast(wanted):
        return wanted
    from farmmap.figures.standing_ahead import is_growth_at_hand

    return wanted if is_growth_at_hand(farm) else days.last


def _is_there(farm: Farm, chosen: Chosen) -> bool:
    if chosen.kind == "margin":
        return False  # margins are numbered afresh with every farm
    ids = farm.tables["blocks" if chosen.kind == "block" else "trees"].index.to_numpy()
    place = int(ids.searchsorted(chosen.id))  # ids rise; asking the index would hash a million of them
    return place < len(ids) and bool(ids[place] == chosen.id)
