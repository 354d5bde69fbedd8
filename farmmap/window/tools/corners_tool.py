"""What tools share that draw corner by corner: the half-drawn shape, its readings, and how it ends."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QPainter

from farmmap.window.tools.bench import Bench, Spot
from farmmap.window.tools.placing import PlacingTool
from farmmap.window.tools.readings import area_words, length_words
from farmmap.window.tools.sentences import words_of_error
from farmmap.window.tools.sketch import Outline, paint_handle, paint_outline

ON_FIRST_MM = 3.0
"""How near to the first corner a click closes an area. [mm of screen]"""
KEPT_FROM = 3
"""So many corners are not given up at the first Escape, nor by taking up another tool."""


class CornersTool(PlacingTool):
    """Sets corner after corner; a double click, or Enter on the same place, ends."""

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        self.corners: list[tuple[float, float]] = []
        self._asked = False

    # For those who build on it

    @property
    def as_area(self) -> bool:
        """Whether the shape closes on itself."""
        return False

    @property
    def least(self) -> int:
        """How many corners are needed."""
        return 3 if self.as_area else 2

    @property
    def most(self) -> int | None:
        """After how many corners it ends by itself."""
        return None

    def finish(self, corners: np.ndarray) -> None:
        """Do what the shape was drawn for; corners have shape (n, 2) [m]."""
        raise NotImplementedError

    def too_few(self) -> str:
        """Return what is said when it is ended too early."""
        return "An area needs three corners." if self.as_area else "A line needs two corners."

    def give_back(self, corners: np.ndarray) -> Callable[[BaseException], None]:
        """Return what puts corners, shape (n, 2) [m], back into the hand when the farm refused what was drawn."""

        def back(error: BaseException) -> None:
            if not self.corners and self.bench.tool is self:
                self.corners = [(float(x), float(y)) for x, y in corners]
            words = f"{words_of_error(error)} The corners are still there: Backspace takes them back."
            self.bench.strip.note(words, warning=True)

        return back

    # Events

    def begin(self) -> None:
        """Go on with what was left half drawn when this tool was laid down last."""
        super().begin()
        self.corners = self.bench.half_drawn.pop(self._whose(), [])
        if self.corners:
            self.bench.strip.note(f"The {len(self.corners)} corners that you had drawn are still here.")

    def end(self) -> None:
        """Keep what is half drawn for when this tool is taken up again on this farm."""
        if len(self.corners) >= KEPT_FROM and self.bench.farm is not None:
            self.bench.half_drawn[self._whose()] = self.corners
        super().end()

    def put(self, spot: Spot) -> None:
        """Set a corner; on the first one of an area, close it."""
        if self._closes(spot):
            self._end()
            return
        if self.corners and self.corners[-1] == spot.place:
            return
        self.corners.append(spot.place)
        if self.most is not None and len(self.corners) >= self.most:
            self._end()
            return
        self._changed()

    def put_again(self) -> None:
        """End the shape."""
        if self.corners:
            self._end()

    def leg_start(self) -> tuple[float, float] | None:
        """Return the last corner."""
        return self.corners[-1] if self.corners else None

    def key_pressed(self, event: QKeyEvent) -> bool:
        """Take the last corner back with Backspace or Ctrl+Z, all of them with Escape."""
        key = event.key()
        takes_back = key in (Qt.Key.Key_Backspace, Qt.Key.Key_Delete) or event.matches(QKeySequence.StandardKey.Undo)
        if takes_back and self.corners:
            self.corners.pop()
            self._changed()
            return True
        if key == Qt.Key.Key_Escape:
            if len(self.corners) >= KEPT_FROM and not self._asked:
                self._asked = True
                self.bench.strip.note(f"Press Escape again to give up {len(self.corners)} corners.", warning=True)
            elif self.corners:
                self.give_up()
            else:
                self.bench.lay_down()
            return True
        return super().key_pressed(event)

    def wants_shortcut(self, event: QKeyEvent) -> bool:
        """Have Ctrl+Z while there is a corner to take back."""
        return bool(self.corners) and event.matches(QKeySequence.StandardKey.Undo)

    def give_up(self) -> None:
        """Forget what is half drawn."""
        self.corners = []
        self._changed()

    def farm_changed(self) -> None:
        """Go on drawing: what is half drawn belongs to no farm yet."""

    def paint(self, painter: QPainter) -> None:
        """Paint what is half drawn."""
        if self.corners and self.bench.map_view.view is not None and self.bench.contents.now is not None:
            inks = self.bench.inks()
            points = self._drawn_so_far()
            dots = self.bench.dots(points)
            painter.save()
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            paint_outline(painter, dots, Outline(points, closed=self.as_area), inks, sure=False)
            for place, (x, y) in enumerate(dots[: len(self.corners)]):
                paint_handle(painter, QPointF(x, y), inks, chosen=place == len(self.corners) - 1)
            painter.restore()
        super().paint(painter)

    def outline_dots(self) -> np.ndarray | None:
        """Return what is half drawn."""
        if not self.corners:
            return None
        dots = self.bench.dots(self._drawn_so_far())
        return np.concatenate([dots, dots[:1]]) if self.as_area else dots

    # How it is done

    def _drawn_so_far(self) -> np.ndarray:
        return np.array(self.corners + ([self.aim] if self.aim is not None else []), float)

    def _closes(self, spot: Spot) -> bool:
        if not self.as_area or len(self.corners) < self.least:
            return False
        first = self.corners[0]
        return float(np.hypot(first[0] - spot.x, first[1] - spot.y)) <= self.bench.metres(ON_FIRST_MM)

    def _end(self) -> None:
        if len(self.corners) < self.least:
            self.bench.strip.note(self.too_few(), warning=True)
            self.bench.guide()
            return
        corners = np.array(self.corners, float)
        self.corners = []
        self._changed()
        self.finish(corners)
        self.spot = None
        self._changed()

    def _whose(self) -> object:
        return self.bench.session.path, type(self), self.choice

    def _changed(self) -> None:
        self._asked = False
        self.moved()
        self.bench.guide()

    def pointer_lines(self) -> list[str]:
        """Return the leg, and what is drawn so far."""
        farm, aim = self.bench.farm, self.aim
        if farm is None or not self.corners:
            return []
        points = self.corners + ([aim] if aim is not None and aim != self.corners[-1] else [])
        lines: list[str] = []
        if len(points) > len(self.corners):
            lines.append(length_words(farm, points[-2:], with_bearing=True))
        if self.as_area and len(points) > 2:
            lines.append(area_words(farm, points))
        elif len(points) > 2:
            lines.append(f"in all {length_words(farm, points)}")
        return lines
