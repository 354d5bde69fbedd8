"""What is picked on the map: one thing or many, of any table."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QObject, Signal

from farmmap.window.session import Session

Row = tuple[str, int]
"""Table and id of one thing on the farm."""

_KINDS = {"trees": "tree", "blocks": "block"}


class Picks(QObject):
    """Rows that are picked, in the order in which they were; the last one is what the session has chosen.

    What is chosen elsewhere, in a panel or by the find box, is picked alone.
    """

    changed = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._following = False
        self.rows: tuple[Row, ...] = ()
        session.chosen_changed.connect(self._follow)
        session.farm_changed.connect(self._forget_what_is_gone)

    def pick(self, rows: Iterable[Row]) -> None:
        """Pick these rows and no others."""
        rows = tuple(dict.fromkeys(rows))
        if rows == self.rows:
            return
        self.rows = rows
        self._choose_last()
        self.changed.emit()

    def turn(self, row: Row) -> None:
        """Pick a row besides the others, or let go of it if it is picked."""
        self.pick([one for one in self.rows if one != row] if row in self.rows else [*self.rows, row])

    def of(self, table: str) -> list[int]:
        """Return the ids that are picked of one table."""
        return [id_ for name, id_ in self.rows if name == table]

    def tables(self) -> list[str]:
        """Return the tables of which something is picked."""
        return list(dict.fromkeys(name for name, _ in self.rows))

    def _choose_last(self) -> None:
        from farmmap.scene.scene import Chosen

        last = next((row for row in reversed(self.rows) if row[0] in _KINDS), None)
        self._following = True
        try:
            self._session.choose(None if last is None else Chosen(_KINDS[last[0]], last[1]))
        finally:
            self._following = False

    def _follow(self) -> None:
        if self._following:
            return
        chosen = self._session.chosen
        table = next((name for name, kind in _KINDS.items() if chosen is not None and kind == chosen.kind), None)
        self.rows = () if chosen is None or table is None else ((table, chosen.id),)
        self.changed.emit()

    def _forget_what_is_gone(self) -> None:
        farm = self._session.farm
        there: tuple[Row, ...] = ()
        if farm is not None:
            gone: dict[str, set[int]] = {}
            for table in self.tables():
                ids = self.of(table)
                places = farm.tables[table].index.get_indexer(ids)
                gone[table] = {id_ for id_, place in zip(ids, places, strict=True) if place < 0}
            there = tuple(row for row in self.rows if row[1] not in gone[row[0]])
        if there != self.rows:
            self.rows = there
            self.changed.emit()
