"""Drawing photo points by two clicks, the camera and its view; those that are there are moved by dragging."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QMouseEvent, QPainter
from PySide6.QtWidgets import QApplication

from farmmap.window.map_view import NEAR_MM
from farmmap.window.tools.draw import DrawTool
from farmmap.window.tools.placing import may_snap
from farmmap.window.tools.readings import length_words
from farmmap.window.tools.rows_on_map import PHOTO_POINTS, rows_at
from farmmap.window.tools.sketch import Outline, paint_outline

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm
    from farmmap.window.tools.bench import Bench


def draw_tool(bench: Bench, choice: str = "") -> DrawTool:
    """Return the tool that draws what was chosen."""
    return (PhotoPointTool if choice == "photo point" else DrawTool)(bench, choice)


class PhotoPointTool(DrawTool):
    """Draws photo points; a drag moves one that is there, with Shift it turns it."""

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        self._held: int | None = None
        self._turns = False
        self._start: tuple[float, float] | None = None
        self._to: tuple[float, float] | None = None
        self._pressed_at = QPointF()

    def pressed(self, event: QMouseEvent) -> bool:
        """Take hold of the photo point under the pointer."""
        self._drop()
        ground, farm = self.bench.map_view.ground_at(event.position()), self.bench.farm
        held = None if ground is None or self.corners else self._point_at(*ground)
        if held is None or farm is None:
            return False
        self.bench.exact_line.shut()
        point = farm.tables[PHOTO_POINTS].loc[held]
        self._held, self._start = held, (float(point["x"]), float(point["y"]))
        self._pressed_at = event.position()
        self._turns = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        return True

    def dragged(self, event: QMouseEvent) -> None:
        """Move it, or turn it towards the pointer."""
        far = (event.position() - self._pressed_at).manhattanLength() >= QApplication.startDragDistance()
        if self._start is None or (self._to is None and not far):
            return
        self._point(self.bench.map_view.ground_at(event.position()), snap=may_snap(event))
        self._to = None if self.spot is None else self.spot.place
        farm = self.bench.farm
        if farm is not None and self._to is not None:
            words = length_words(farm, [self._start, self._to], with_bearing=True)
            self.bench.strip.read(f"looks {words}" if self._turns else f"moved {words}")
        self.bench.map_view.update()

    def released(self, event: QMouseEvent) -> None:  # noqa: ARG002 - where it was dragged to is known
        """Set it down; without a drag, pick it."""
        held, start, to, turns = self._held, self._start, self._to, self._turns
        self._drop()
        self.spot = None
        if held is not None and to is None:
            self.bench.picks.pick([(PHOTO_POINTS, held)])
        elif held is not None and start is not None and to is not None and to != start:
            (self._turn if turns else self._move)(held, start, to)
        self.bench.guide()

    def farm_changed(self) -> None:
        """Let go of what is half moved: it may stand elsewhere now."""
        self._drop()
        super().farm_changed()

    def end(self) -> None:
        """Set down nothing that is half moved."""
        self._drop()
        super().end()

    def paint(self, painter: QPainter) -> None:
        """Paint where it would be set down, or which way it would look."""
        if self._start is not None and self._to is not None and self.bench.contents.now is not None:
            painter.save()
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            points = np.array([self._start, self._to] if self._turns else [self._to], float)
            outline = Outline(points, apart=not self._turns)
            paint_outline(painter, self.bench.dots(points), outline, self.bench.inks(), sure=False)
            painter.restore()
        super().paint(painter)

    def _point_at(self, x: float, y: float) -> int | None:
        now = self.bench.contents.now
        if now is None or now.farm is not self.bench.farm:
            return None
        found = [id_ for table, id_ in rows_at(now, x, y, self.bench.metres(NEAR_MM)) if table == PHOTO_POINTS]
        return found[0] if found else None

    def _move(self, point: int, start: tuple[float, float], to: tuple[float, float]) -> None:
        def make(farm: Farm) -> Proposed:
            from farmmap.editing.photos import photo_points_moved

            return photo_points_moved(farm, [point], to[0] - start[0], to[1] - start[1])

        self.bench.propose(make, [Outline(np.array([to]), apart=True)])

    def _turn(self, point: int, start: tuple[float, float], to: tuple[float, float]) -> None:
        def make(farm: Farm) -> Proposed:
            from farmmap.editing.fields import fields_changed
            from farmmap.editing.ground import grid_bearing_deg

            bearing = round(grid_bearing_deg(start, to), 1)
            return fields_changed(farm, PHOTO_POINTS, [point], {"bearing_deg": bearing})

        self.bench.propose(make, [Outline(np.array([start, to]))])

    def _drop(self) -> None:
        self._held = self._start = self._to = None
        self.bench.strip.read("")
        self.bench.map_view.update()
