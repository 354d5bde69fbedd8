"""The density diagram, painted: stocking over mean diameter, both on logarithmic scales."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPainterPath, QPalette, QPen
from PySide6.QtWidgets import QWidget

from farmmap.figures.room.diagram import Diagram, Line, Stand
from farmmap.panels.chart import ALIGN, Chart, number

DIAMETERS_CM = (2, 5, 10, 15, 20, 30, 40, 60, 80, 100, 150)
STOCKINGS = (5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000)
STAND_PX = 9.0
"""Kept free of words around a block. [px]"""
ROOM_OUTSIDE = 2.0
"""How many times more and fewer stems than the block has the diagram shows at least."""


class DensityChart(Chart):
    """Lines of equal density with the block as a point, and its forecast path."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Density diagram", parent)
        self.diagram: Diagram | None = None

    def show_diagram(self, name: str, diagram: Diagram | None, empty_words: str) -> None:
        """Show a diagram under a heading, or words if there is none."""
        self._name, self.diagram, self._empty_words = name, diagram, empty_words
        stands = () if diagram is None else diagram.stands
        self.setAccessibleName(name)
        self.setAccessibleDescription("; ".join(map(_words, stands)) or empty_words)
        self.update()

    def minimumSizeHint(self) -> QSize:
        """As small as can still be read, with a heading of two lines."""
        unit = self.fontMetrics().height()
        return QSize(unit * 10, unit * 12)

    def is_empty(self) -> bool:
        """Whether there is no diagram."""
        return self.diagram is None

    def paint_marks(self, painter: QPainter, inside: QRectF) -> None:
        """Paint both scales, the lines with their words, and the block."""
        assert self.diagram is not None
        metrics = QFontMetricsF(self.font())
        left = metrics.horizontalAdvance("10000") + 12
        height = metrics.height()
        plot = QRectF(left, inside.top() + 1.5 * height + 3, inside.right() - left, inside.height() - 3.5 * height - 9)
        scale = _Scale(self.diagram, plot)
        self._paint_scales(painter, scale, height)
        painter.save()
        painter.setClipRect(plot)
        for line in self.diagram.lines:
            self._paint_line(painter, scale, line)
        painter.restore()
        points = [scale.at(stand.qmd_cm, stand.stems_per_ha) for stand in self.diagram.stands]
        taken = [QRectF(point.x() - STAND_PX, point.y() - STAND_PX, 2 * STAND_PX, 2 * STAND_PX) for point in points]
        for line in self.diagram.lines:
            self._paint_words(painter, scale, line, taken)
        self._paint_stands(painter, scale)

    def _paint_scales(self, painter: QPainter, scale: _Scale, height: float) -> None:
        plot = scale.plot
        for ticks, upright in ((DIAMETERS_CM, False), (STOCKINGS, True)):
            last = -1e9
            for tick in ticks:
                at = scale.y(tick) if upright else scale.x(tick)
                if not (
                    plot.top() - 1 <= at <= plot.bottom() + 1 if upright else plot.left() - 1 <= at <= plot.right() + 1
                ):
                    continue
                painter.setPen(QPen(self.colour(QPalette.ColorRole.Mid), 1))
                ends = ((plot.left(), at), (plot.right(), at)) if upright else ((at, plot.top()), (at, plot.bottom()))
                painter.drawLine(QPointF(*ends[0]), QPointF(*ends[1]))
                if abs(at - last) < (height if upright else 3 * height):
                    continue
                last = at
                painter.setPen(self.colour(QPalette.ColorRole.PlaceholderText))
                if upright:
                    box = QRectF(0, at - height / 2, plot.left() - 6, height)
                    painter.drawText(box, ALIGN.AlignRight | ALIGN.AlignVCenter, number(tick))
                else:
                    painter.drawText(QRectF(at - 40, plot.bottom() + 3, 80, height), ALIGN.AlignHCenter, number(tick))
        painter.setPen(self.colour(QPalette.ColorRole.PlaceholderText))
        painter.drawText(QRectF(8, plot.top() - 1.5 * height - 3, plot.width(), height), ALIGN.AlignLeft, "Stems, /ha")
        below = QRectF(plot.left(), plot.bottom() + height + 4, plot.width(), height)
        painter.drawText(below, ALIGN.AlignHCenter, "Quadratic mean diameter, cm")

    def _paint_line(self, painter: QPainter, scale: _Scale, line: Line) -> None:
        crowns = line.kind == "crowns"
        colour = self.colour(QPalette.ColorRole.Accent if crowns else QPalette.ColorRole.PlaceholderText)
        painter.setPen(QPen(colour, 1.5, Qt.PenStyle.DashLine if crowns else Qt.PenStyle.SolidLine))
        points = [scale.at(*pair) for pair in zip(line.qmd_cm.tolist(), line.stems_per_ha.tolist(), strict=True)]
        painter.drawPolyline(points)

    def _paint_words(self, painter: QPainter, scale: _Scale, line: Line, taken: list[QRectF]) -> None:
        """Write what a line stands for at its last point inside the plot where there is room."""
        metrics = QFontMetricsF(self.font())
        wide, high = metrics.horizontalAdvance(line.words) + 6, metrics.height()
        for qmd, stems in reversed(list(zip(line.qmd_cm.tolist(), line.stems_per_ha.tolist(), strict=True))):
            at = scale.at(qmd, stems)
            box = QRectF(at.x() - wide, at.y() - high, wide, high)
            if scale.plot.contains(box) and not any(box.intersects(one) for one in taken):
                taken.append(box)
                crowns = line.kind == "crowns"
                painter.fillRect(box, self.colour(QPalette.ColorRole.Base))
                painter.setPen(self.colour(QPalette.ColorRole.Accent if crowns else QPalette.ColorRole.Text))
                painter.drawText(box, ALIGN.AlignCenter, line.words)
                return

    def _paint_stands(self, painter: QPainter, scale: _Scale) -> None:
        assert self.diagram is not None
        stands = self.diagram.stands
        points = [scale.at(stand.qmd_cm, stand.stems_per_ha) for stand in stands]
        accent, base = self.colour(QPalette.ColorRole.Accent), self.colour(QPalette.ColorRole.Base)
        path = QPainterPath(points[0])
        for point in points[1:]:
            path.lineTo(point)
        painter.setPen(QPen(accent, 2, Qt.PenStyle.DotLine))
        painter.drawPath(path)
        for stand, point in reversed(list(zip(stands, points, strict=True))):
            painter.setPen(QPen(accent, 2))
            painter.setBrush(base if stand.forecast else accent)
            size = 4.0 if stand.forecast else 6.0
            painter.drawEllipse(point, size, size)
            self._hot.append((QRectF(point.x() - 9, point.y() - 9, 18, 18), _words(stand)))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        self._paint_path_years(painter, [stand for stand in zip(stands, points, strict=True) if stand[0].forecast])

    def _paint_path_years(self, painter: QPainter, path: list[tuple[Stand, QPointF]]) -> None:
        """Write the years over the forecast path where there is room, from its end backwards."""
        metrics = QFontMetricsF(self.font())
        painter.setPen(self.colour(QPalette.ColorRole.Text))
        left = math.inf
        for stand, point in reversed(path):
            wide = metrics.horizontalAdvance(stand.words) + 6
            box = QRectF(point.x() - wide / 2, point.y() - metrics.height() - 6, wide, metrics.height())
            if box.right() <= left:
                left = box.left()
                painter.drawText(box, ALIGN.AlignCenter, stand.words)


