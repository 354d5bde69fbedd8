"""A tree's readings and forecast over the years, with its target and the year in which it is ready."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPalette, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from farmmap.figures.growth.outlook_course import TreeCourse
from farmmap.panels.chart import ALIGN, round_ticks
from farmmap.panels.line_chart import LineChart, Reading, year_of

Place = Callable[[float, float], QPointF]
"""Where a year and a diameter lie on the widget."""

BAND_ALPHA = 60
LEAST_YEARS = 3.0
"""Fewest years that the chart spans. [years]"""


@dataclass(frozen=True)
class Aim:
    """What a tree grows towards: target [cm], and the calendar years in which it is ready, None where open."""

    target_cm: float | None
    year: float | None
    low: float | None
    high: float | None


class CourseChart(LineChart):
    """Readings joined, the forecast dashed within its 80 % band, the target across."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(name, "cm", parent)
        self.course: TreeCourse | None = None
        self.aim = Aim(None, None, None, None)

    def show_course(self, name: str, course: TreeCourse | None, row: Mapping[str, object] | None, on: dt.date) -> None:
        """Show a tree; nothing without a course."""
        self.course = course
        self.aim = _aim(row)
        readings = (
            []
            if course is None
            else [
                Reading(day, value, f"{day.isoformat()}: {value:.1f} cm")
                for day, value in zip(course.days, course.dbh_cm.tolist(), strict=True)
            ]
        )
        self.show_readings(name, readings, on, "Choose a tree." if course is None else "Its diameter was never taken.")
        words = [reading.words for reading in self.readings]
        words += self._words_ahead()
        self.setAccessibleDescription("; ".join(words) or self._empty_words)

    def paint_marks(self, painter: QPainter, inside: QRectF) -> None:
        """Paint band, target and forecast beneath the readings."""
        ticks = round_ticks(self._top(), self.steps_for(inside))
        plot = self.plot_inside(inside, ticks)
        self.paint_scale(painter, plot, ticks, self._upright)
        first, last = self._years()
        self.paint_years(painter, plot, first, last)

        def place(year: float, value: float) -> QPointF:
            return QPointF(
                plot.left() + plot.width() * (year - first) / (last - first),
                plot.bottom() - plot.height() * min(value, ticks[-1]) / ticks[-1],
            )

        painter.save()
        painter.setClipRect(plot.adjusted(-6, -6, 6, 6))
        if self._on is not None and first <= year_of(self._on) <= last:
            painter.setPen(QPen(self.colour(QPalette.ColorRole.PlaceholderText), 1.5, Qt.PenStyle.DotLine))
            painter.drawLine(place(year_of(self._on), 0), place(year_of(self._on), ticks[-1]))
        self._paint_ahead(painter, place)
        self._paint_readings(painter, place)
        painter.restore()
        self._paint_target(painter, plot, place, first, last)

    def _paint_ahead(self, painter: QPainter, place: Place) -> None:
        if self.course is None or not self.course.ahead:
            return
        years = [year_of(day) for day in self.course.ahead]
        upper = [place(*one) for one in zip(years, self.course.high_cm.tolist(), strict=True)]
        lower = [place(*one) for one in zip(years, self.course.low_cm.tolist(), strict=True)]
        band = QColor(self.colour(QPalette.ColorRole.Accent))
        band.setAlpha(BAND_ALPHA)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(band)
        painter.drawPolygon(QPolygonF([*upper, *reversed(lower)]))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(self.colour(QPalette.ColorRole.Accent), 2, Qt.PenStyle.DashLine))
        painter.drawPolyline([place(*one) for one in zip(years, self.course.middle_cm.tolist(), strict=True)])

    def _paint_readings(self, painter: QPainter, place: Place) -> None:
        points = [place(year_of(reading.on), reading.value) for reading in self.readings]
        painter.setPen(QPen(self.colour(QPalette.ColorRole.Accent), 2))
        painter.drawPolyline(points)
        for reading, point in zip(self.readings, points, strict=True):
            later = self._on is not None and reading.on > self._on
            painter.setBrush(self.colour(QPalette.ColorRole.Base if later else QPalette.ColorRole.Accent))
            painter.drawEllipse(point, 4.5, 4.5)
            self._hot.append((QRectF(point.x() - 8, point.y() - 8, 16, 16), reading.words))
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _paint_target(self, painter: QPainter, plot: QRectF, place: Place, first: float, last: float) -> None:
        """Paint the target across, the interval of the year as a bar on it and the year as a mark."""
        if self.aim.target_cm is None:
            return
        text = self.colour(QPalette.ColorRole.Text)
        painter.setPen(QPen(text, 1.5, Qt.PenStyle.DashDotLine))
        left, right = place(first, self.aim.target_cm), place(last, self.aim.target_cm)
        painter.drawLine(left, right)
        metrics = QFontMetricsF(self.font())
        words = f"target {self.aim.target_cm:g} cm"
        box = QRectF(plot.left() + 4, left.y() - metrics.height() - 2, plot.width() - 8, metrics.height())
        painter.drawText(box, ALIGN.AlignLeft | ALIGN.AlignVCenter, words)
        self._hot.append((QRectF(plot.left(), left.y() - 6, metrics.horizontalAdvance(words), 12), words))
        if self.aim.year is None or self.aim.low is None:
            return
        begin, end = (place(min(max(year, first), last), self.aim.target_cm) for year in self._interval(last))
        painter.setPen(QPen(text, 4, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
        painter.drawLine(begin, end)
        middle = place(min(max(self.aim.year + 0.5, first), last), self.aim.target_cm)
        painter.setPen(QPen(text, 2))
        painter.setBrush(self.colour(QPalette.ColorRole.Base))
        painter.drawPolygon(QPolygonF([middle + QPointF(*corner) for corner in ((0, -7), (7, 0), (0, 7), (-7, 0))]))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        self._hot.insert(0, (QRectF(begin.x() - 4, middle.y() - 9, end.x() - begin.x() + 8, 18), self._ready_words()))

    def _interval(self, last: float) -> tuple[float, float]:
        return self.aim.low or last, last if self.aim.high is None else self.aim.high + 1.0

    def _ready_words(self) -> str:
        latest = "open" if self.aim.high is None else f"{self.aim.high:.0f}"
        return f"ready {self.aim.year:.0f}, 80 % interval {self.aim.low:.0f} to {latest}"

    def _words_ahead(self) -> list[str]:
        words = [] if self.aim.target_cm is None else [f"target {self.aim.target_cm:g} cm"]
        return words if self.aim.year is None or self.aim.low is None else [*words, self._ready_words()]

    def _top(self) -> float:
        highest = [reading.value for reading in self.readings]
        if self.course is not None and self.course.ahead:
            highest.append(float(self.course.high_cm.max()))
        if self.aim.target_cm is not None:
            highest.append(1.08 * self.aim.target_cm)
        return min(max(highest), 2.0 * max(self.aim.target_cm or 0.0, *(reading.value for reading in self.readings)))

    def _years(self) -> tuple[float, float]:
        years = [year_of(reading.on) for reading in self.readings]
        if self.course is not None:
            years += [year_of(day) for day in self.course.ahead]
        first, last = float(int(min(years))), float(int(max(years)) + 1)
        return first, max(last, first + LEAST_YEARS)


def _aim(row: Mapping[str, object] | None) -> Aim:
    """Return what a tree grows towards; one that has reached it has a target and no year."""
    if row is None:
        return Aim(None, None, None, None)
    keys = ("target_cm", "ready_year", "ready_year_low", "ready_year_high")
    target, year, low, high = (float(value) if isinstance(value, int | float) else None for value in map(row.get, keys))
    dbh = row.get("dbh_cm")
    is_there = target is not None and isinstance(dbh, int | float) and dbh >= target
    return Aim(target, None, None, None) if is_there else Aim(target, year, low, high)
