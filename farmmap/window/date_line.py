"""The date line: a slider over the farm's years, with marks on days of measurement, and on into the forecast."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left, bisect_right

from PySide6.QtCore import QDate, QPointF, QRectF, QSignalBlocker, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import QAbstractSlider, QDateEdit, QHBoxLayout, QLabel, QSizePolicy, QToolButton, QWidget

from farmmap.farm.day_words import in_words
from farmmap.window.farm_days import FarmDays

SHOWN, FORECAST_FOR, COMING = "Shown as at", "Forecast for", "Forecast coming"
FORECAST = "forecast"
_ENDS = 14
"""Room for half the knob at either end [px]."""


class DateSlider(QAbstractSlider):
    """A level line of days; its value is a day's ordinal.

    Left and right go a month, page keys from one measurement to the next,
    Home and End to the ends.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._days: FarmDays | None = None
        self.setOrientation(Qt.Orientation.Horizontal)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Date")
        self.setToolTip(
            "Slide to another date. Marks show days of measurement; the broken line beyond today is forecast.\n"
            "Keys: ← → a month, Page Up and Page Down a measurement, Home and End."
        )

    def show_days(self, days: FarmDays) -> None:
        """Run over a farm's days."""
        self._days = days
        self.blockSignals(True)
        self.setRange(days.first.toordinal(), days.ahead.toordinal())
        self.setSingleStep(30)
        self.blockSignals(False)
        self.update()

    def day(self) -> dt.date:
        """Return the day that it stands on."""
        return dt.date.fromordinal(max(self.value(), 1))

    def neighbour(self, step: int) -> dt.date | None:
        """Return the measurement day before (-1) or after (+1) the one it stands on."""
        measured = self._days.measured if self._days else ()
        index = bisect_right(measured, self.day()) if step > 0 else bisect_left(measured, self.day()) - 1
        return measured[index] if 0 <= index < len(measured) else None

    def x_of(self, day: dt.date) -> float:
        """Return where a day lies on the line [px]."""
        span = max(1, self.maximum() - self.minimum())
        return _ENDS + (self.width() - 2 * _ENDS) * (day.toordinal() - self.minimum()) / span

    def sizeHint(self) -> QSize:
        """High enough for words, line, marks and years."""
        return QSize(240, 24 + 2 * self.fontMetrics().height())

    def minimumSizeHint(self) -> QSize:
        """As `sizeHint`, but narrow."""
        return QSize(120, self.sizeHint().height())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Step by months, or by measurements."""
        key = event.key()
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self.setValue(_months_on(self.day(), -1 if key == Qt.Key.Key_Left else 1).toordinal())
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            day = self.neighbour(1 if key == Qt.Key.Key_PageUp else -1)
            if day is not None:
                self.setValue(day.toordinal())
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the knob, wherever the line is pressed."""
        if event.button() == Qt.MouseButton.LeftButton:
            self.setSliderDown(True)
            self._move_to(event.position().x())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Slide along."""
        if self.isSliderDown():
            self._move_to(event.position().x())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: ARG002 - Qt gives it
        """Let go."""
        self.setSliderDown(False)

    def _move_to(self, x: float) -> None:
        part = min(1.0, max(0.0, (x - _ENDS) / max(1, self.width() - 2 * _ENDS)))
        day = dt.date.fromordinal(round(self.minimum() + part * (self.maximum() - self.minimum())))
        near = [mark for mark in (self._days.measured if self._days else ()) if abs(self.x_of(mark) - x) <= 3]
        self.setValue((min(near, key=lambda mark: abs(mark - day)) if near else day).toordinal())

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002 - the whole line is painted
        """Paint the line, years, marks, today, what is forecast, and the knob."""
        if self._days is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle = QFontMetricsF(self.font()).height() + 9.0
        text, quiet, accent, base = (
            self.palette().color(role)
            for role in (
                QPalette.ColorRole.WindowText,
                QPalette.ColorRole.PlaceholderText,
                QPalette.ColorRole.Accent,
                QPalette.ColorRole.Base,
            )
        )
        here, now = self.x_of(self.day()), self.x_of(self._days.last)
        _line(painter, QPen(quiet, 2), _ENDS, now, middle)
        _line(painter, QPen(quiet, 2, Qt.PenStyle.DotLine), now, self.width() - _ENDS, middle)
        _line(painter, QPen(accent, 4), _ENDS, min(here, now), middle)
        _line(painter, _broken(accent), now, here, middle)
        self._paint_marks(painter, middle, text)
        self._paint_today(painter, middle, now, text)
        self._paint_years(painter, middle, quiet)
        painter.setPen(QPen(accent, 3 if self.hasFocus() else 2))
        painter.setBrush(accent if self.hasFocus() else base)
        painter.drawEllipse(QPointF(here, middle), 8, 8)
        painter.end()

    def _paint_marks(self, painter: QPainter, middle: float, colour: QColor) -> None:
        assert self._days is not None
        painter.setPen(QPen(colour, 2))
        for x in sorted({round(self.x_of(day)) for day in self._days.measured}):
            painter.drawLine(QPointF(x, middle - 9), QPointF(x, middle + 9))

    def _paint_today(self, painter: QPainter, middle: float, now: float, colour: QColor) -> None:
        """Mark where what is known ends, and say what lies on either side."""
        assert self._days is not None
        metrics = QFontMetricsF(self.font())
        painter.setPen(QPen(colour, 1))
        painter.drawLine(QPointF(now, 2), QPointF(now, middle + 9))
        box = QRectF(now + 5, 0, self.width() - now - 5, metrics.height())
        painter.drawText(box, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, FORECAST)
        words = "today" if self._days.last == self._days.today else "last measured"
        if metrics.horizontalAdvance(words) + 5 <= now:
            box = QRectF(0, 0, now - 5, metrics.height())
            painter.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, words)

    def _paint_years(self, painter: QPainter, middle: float, colour: QColor) -> None:
        assert self._days is not None
        metrics = QFontMetricsF(self.font())
        first, last = self._days.first, self._days.ahead
        widest = metrics.horizontalAdvance("2000") + 16
        years = max(1, last.year - first.year)
        a_year = (self.width() - 2 * _ENDS) / max(1.0, (last - first).days / 365.25)
        every = next(n for n in (1, 2, 5, 10, 20, 50, 100, 200) if n * a_year >= widest or n >= years)
        painter.setPen(colour)
        for year in range(first.year, last.year + 1):
            x = self.x_of(dt.date(year, 1, 1))
            if year % every or not widest / 2 - 8 <= x <= self.width() - widest / 2 + 8:
                continue
            box = QRectF(x - widest, middle + 12, 2 * widest, metrics.height())
            painter.drawText(box, Qt.AlignmentFlag.AlignHCenter, str(year))


def _line(painter: QPainter, pen: QPen, left: float, right: float, y: float) -> None:
    if left < right:
        painter.setPen(pen)
        painter.drawLine(QPointF(left, y), QPointF(right, y))


def _broken(colour: QColor) -> QPen:
    pen = QPen(colour, 4)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setDashPattern([1.5, 1.0])
    return pen


class DateLine(QWidget):
    """The slider with its buttons and a field in which a date can be typed."""

    date_chosen = Signal(object)
    """The day that was chosen, a `datetime.date`."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.slider = DateSlider()
        self.earlier = _button("◂", "To the measurement before (Page Down)")
        self.later = _button("▸", "To the next measurement (Page Up)")
        self.today = _button("Today", "Back to the last day that needs no forecast")
        self.field = QDateEdit()
        self.field.setDisplayFormat("d MMM yyyy")
        self.field.setAccessibleName("Date")
        self.field.setToolTip(
            "Everything is shown as it was measured by the end of this day, or as it is forecast for it."
        )
        self.field.setKeyboardTracking(False)
        self.words = QLabel(SHOWN)
        self.words.setBuddy(self.field)
        metrics = self.words.fontMetrics()
        self.words.setMinimumWidth(max(map(metrics.horizontalAdvance, (SHOWN, FORECAST_FOR, COMING))))
        self._days: FarmDays | None = None
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 4, 10, 2)
        for widget in (self.words, self.field, self.today, self.earlier, self.slider, self.later):
            row.addWidget(widget, 1 if widget is self.slider else 0, Qt.AlignmentFlag.AlignVCenter)
        self.slider.valueChanged.connect(self._slid)
        self.field.dateChanged.connect(self._typed)
        self.earlier.clicked.connect(lambda: self._go(-1))
        self.later.clicked.connect(lambda: self._go(1))
        self.today.clicked.connect(self._go_back)

    def show_days(self, days: FarmDays, on: dt.date) -> None:
        """Run over a farm's days and stand on one of them."""
        self.field.blockSignals(True)
        self.field.setDateRange(_qdate(days.first), _qdate(days.ahead))
        self.field.blockSignals(False)
        self._days = days
        self.slider.show_days(days)
        self.show_date(on)

    def show_date(self, on: dt.date, *, is_coming: bool = False) -> None:
        """Stand on a day without telling anybody.

        Parameters
        ----------
        on : date
            The day.
        is_coming : bool
            Whether its forecast is not there yet.
        """
        with QSignalBlocker(self.slider), QSignalBlocker(self.field):
            self.slider.setValue(on.toordinal())
            self.field.setDate(_qdate(on))
        self.slider.update()
        ahead = self._days is not None and self._days.is_forecast(on)
        self.words.setText(COMING if is_coming else FORECAST_FOR if ahead else SHOWN)
        self.slider.setAccessibleDescription(f"{self.words.text()} {in_words(on)}")
        self.today.setEnabled(self._days is not None and on != self._days.last)
        self.earlier.setEnabled(self.slider.neighbour(-1) is not None)
        self.later.setEnabled(self.slider.neighbour(1) is not None)

    def _go_back(self) -> None:
        if self._days is not None:
            self.date_chosen.emit(self._days.last)

    def _slid(self, value: int) -> None:
        self.date_chosen.emit(dt.date.fromordinal(value))

    def _typed(self, date: QDate) -> None:
        self.date_chosen.emit(dt.date(date.year(), date.month(), date.day()))

    def _go(self, step: int) -> None:
        day = self.slider.neighbour(step)
        if day is not None:
            self.date_chosen.emit(day)


def _button(sign: str, words: str) -> QToolButton:
    button = QToolButton()
    button.setText(sign)
    button.setAutoRaise(True)
    button.setToolTip(words)
    button.setAccessibleName(words)
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    return button


def _qdate(day: dt.date) -> QDate:
    return QDate(day.year, day.month, day.day)


def _months_on(day: dt.date, months: int) -> dt.date:
    moved = _qdate(day).addMonths(months)
    return dt.date(moved.year(), moved.month(), moved.day())
