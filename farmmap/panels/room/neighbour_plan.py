"""A small plan of one tree and those around it: crowns to scale, names, and who presses hardest."""

from __future__ import annotations

import math
from collections.abc import Mapping

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QMouseEvent, QPainter, QPalette, QPen
from PySide6.QtWidgets import QWidget

from farmmap.figures.room.around import Neighbour
from farmmap.panels.chart import ALIGN, Chart

SCALES_M = (1, 2, 5, 10, 20)
CROWN_ALPHA, PRESSING_ALPHA = 50, 150
LEAST_STEM_PX = 2.5
UNKNOWN = "#888888"


class NeighbourPlan(Chart):
    """The tree in the middle, north up; a click on another picks it."""

    picked = Signal(int)
    """Id of a tree that was clicked."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Neighbourhood", parent)
        self.around: tuple[Neighbour, ...] = ()
        self.chosen: int | None = None
        self._reach_m = 0.0
        self._colours: Mapping[str, str] = {}
        self._shares: Mapping[int, float] = {}
        self._stems: list[tuple[QPointF, int]] = []

    def show_trees(
        self,
        name: str,
        around: tuple[Neighbour, ...],
        reach_m: float,
        shares: Mapping[int, float],
        colours: Mapping[str, str],
    ) -> None:
        """Show trees, the one in the middle first, with each one's share of the competition in percent."""
        self._name, self.around, self._reach_m, self._shares, self._colours = name, around, reach_m, shares, colours
        self._empty_words = "Choose a tree on the map."
        self.chosen = None
        self.setAccessibleName(name)
        self.setAccessibleDescription("; ".join(self._words(one) for one in around[1:]) or self._empty_words)
        self.update()

    def choose(self, tree: int | None) -> None:
        """Mark the tree whose row is chosen."""
        self.chosen = tree
        self.update()

    def is_empty(self) -> bool:
        """Whether no tree is shown."""
        return not self.around

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Pick the tree that is clicked."""
        near = [
            (math.hypot(at.x() - event.position().x(), at.y() - event.position().y()), id_) for at, id_ in self._stems
        ]
        if event.button() == Qt.MouseButton.LeftButton and near and min(near)[0] <= 14:
            self.picked.emit(min(near)[1])
        else:
            super().mousePressEvent(event)

    def paint_marks(self, painter: QPainter, inside: QRectF) -> None:
        """Paint the reach, crowns from the outermost in, stems, names and a scale."""
        own = self.around[0]
        wide = max(
            self._reach_m, *(math.hypot(one.east_m, one.north_m) + (one.crown_m or 0.0) / 4 for one in self.around), 1.0
        )
        pixels = min(inside.width(), inside.height()) / 2 / wide
        middle = inside.center()
        places = {
            one.id: QPointF(middle.x() + one.east_m * pixels, middle.y() - one.north_m * pixels) for one in self.around
        }
        self._stems = [(places[one.id], one.id) for one in self.around[1:]]
        painter.save()
        painter.setClipRect(inside)
        painter.setPen(QPen(self.colour(QPalette.ColorRole.Mid), 1, Qt.PenStyle.DashLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(middle, self._reach_m * pixels, self._reach_m * pixels)
        for one in reversed(self.around):
            self._paint_crown(painter, places[one.id], one, pixels, own)
        for one in reversed(self.around):
            self._paint_stem(painter, places[one.id], one, pixels)
        self._paint_names(painter, places)
        painter.restore()
        self._paint_scale_bar(painter, inside, pixels)

    def _paint_crown(self, painter: QPainter, at: QPointF, one: Neighbour, pixels: float, own: Neighbour) -> None:
        if not one.crown_m > 0:
            return
        colour = QColor(self._colours.get(one.code, UNKNOWN))
        strongest = max(self._shares.values(), default=1.0)
        alpha = CROWN_ALPHA + (PRESSING_ALPHA - CROWN_ALPHA) * self._shares.get(one.id, 0.0) / strongest
        line = self.colour(QPalette.ColorRole.Accent if one.id in (own.id, self.chosen) else QPalette.ColorRole.Mid)
        colour.setAlpha(round(CROWN_ALPHA if one is own else alpha))
        painter.setPen(QPen(line, 3.0 if one.id in (own.id, self.chosen) else 1.0))
        painter.setBrush(colour)
        painter.drawEllipse(at, one.crown_m / 2 * pixels, one.crown_m / 2 * pixels)

    def _paint_stem(self, painter: QPainter, at: QPointF, one: Neighbour, pixels: float) -> None:
        radius = max(one.dbh_cm / 200 * pixels if one.dbh_cm > 0 else 0.0, LEAST_STEM_PX)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.colour(QPalette.ColorRole.Text))
        painter.drawEllipse(at, radius, radius)
        self._hot.insert(0, (QRectF(at.x() - 9, at.y() - 9, 18, 18), self._words(one)))

    def _paint_names(self, painter: QPainter, places: Mapping[int, QPointF]) -> None:
        """Write tags beneath the stems, that of the tree itself and of the strongest first, where there is room."""
        metrics = QFontMetricsF(self.font())
        taken: list[QRectF] = []
        others = sorted(self.around[1:], key=lambda one: (one.id != self.chosen, -self._shares.get(one.id, 0.0)))
        painter.setPen(self.colour(QPalette.ColorRole.Text))
        for one in (self.around[0], *others):
            wide = metrics.horizontalAdvance(one.tag) + 4
            at = places[one.id]
            box = QRectF(at.x() - wide / 2, at.y() + 4, wide, metrics.height())
            if one.tag and not any(box.intersects(other) for other in taken):
                taken.append(box)
                painter.drawText(box, ALIGN.AlignCenter, one.tag)

    def _paint_scale_bar(self, painter: QPainter, inside: QRectF, pixels: float) -> None:
        most = inside.width() / 3
        length = max((one for one in SCALES_M if one * pixels <= most), default=SCALES_M[0])
        y, left = inside.bottom() - 2, inside.left() + 2
        painter.setPen(QPen(self.colour(QPalette.ColorRole.Text), 2))
        painter.drawLine(QPointF(left, y), QPointF(left + length * pixels, y))
        height = QFontMetricsF(self.font()).height()
        painter.drawText(QRectF(left, y - height - 3, 200, height), ALIGN.AlignLeft, f"{length} m, north up")

    def _words(self, one: Neighbour) -> str:
        share = self._shares.get(one.id)
        parts = [
            one.tag or f"number {one.id}",
            f"{one.dbh_cm:.1f} cm" if one.dbh_cm > 0 else "not measured",
            f"crown {one.crown_m:.1f} m" if one.crown_m > 0 else "",
            f"{share:.0f} % of the competition" if share is not None else "",
        ]
        return ", ".join(part for part in parts if part)
