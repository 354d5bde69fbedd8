"""Picking things on the map, one or many, and taking away what is picked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QApplication

from farmmap.errors import FarmmapError
from farmmap.farm.edits import Edit
from farmmap.scene.scene import Chosen
from farmmap.window.map_tool import MapTool
from farmmap.window.map_view import NEAR_MM
from farmmap.window.tools.bench import Bench
from farmmap.window.tools.cautions import what_stays
from farmmap.window.tools.note_strip import Answer
from farmmap.window.tools.picks import Row
from farmmap.window.tools.rows_on_map import MARGINS, next_of, rows_at, rows_within, words_of
from farmmap.window.tools.sentences import sentence, words_of_error

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm


class PickTool(MapTool):
    """Picks what is clicked; with Shift many; with Delete takes away what is picked, once it was shown what goes."""

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        self._from: QPointF | None = None
        self._to: QPointF | None = None
        self._told: tuple[Farm, tuple[Row, ...], str] | None = None
        self._question = ""
        self._asked_for: tuple[Row, ...] = ()

    @property
    def _asked(self) -> str:
        """What was asked about the rows that are picked, "" if nothing was, or if others are picked by now."""
        return self._question if self._asked_for == self.bench.picks.rows else ""

    @_asked.setter
    def _asked(self, words: str) -> None:
        self._question, self._asked_for = words, self.bench.picks.rows

    def words(self) -> str:
        """Return what is picked, and what may be done with it."""
        rows, farm = self.bench.picks.rows, self.bench.farm
        if farm is None:
            return ""
        if self._asked:
            return f"{self._asked} Enter takes away, Escape keeps."
        if not rows and self.bench.why_not():
            return "This farm can be looked at and measured here, not changed."
        if not rows:
            return "Click picks a tree, block, creek or fence; Shift and click picks more, Shift and drag a rectangle."
        if self._told is None or self._told[0] is not farm or self._told[1] is not rows:
            words = words_of(farm, rows)
            verb = "is" if len(rows) == 1 else "are"
            self._told = farm, rows, f"{words[:1].upper()}{words[1:]} {verb} picked."
        return f"{self._told[2]} Shift and click picks more; Escape lets go."

    def answers(self) -> tuple[Answer, ...]:
        """Return the buttons for what is picked."""
        if self._asked:
            return (("Take away", self.take_away), ("Keep", self.keep))
        if not self.bench.picks.rows or self.bench.why_not():
            return ()
        return (("Change fields…", self.bench.change_fields), ("Take away…", self.ask))

    def end(self) -> None:
        """Ask no longer."""
        self._asked = ""

    def farm_changed(self) -> None:
        """Ask no longer: what goes may be different now."""
        self._asked = ""

    # Events

    def pressed(self, event: QMouseEvent) -> bool:
        """Begin a rectangle when Shift is held."""
        self._asked = ""
        if not event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            return False
        self._from = self._to = event.position()
        return True

    def dragged(self, event: QMouseEvent) -> None:
        """Draw the rectangle out."""
        self._to = event.position()
        self.bench.map_view.update()

    def released(self, event: QMouseEvent) -> None:
        """Pick all in the rectangle besides what is picked; without a drag, the one thing under the pointer."""
        start, self._from, self._to = self._from, None, None
        self.bench.map_view.update()
        now = self.bench.contents.now
        if start is None or now is None or now.farm is not self.bench.farm:
            return
        if (event.position() - start).manhattanLength() < QApplication.startDragDistance():
            self._pick(event.position(), more=True)
            return
        one, other = self.bench.map_view.ground_at(start), self.bench.map_view.ground_at(event.position())
        assert one is not None
        assert other is not None
        west, east = sorted((one[0], other[0]))
        south, north = sorted((one[1], other[1]))
        self.bench.picks.pick([*self.bench.picks.rows, *rows_within(now, west, south, east, north)])

    def clicked(self, event: QMouseEvent) -> bool:
        """Pick what is under the pointer; again: what lies beneath it."""
        self._pick(event.position(), more=False)
        return True

    def key_pressed(self, event: QKeyEvent) -> bool:
        """Pick what is in the middle with Enter; take away with Delete; let go with Escape."""
        key = event.key()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self._asked:
                self.take_away()
            else:
                shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
                self._pick(self.bench.room().center(), more=shift)
            return True
        if key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            if self._asked:
                self.take_away()
            else:
                self.ask()
            return True
        if key == Qt.Key.Key_Escape:
            if self._asked:
                self.keep()
            elif self.bench.picks.rows:
                self.bench.picks.pick([])
            else:
                return False
            return True
        return False

    def paint(self, painter: QPainter) -> None:
        """Paint the rectangle."""
        if self._from is None or self._to is None or self.bench.contents.now is None:
            return
        inks = self.bench.inks()
        ground = QColor(inks.stroke)
        ground.setAlphaF(0.15)
        painter.setBrush(ground)
        painter.setPen(QPen(inks.stroke, 1.5, Qt.PenStyle.DashLine))
        painter.drawRect(QRectF(self._from, self._to).normalized())

    # Taking away

    def ask(self) -> None:
        """Say what would go."""
        why, farm, rows = self.bench.why_not(), self.bench.farm, self.bench.picks.rows
        if why or farm is None:
            self.bench.strip.note(why, warning=True)
        elif not rows:
            self.bench.strip.note("Nothing is picked; click what is to be taken away first.")
        else:
            try:
                proposed = removed(farm, rows)
            except FarmmapError as error:
                self.bench.strip.note(words_of_error(error), warning=True)
            else:
                now = self.bench.contents.now
                stays = "" if now is None else what_stays(farm, now.standing, rows)
                notes = [stays] * bool(stays) + [sentence(note) for note in proposed.notes]
                self._asked = " ".join([f"Take away {words_of(farm, rows)}?", *notes])
        self.bench.guide()

    def take_away(self) -> None:
        """Take away what is picked."""
        self._asked = ""
        rows = self.bench.picks.rows
        self.bench.propose(lambda farm: removed(farm, rows))

    def keep(self) -> None:
        """Take nothing away."""
        self._asked = ""
        self.bench.guide()

    def _pick(self, place: QPointF, *, more: bool) -> None:
        now, ground = self.bench.contents.now, self.bench.map_view.ground_at(place)
        if now is None or ground is None or now.farm is not self.bench.farm:
            return
        found = rows_at(now, *ground, self.bench.metres(NEAR_MM))
        picks, session = self.bench.picks, self.bench.session
        if more:
            rows = [row for row in found if row[0] != MARGINS]
            if rows:
                picks.turn(rows[0])
            return
        chosen = session.chosen
        standing_on = ((MARGINS, chosen.id),) if chosen is not None and chosen.kind == "margin" else picks.rows
        row = next_of(found, standing_on)
        if row is not None and row[0] == MARGINS:
            session.choose(Chosen("margin", row[1]))
        else:
            picks.pick([] if row is None else [row])
            if row is None:
                session.choose(None)


def removed(farm: Farm, rows: tuple[Row, ...]) -> Proposed:
    """Propose to take rows of any tables away.

    Raises
    ------
    BadInput
        One of them is not there any more.
    """
    from farmmap.editing.proposed import Proposed
    from farmmap.editing.reshape import rows_removed

    tables = dict.fromkeys(name for name, _ in rows)
    parts = [rows_removed(farm, table, [id_ for name, id_ in rows if name == table]) for table in tables]
    if len(parts) == 1:
        return parts[0]
    changes = {name: change for part in parts for name, change in part.edit.changes.items()}
    notes = tuple(note for part in parts for note in part.notes)
    return Proposed(Edit(f"Take away {words_of(farm, rows)}", changes), notes)
