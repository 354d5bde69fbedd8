"""A chart of measurements over the years."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPalette, QPen
from PySide6.QtWidgets import QWidget

from farmmap.panels.chart import ALIGN, Chart, round_ticks


@dataclass(frozen=True)
class Reading:
    """One measurement: its day, its value and what it says in words."""

    on: dt.date
    value: float
    words: str


class LineChart(Chart):
    """Readings over time, joined, with the chosen date as an upright line."""

    def __init__(self, name: str, upright: str, parent: QWidget | None = None) -> None:
        super().__init__(name, parent)
        self._upright = upright
        self.readings: tuple[Reading, ...] = ()
        self._on: dt.date | None = None

    def show_readings(self, name: str, readings: Sequence[Reading], on: dt.date, empty_words: str) -> None:
        """Show readings in the order of their days, those after ``on`` hollow."""
        self._name, self._on, self._empty_words = name, on, empty_words
        self.readings = tuple(sorted(readings, key=lambda reading: reading.on))
        self.setAccessibleName(name)
        self.setAccessibleDescription("; ".join(reading.words for reading in self.readings) or empty_words)
        self.update()

    def show_upright(self, words: str) -> None:
        """Name the upright scale."""
        self._upright = words

    def is_empty(self) -> bool:
        """Whether nothing was measured."""
        return not self.readings

    def paint_marks(self, painter: QPainter, inside: QRectF) -> None:
        """Paint years beneath, the scale at the left, the line and its points."""
        ticks = round_ticks(max(reading.value for reading in self.readings), self.steps_for(inside))
        plot = self.plot_inside(inside, ticks)
        self.paint_scale(painter, plot, ticks, self._upright)
        first, last = self._years()
        self.paint_years(painter, plot, first, last)

        def place(on: dt.date, value: float) -> QPointF:
            return QPointF(
                plot.left() + plot.width() * (year_of(on) - first) / (last - first),
                plot.bottom() - plot.height() * value / ticks[-1],
            )

        if self._on is not None and first <= year_of(self._on) <= last:
            painter.setPen(QPen(self.colour(QPalette.ColorRole.PlaceholderText), 1.5, Qt.PenStyle.DashLine))
            painter.drawLine(place(self._on, 0), place(self._on, ticks[-1]))
        points = [place(reading.on, reading.value) for reading in self.readings]
        painter.setPen(QPen(self.colour(QPalette.ColorRole.Accent), 2))
        painter.drawPolyline(points)
        for reading, point in zip(self.readings, points, strict=True):
            later = self._on is not None and reading.on > self._on
            painter.setBrush(self.colour(QPalette.ColorRole.Base if later else QPalette.ColorRole.Accent))
            painter.drawEllipse(point, 4.5, 4.5)
            self._hot.append((QRectF(point.x() - 8, point.y() - 8, 16, 16), reading.words))
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _years(self) -> tuple[float, float]:
        years = [year_of(reading.on) for reading in self.readings]
        return float(int(min(years))), float(int(max(years)) + 1)

    def paint_years(self, painter: QPainter, plot: QRectF, first: float, last: float) -> None:
        """Paint the years beneath the plot."""
        metrics = QFontMetricsF(self.font())
        widest = metrics.horizontalAdvance("2000") + 10
        span = last - first
        every = next(n for n in (1, 2, 5, 10, 20, 50, 100) if n * plot.width() / span >= widest or n == 100)
        painter.setPen(self.colour(QPalette.ColorRole.PlaceholderText))
        start = int(-(-first // every) * every)
        for year in range(start, int(last) + 1, every):
            x = plot.left() + plot.width() * (year - first) / span
            painter.drawLine(QPointF(x, plot.bottom()), QPointF(x, plot.bottom() + 4))
            if x + widest / 2 - 5 <= self.width():
                box = QRectF(x - widest, plot.bottom() + 5, 2 * widest, metrics.height())
                painter.drawText(box, ALIGN.AlignHCenter, str(year))


def year_of(day: dt.date) -> float:
    """Return a day as a year with its part that is over."""
    return day.year + (day.timetuple().tm_yday - 1) / 365.25
