"""What the planting tool paints over the map: the plan, the creek's flow, and the handles by which it is changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from farmmap.drawing.line_painter import stations
from farmmap.drawing.pens import polygon
from farmmap.drawing.planting_layers import PlantingLayers
from farmmap.figures.creek_lines import creeks_of
from farmmap.window.tools.sketch import Inks, paint_handle, paint_words

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.window.tools.bench import Bench
    from farmmap.window.tools.planting.grips import Grip
    from farmmap.window.tools.planting.live import Live

ARROW_EVERY_MM, ARROW_MM = 18.0, 2.6
CREEK_PX = 4.0
SIDES = ("left", "right")
PALE = 0.35
"""How strongly plants and fence of the last plan are shown while another is on its way."""


class PlanOverMap:
    """Paints; knows which handle lies where.

    Parameters
    ----------
    bench : Bench
        Gives farm, view and colours.
    live : Live
        The plan.
    """

    def __init__(self, bench: Bench, live: Live) -> None:
        self._bench, self._live = bench, live
        self._painter = PlantingLayers()
        self._creeks: tuple[object, dict[str, list[np.ndarray]]] | None = None
        self.held: Grip | None = None
        """The handle that is dragged."""
        self.near: Grip | None = None
        """The handle under the pointer."""
        self.begun: tuple[float, float] | None = None
        """Where a stretch was begun that has no end yet. [m]"""
        self.pointer: tuple[float, float, str] | None = None
        """Where a handle is dragged to [m], and what it says."""

    def grip_at(self, place: QPointF, within_px: float) -> Grip | None:
        """Return the handle at a point of the map."""
        shown = self._live.shown
        if shown is None or self._bench.map_view.view is None:
            return None
        best: tuple[float, Grip] | None = None
        for grip in shown.grips:
            off = self._bench.map_view.place_of(grip.x, grip.y) - place
            away = float(np.hypot(off.x(), off.y()))
            if away <= within_px and (best is None or away < best[0]):
                best = away, grip
        return None if best is None else best[1]

    def creek_at(self, farm: Farm, x: float, y: float, within_m: float) -> str | None:
        """Return the creek at a place, the one that is chosen before others; None if there is none."""
        point, found = shapely.Point(x, y), dict[str, float]()
        for creek in creeks_of(farm):
            off = min(max(reach.line.distance(point) - reach.half, 0.0) for reach in creek.reaches)
            if off <= within_m:
                found[creek.name] = off
        if self._live.draft.creek in found:
            return self._live.draft.creek
        return min(found, key=found.__getitem__) if found else None

    def paint(self, painter: QPainter) -> None:
        """Paint over the map, in dots of the widget."""
        farm, view, now = self._bench.farm, self._bench.map_view.view, self._bench.contents.now
        if farm is None or view is None or now is None:
            return
        inks, shown = self._bench.inks(), self._live.shown
        painter.save()
        if shown is not None:
            self._painter.paint(
                painter,
                shown.picture,
                view,
                self._bench.map_view.dots_per_mm(),
                now.scene.theme,
                self._live.crowns,
                strength=1.0 if self._live.sketch is None else PALE,
            )
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self._live.draft.creek:
            self._paint_creek(painter, farm, self._live.draft.creek, inks)
        if self.begun is not None:
            paint_handle(painter, self._bench.map_view.place_of(*self.begun), inks, chosen=True)
        if shown is not None:
            self._paint_banks(painter, inks)
            for grip in shown.grips:
                self._paint_grip(painter, grip, inks)
            near = self.held or self.near
            if self.pointer is not None:
                x, y, words = self.pointer
                paint_words(painter, self._bench.map_view.place_of(x, y), [words], inks, self._bench.room())
            elif near is not None:
                at = self._bench.map_view.place_of(near.x, near.y)
                paint_words(painter, at, [self._grip_words(near)], inks, self._bench.room())
        painter.restore()

    def _lines_of(self, farm: Farm, name: str) -> list[np.ndarray]:
        kept = self._creeks
        if kept is None or kept[0] is not farm.creeks:
            lines = {
                creek.name: [shapely.get_coordinates(reach.line) for reach in creek.reaches]
                for creek in creeks_of(farm)
            }
            self._creeks = kept = (farm.creeks, lines)
        return kept[1].get(name, [])

    def _paint_creek(self, painter: QPainter, farm: Farm, name: str, inks: Inks) -> None:
        """Paint the creek that is chosen, with arrows the way its water flows."""
        size = ARROW_MM * self._bench.map_view.dots_per_mm()
        for points in self._lines_of(farm, name):
            dots = self._bench.dots(points)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for ink, width in ((inks.halo, CREEK_PX), (inks.stroke, CREEK_PX / 2)):
                painter.setPen(QPen(ink, width))
                painter.drawPolyline(polygon(dots))
            every = ARROW_EVERY_MM * self._bench.map_view.dots_per_mm()
            for x, y, angle in stations(dots, every / 2, every):
                _paint_arrow(painter, x, y, angle, size, inks)

    def _paint_banks(self, painter: QPainter, inks: Inks) -> None:
        """Write left and right beside the banks."""
        shown = self._live.shown
        assert shown is not None
        for grip in shown.grips:
            if grip.name in SIDES:
                out = self._bench.map_view.place_of(grip.x, grip.y)
                foot = self._bench.map_view.place_of(*grip.foot)
                painter.setPen(QPen(inks.halo, 4.0))
                painter.drawLine(foot, out)
                painter.setPen(QPen(inks.stroke, 1.6, Qt.PenStyle.DotLine))
                painter.drawLine(foot, out)

    def _paint_grip(self, painter: QPainter, grip: Grip, inks: Inks) -> None:
        place = self._bench.map_view.place_of(grip.x, grip.y)
        chosen = grip is self.near or (self.held is not None and grip.name == self.held.name)
        paint_handle(painter, place, inks, chosen=chosen)
        if grip.name in SIDES and grip is not self.near and self.pointer is None:
            _paint_tag(painter, place, self._grip_words(grip), self._bench.map_view.place_of(*grip.foot), inks)

    def _grip_words(self, grip: Grip) -> str:
        shown, draft = self._live.shown, self._live.draft
        assert shown is not None
        if grip.name in SIDES:
            return f"{grip.name} bank, {shown.width_m[grip.name]:.1f} m"
        at = shown.plan.stretch.from_m if grip.name == "from_m" else shown.plan.stretch.to_m
        return f"{'from' if grip.name == 'from_m' else 'to'} {0.0 if at is None else at:.0f} m of {draft.creek}"


def _paint_arrow(painter: QPainter, x: float, y: float, angle: float, size: float, inks: Inks) -> None:
    painter.save()
    painter.translate(x, y)
    painter.rotate(float(np.degrees(angle)))
    painter.setPen(QPen(inks.halo, 1.5))
    painter.setBrush(inks.stroke)
    corners = ((0.7, 0.0), (-0.5, -0.55), (-0.2, 0.0), (-0.5, 0.55))
    painter.drawPolygon(QPolygonF([QPointF(size * a, size * b) for a, b in corners]))
    painter.restore()


def _paint_tag(painter: QPainter, place: QPointF, words: str, foot: QPointF, inks: Inks) -> None:
    """Write words outside a handle, away from the bank."""
    off = place - foot
    away = max(float(np.hypot(off.x(), off.y())), 1e-6)
    metrics = painter.fontMetrics()
    wide, high = metrics.horizontalAdvance(words) + 10, metrics.height() + 4
    middle = place + off / away * (abs(off.x()) / away * wide / 2 + abs(off.y()) / away * high / 2 + 10)
    left, top = middle.x() - wide / 2, middle.y() - high / 2
    ground = QColor(inks.halo)
    ground.setAlphaF(0.88)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ground)
    painter.drawRoundedRect(round(left), round(top), wide, high, 3, 3)
    painter.setPen(inks.words)
    painter.drawText(round(left + 5), round(top + 2 + metrics.ascent()), words)
