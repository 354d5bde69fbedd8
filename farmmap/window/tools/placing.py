"""What tools share that point at a place: the snapped spot, the cross-hair, and exact lengths and coordinates."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter

from farmmap.window.exact_line import OPENED_BY, STEPS_OPENED_BY
from farmmap.window.map_tool import MapTool
from farmmap.window.tools.bench import Bench, Spot
from farmmap.window.tools.sketch import paint_cross_hair, paint_snap, paint_words

if TYPE_CHECKING:
    import numpy as np

STEP_MM, FINE_MM = 2.5, 0.25
"""How far an arrow key moves the cross-hair, and with Shift. [mm of screen]"""
ARROWS = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0),
    Qt.Key.Key_Down: (0.0, -1.0),
}
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_NO_SNAP = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
_EDGE = 0.08


def may_snap(event: QMouseEvent | QKeyEvent) -> bool:
    """Whether neither Ctrl nor Alt is held, which turn snapping off."""
    return not event.modifiers() & _NO_SNAP


class PlacingTool(MapTool):
    """Points at a place, by the mouse or by the cross-hair that arrow keys move, and puts something there.

    Parameters
    ----------
    bench : Bench
        Where it works.
    choice : str
        Which of its choices was taken.
    """

    cursor = Qt.CursorShape.CrossCursor
    snaps = True
    """Whether it snaps to what is drawn."""
    snaps_to_trees = True
    """Whether it snaps to single trees too; the outline of a block does not."""

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        self.spot: Spot | None = None
        self._hair: tuple[float, float] | None = None
        self._hair_moved = False
        self._typed: tuple[float, float] | None = None
        bench.exact_line.changed.connect(self._typing)

    # For those who build on it

    def put(self, spot: Spot) -> None:
        """Put something at a place."""
        raise NotImplementedError

    def put_again(self) -> None:
        """Know that Enter was pressed without another place being pointed at."""

    def leg_start(self) -> tuple[float, float] | None:
        """Return where a length or bearing that is typed starts from [m]."""
        return None

    def leave_out(self) -> tuple[str, int] | None:
        """Return the row that is not to be snapped to."""
        return None

    def moved(self) -> None:
        """Know that another place is pointed at: what is written beside the pointer stands in the status line too."""
        self.bench.strip.read("   ".join(self.pointer_words().splitlines()))

    def pointer_lines(self) -> list[str]:
        """Return what is written beside the pointer."""
        return []

    def pointer_words(self) -> str:
        """Return all that is written beside the pointer, with what it is snapped to in the last line."""
        snap = None if self.spot is None else self.spot.snap
        return "\n".join(self.pointer_lines() + ([] if snap is None else [snap.words]))

    # Events

    def end(self) -> None:
        """Listen no longer to the line for exact words."""
        self.bench.exact_line.changed.disconnect(self._typing)

    def hovered(self, event: QMouseEvent) -> None:
        """Point at what is under the mouse; the cross-hair goes."""
        self._hair, self._hair_moved = None, False
        self._point(self.bench.map_view.ground_at(event.position()), snap=may_snap(event))

    def left(self) -> None:
        """Point at nothing once the mouse has left the map."""
        if self._hair is None and not self.bench.exact_line.isVisible():
            self._point(None)

    def clicked(self, event: QMouseEvent) -> bool:
        """Put something where the mouse is."""
        self.bench.exact_line.shut()
        self.hovered(event)
        if self.spot is not None:
            self.put(self.spot)
        return True

    def double_clicked(self, event: QMouseEvent) -> bool:  # noqa: ARG002 - its first click was told already
        """Take a second click on the same place."""
        self.put_again()
        return True

    def key_pressed(self, event: QKeyEvent) -> bool:
        """Move the cross-hair, put something there, or begin to type exact words."""
        key = Qt.Key(event.key())
        if key in ARROWS:
            self._move_hair(*ARROWS[key], event)
            return True
        if key in _ENTER:
            if self._hair_moved and self.spot is not None and not event.modifiers() & _NO_SNAP:
                self._hair_moved = False
                self.put(self.spot)
            else:
                self.put_again()
            return True
        if self.opens_exact_line(event):
            self._open_exact_line(event.text())
            return True
        return False

    def opens_exact_line(self, event: QKeyEvent) -> bool:
        """Whether a key begins exact words: a sign does where there is a place to step from."""
        letter = event.text()
        if not letter or event.modifiers() & _NO_SNAP:
            return False
        return letter in OPENED_BY or (letter in STEPS_OPENED_BY and self.leg_start() is not None)

    def paint(self, painter: QPainter) -> None:
        """Paint the cross-hair, the snap mark and what is written beside the pointer."""
        spot = self.spot
        if spot is None or self.bench.contents.now is None:
            return
        inks, place = self.bench.inks(), self.bench.map_view.place_of(spot.x, spot.y)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if spot.by_keys:
            paint_cross_hair(painter, place, inks)
        if spot.snap is not None:
            paint_snap(painter, spot.snap.kind, place, inks)
        words = self.pointer_words()
        if words and not self.bench.exact_line.isVisible():
            paint_words(painter, place, words.split("\n"), inks, self.bench.room(), self.outline_dots())
        painter.restore()

    def outline_dots(self) -> np.ndarray | None:
        """Return the line, shape (n, 2), that what is written beside the pointer keeps clear of [px]."""
        return None

    # How it is done

    def _point(self, ground: tuple[float, float] | None, *, snap: bool = True, by_keys: bool = False) -> None:
        if ground is None:
            self.spot = None
        else:
            found = self.bench.spot(
                *ground,
                snap=snap and self.snaps,
                leave_out=self.leave_out(),
                start=self.leg_start(),
                trees=self.snaps_to_trees,
            )
            self.spot = Spot(found.x, found.y, found.snap, by_keys)
        self.moved()
        self.bench.map_view.update()

    def _move_hair(self, east: float, north: float, event: QKeyEvent) -> None:
        view = self.bench.map_view
        here = self._hair
        if here is None:
            here = self.spot.place if self.spot is not None else view.ground_at(QPointF(view.rect().center()))
        if here is None:
            return
        fine = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        step = self.bench.metres(FINE_MM if fine else STEP_MM)
        place = view.place_of(*here) + QPointF(east, -north) * (step / self.bench.metres(1.0)) * view.dots_per_mm()
        ground = view.ground_at(place)
        assert ground is not None
        self._hair, self._hair_moved = ground, True
        inner = self.bench.room().adjusted(
            _EDGE * view.width(), _EDGE * view.height(), -_EDGE * view.width(), -_EDGE * view.height()
        )
        if not inner.contains(place):
            view.pan(-(place.x() - view.width() / 2), -(place.y() - view.height() / 2))
        self._point(ground, snap=may_snap(event), by_keys=True)
        view.pointed.emit(ground)

    def _open_exact_line(self, first: str) -> None:
        view = self.bench.map_view
        near = QPointF(view.rect().center()) if self.spot is None else view.place_of(*self.spot.place)
        self.bench.exact_line.open(first, near, self._take_exact)

    def exact_place(self, words: str) -> tuple[float, float]:
        """Return the place that typed words mean [m].

        Raises
        ------
        BadInput
            They mean none.
        """
        from farmmap.editing.exact import place_from_words

        assert self.bench.farm is not None
        toward = None if self.spot is None else self.spot.place
        return place_from_words(words, self.leg_start(), self.bench.farm.grid, toward)

    def _take_exact(self, words: str) -> None:
        spot = Spot(*self.exact_place(words), by_keys=True)
        self._typed = None
        self._hair, self._hair_moved = spot.place, False
        self.spot = spot
        self._keep_in_sight(spot)
        self.put(spot)

    def _keep_in_sight(self, spot: Spot) -> None:
        self.bench.map_view.go_to(*spot.place)

    def _typing(self) -> None:
        from farmmap.errors import FarmmapError

        self._typed = None
        if self.bench.exact_line.words and self.bench.farm is not None:
            try:
                self._typed = self.exact_place(self.bench.exact_line.words)
            except FarmmapError:
                self._typed = None  # half typed; told when Enter is pressed
        self.moved()
        self.bench.map_view.update()

    @property
    def aim(self) -> tuple[float, float] | None:
        """Where the next thing would be put: what is typed, else what is pointed at [m]."""
        if self._typed is not None:
            return self._typed
        return None if self.spot is None else self.spot.place
