"""The readings of a species by age, its curve over them, and its target."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPalette, QPen
from PySide6.QtWidgets import QWidget

from farmmap.figures.growth.outlook_course import SpeciesCourse
from farmmap.panels.chart import ALIGN, Chart, number, round_ticks

DOT_ALPHA = 110


class CurveChart(Chart):
    """Dots for readings; the curve solid as far as trees were measured, dashed beyond."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(name, parent)
        self.course: SpeciesCourse | None = None
        self.target_cm: float | None = None

    def show_curve(
        self, name: str, course: SpeciesCourse | None, target_cm: float | None, words: str, empty_words: str
    ) -> None:
        """Show a species; ``words`` tell who cannot see it."""
        self._name, self.course, self.target_cm, self._empty_words = name, course, target_cm, empty_words
        self.setAccessibleName(name)
        self.setAccessibleDescription(empty_words if self.is_empty() else words)
        self.update()

    def is_empty(self) -> bool:
        """Whether there are neither readings nor a curve."""
        return self.course is None or not (len(self.course.ages) or len(self.course.curve_ages))

    def paint_marks(self, painter: QPainter, inside: QRectF) -> None:
        """Paint scales, target, dots and curve."""
        course = self.course
        if course is None:
            return
        highest = max(float(values.max()) for values in (course.dbh_cm, course.curve_cm) if len(values))
        ticks = round_ticks(max(highest, 1.05 * (self.target_cm or 0.0)), self.steps_for(inside))
        plot = self.plot_inside(inside, ticks)
        self.paint_scale(painter, plot, ticks, "cm")
        oldest = max(float(values.max()) for values in (course.ages, course.curve_ages) if len(values))
        across = round_ticks(oldest, 6)

        def place(age: float, dbh_cm: float) -> QPointF:
            return QPointF(
                plot.left() + plot.width() * age / across[-1], plot.bottom() - plot.height() * dbh_cm / ticks[-1]
            )

        self._paint_ages(painter, plot, across)
        self._paint_target(painter, plot, place(0, self.target_cm or 0.0).y())
        dot = QColor(self.colour(QPalette.ColorRole.PlaceholderText))
        dot.setAlpha(DOT_ALPHA)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(dot)
        for age, dbh_cm in zip(course.ages.tolist(), course.dbh_cm.tolist(), strict=True):
            painter.drawEllipse(place(age, dbh_cm), 2.2, 2.2)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        known = course.curve_ages <= course.oldest_age
        for part, style in ((known, Qt.PenStyle.SolidLine), (~known, Qt.PenStyle.DashLine)):
            points = [
                place(*one)
                for one in zip(course.curve_ages[part].tolist(), course.curve_cm[part].tolist(), strict=True)
            ]
            painter.setPen(QPen(self.colour(QPalette.ColorRole.Accent), 2.5, style))
            painter.drawPolyline(points)

    def _paint_ages(self, painter: QPainter, plot: QRectF, across: list[float]) -> None:
        metrics = QFontMetricsF(self.font())
        painter.setPen(self.colour(QPalette.ColorRole.PlaceholderText))
        wide = metrics.horizontalAdvance("1000")
        for age in across:
            x = plot.left() + plot.width() * age / across[-1]
            painter.drawLine(QPointF(x, plot.bottom()), QPointF(x, plot.bottom() + 4))
            box = QRectF(min(x - wide, self.width() - 2 * wide), plot.bottom() + 4, 2 * wide, metrics.height())
            last = age == across[-1]
            painter.drawText(box, ALIGN.AlignRight if last else ALIGN.AlignHCenter, number(age))
        below = QRectF(plot.left(), plot.bottom() + metrics.height() + 4, plot.width(), metrics.height())
        painter.drawText(below, ALIGN.AlignHCenter, "Age from planting, years")

    def _paint_target(self, painter: QPainter, plot: QRectF, y: float) -> None:
        if self.target_cm is None:
            return
        metrics = QFontMetricsF(self.font())
        painter.setPen(QPen(self.colour(QPalette.ColorRole.Text), 1.5, Qt.PenStyle.DashDotLine))
        painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
        box = QRectF(plot.left() + 4, y - metrics.height() - 2, plot.width() - 8, metrics.height())
        painter.drawText(box, ALIGN.AlignLeft | ALIGN.AlignVCenter, f"target {self.target_cm:g} cm")