class _Scale:
    """Both logarithmic scales of a diagram on a plot."""

    def __init__(self, diagram: Diagram, plot: QRectF) -> None:
        across = diagram.lines[0].qmd_cm
        stems = [stand.stems_per_ha for stand in diagram.stands]
        self.plot = plot
        self._left, self._right = math.log(float(across[0])), math.log(float(across[-1]))
        self._low, self._high = (
            math.log(min(min(stems) / ROOM_OUTSIDE, 50.0)),
            math.log(max(max(stems) * ROOM_OUTSIDE, 2000.0)),
        )

    def x(self, qmd_cm: float) -> float:
        """Return where a diameter lies across [px]."""
        return self.plot.left() + self.plot.width() * (math.log(qmd_cm) - self._left) / (self._right - self._left)

    def y(self, stems_per_ha: float) -> float:
        """Return where a stocking lies upright [px]."""
        part = (math.log(stems_per_ha) - self._low) / (self._high - self._low)
        return self.plot.bottom() - self.plot.height() * part

    def at(self, qmd_cm: float, stems_per_ha: float) -> QPointF:
        """Return the point of a stand."""
        return QPointF(self.x(qmd_cm), self.y(stems_per_ha))


def _words(stand: Stand) -> str:
    of = f"{stand.words}, forecast" if stand.forecast else stand.words
    return f"{of}: {stand.stems_per_ha:.0f} stems/ha of {stand.qmd_cm:.1f} cm"
