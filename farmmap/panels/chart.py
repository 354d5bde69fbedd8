"""Charts of the panels: bars, shares and lines, painted in the window's own colours."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QHelpEvent, QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

ALIGN = Qt.AlignmentFlag
_PAD = 8.0
DARK_INK, WHITE_INK = QColor("#111111"), QColor("#FFFFFF")
"""Letters on marks that have a colour of their own, whatever the theme."""


def round_ticks(top: float, most: int = 5) -> list[float]:
    """Return round steps from 0 up to at least ``top``, no more than ``most`` steps.

    Parameters
    ----------
    top : float
        Largest value to be shown; 0 and less gives 0 and 1.
    most : int
        How many steps there may be.
    """
    if not top > 0:
        return [0.0, 1.0]
    raw = top / most
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(size * factor for factor in (1, 2, 5, 10) if size * factor >= raw * (1 - 1e-9))
    return [index * step for index in range(math.ceil(top / step - 1e-9) + 1)]


def number(value: float, places: int = 10) -> str:
    """Return a number for an axis, without needless noughts."""
    text = f"{value:.{places}f}".rstrip("0").rstrip(".") if places else f"{value:.0f}"
    return text or "0"


def ink_on(colour: str) -> QColor:
    """Return ink, dark or white, that can be read on a colour: whichever stands out more.

    Luminance and contrast as the Web Content Accessibility Guidelines 2.1 define them (W3C, 2018).
    """
    light = luminance(QColor(colour)) + 0.05
    return DARK_INK if light / (luminance(DARK_INK) + 0.05) >= 1.05 / light else WHITE_INK


def luminance(colour: QColor) -> float:
    """Return how light a colour is, from 0 for black to 1 for white."""
    parts = (colour.redF(), colour.greenF(), colour.blueF())
    red, green, blue = (part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


class Chart(QWidget):
    """What the charts share: a frame with axes, tooltips over marks, and words for who cannot see it."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._name = name
        self._empty_words = "Nothing to show yet."
        self._hot: list[tuple[QRectF, str]] = []
        self.setAccessibleName(name)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        """Wide rather than high."""
        unit = self.fontMetrics().height()
        return QSize(unit * 20, unit * 10)

    def minimumSizeHint(self) -> QSize:
        """As small as can still be read."""
        unit = self.fontMetrics().height()
        return QSize(unit * 10, unit * 8)

    def words_at(self, point: QPointF) -> str:
        """Return what the mark under a point of the widget stands for, "" if there is none."""
        return next((words for box, words in self._hot if box.contains(point)), "")

    def event(self, event: QEvent) -> bool:
        """Show what the mark under the pointer stands for."""
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            QToolTip.showText(event.globalPos(), self.words_at(QPointF(event.pos())), self)
            return True
        return super().event(event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002 - the whole chart is painted
        """Paint the heading and the marks."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._hot = []
        line_height = QFontMetricsF(self.font()).height()
        painter.setPen(self.colour(QPalette.ColorRole.Text))
        flags = ALIGN.AlignLeft | Qt.TextFlag.TextWordWrap
        room = QRectF(_PAD, 2, self.width() - 2 * _PAD, self.height())
        heading = max(line_height, QFontMetricsF(self.font()).boundingRect(room, flags, self._name).height())
        painter.drawText(room, flags, self._name)
        inside = QRectF(_PAD, heading + 8, self.width() - 2 * _PAD, self.height() - heading - 8 - _PAD)
        if self.is_empty():
            painter.setPen(self.colour(QPalette.ColorRole.PlaceholderText))
            flags = ALIGN.AlignCenter | Qt.TextFlag.TextWordWrap
            painter.drawText(inside, flags, self._empty_words)
        else:
            self.paint_marks(painter, inside)
        painter.end()

    def is_empty(self) -> bool:
        """Whether there is nothing to paint."""
        return True

    def paint_marks(self, painter: QPainter, inside: QRectF) -> None:
        """Paint axes and marks into a rectangle; a chart of its own kind says how."""

    def colour(self, role: QPalette.ColorRole) -> QColor:
        """Return a colour of the window's theme."""
        return self.palette().color(role)

    def paint_scale(self, painter: QPainter, plot: QRectF, ticks: Sequence[float], words: str) -> None:
        """Paint the upright scale left of the plot, with rules across it."""
        height = QFontMetricsF(self.font()).height()
        for tick in ticks:
            y = plot.bottom() - plot.height() * tick / ticks[-1]
            painter.setPen(QPen(self.colour(QPalette.ColorRole.Mid), 1))
            painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
            painter.setPen(self.colour(QPalette.ColorRole.PlaceholderText))
            box = QRectF(0, y - height / 2, plot.left() - 6, height)
            painter.drawText(box, ALIGN.AlignRight | ALIGN.AlignVCenter, number(tick))
        painter.drawText(
            QRectF(_PAD, plot.top() - 1.5 * height - 3, plot.width(), height),
            ALIGN.AlignLeft | ALIGN.AlignVCenter,
            words,
        )

    def steps_for(self, inside: QRectF) -> int:
        """Return how many steps of the upright scale there is room for."""
        height = QFontMetricsF(self.font()).height()
        return max(1, min(5, int((inside.height() - 3 * height - 14) / (1.5 * height))))

    def plot_inside(self, inside: QRectF, ticks: Sequence[float]) -> QRectF:
        """Return where marks go when scales and their words have their room."""
        metrics = QFontMetricsF(self.font())
        left = max(metrics.horizontalAdvance(number(tick)) for tick in ticks) + 12
        height = metrics.height()
        return QRectF(left, inside.top() + 1.5 * height + 3, inside.right() - left, inside.height() - 3.5 * height - 9)


@dataclass(frozen=True)
class Bar:
    """One bar: where it begins and ends on the scale beneath, how high, and what it stands for."""

    start: float
    end: float
    height: float
    words: str


class BarChart(Chart):
    """Bars side by side over classes of equal width."""

    def __init__(self, name: str, across: str, upright: str, parent: QWidget | None = None) -> None:
        super().__init__(name, parent)
        self._across, self._upright = across, upright
        self.bars: tuple[Bar, ...] = ()

    def show_bars(self, name: str, bars: Sequence[Bar], empty_words: str) -> None:
        """Show these bars under a heading, or words if there are none."""
        self._name, self.bars, self._empty_words = name, tuple(bars), empty_words
        self.setAccessibleName(name)
        self.setAccessibleDescription("; ".join(bar.words for bar in bars) or empty_words)
        self.update()

    def is_empty(self) -> bool:
        """Whether there are no bars."""
        return not self.bars

    def paint_marks(self, painter: QPainter, inside: QRectF) -> None:
        """Paint the bars over their scale."""
        ticks = round_ticks(max(bar.height for bar in self.bars), self.steps_for(inside))
        plot = self.plot_inside(inside, ticks)
        self.paint_scale(painter, plot, ticks, self._upright)
        first, last = min(bar.start for bar in self.bars), max(bar.end for bar in self.bars)
        across = plot.width() / (last - first)
        for bar in self.bars:
            height = plot.height() * bar.height / ticks[-1]
            left, right = (plot.left() + (edge - first) * across for edge in (bar.start, bar.end))
            box = QRectF(left + 1, plot.bottom() - height, max(right - left - 2, 1), height)
            painter.fillRect(box, self.colour(QPalette.ColorRole.Accent))
            self._hot.append((QRectF(left, plot.top(), right - left, plot.height()), bar.words))
        self._paint_edges(painter, plot, first, last)

    def _paint_edges(self, painter: QPainter, plot: QRectF, first: float, last: float) -> None:
        metrics = QFontMetricsF(self.font())
        width = self.bars[0].end - self.bars[0].start
        count = round((last - first) / width)
        widest = max(metrics.horizontalAdvance(number(edge)) for edge in (first, last)) + 10
        every = next(n for n in (1, 2, 4, 5, 10, 20, 50, 100, 1000) if n * plot.width() / count >= widest or n == 1000)
        painter.setPen(self.colour(QPalette.ColorRole.PlaceholderText))
        for index in range(0, count + 1, every):
            x = plot.left() + plot.width() * index / count
            box = QRectF(x - widest, plot.bottom() + 3, 2 * widest, metrics.height())
            if x + widest / 2 - 5 <= self.width():
                painter.drawText(box, ALIGN.AlignHCenter, number(first + index * width))
        below = QRectF(plot.left(), plot.bottom() + metrics.height() + 4, plot.width(), metrics.height())
        painter.drawText(below, ALIGN.AlignHCenter, self._across)


@dataclass(frozen=True)
class Share:
    """One share of a whole: what it is, its part from 0 to 1, the figures beside it, its colour."""

    name: str
    part: float
    figures: str
    colour: str


class ShareChart(Chart):
    """Shares of a whole as level bars, each with its name and figures in words."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(name, parent)
        self.shares: tuple[Share, ...] = ()

    def show_shares(self, name: str, shares: Sequence[Share], empty_words: str) -> None:
        """Show these shares under a heading, or words if there are none."""
        self._name, self.shares, self._empty_words = name, tuple(shares), empty_words
        self.setAccessibleName(name)
        self.setAccessibleDescription(
            "; ".join(f"{share.name} {100 * share.part:.0f} % ({share.figures})" for share in shares) or empty_words
        )
        self.updateGeometry()
        self.update()

    def minimumSizeHint(self) -> QSize:
        """High enough for every share."""
        unit = self.fontMetrics().height()
        return QSize(unit * 12, round(unit * 1.5) + 16 + max(2, len(self.shares)) * self._row_height())

    def sizeHint(self) -> QSize:
        """As high as its rows."""
        return QSize(self.fontMetrics().height() * 20, self.minimumSizeHint().height())

    def is_empty(self) -> bool:
        """Whether there are no shares."""
        return not self.shares

    def paint_marks(self, painter: QPainter, inside: QRectF) -> None:
        """Paint a row for each share: name and figures, and the bar beneath them."""
        metrics = QFontMetricsF(self.font())
        row = self._row_height()
        for index, share in enumerate(self.shares):
            top = inside.top() + index * row
            line = QRectF(inside.left(), top, inside.width(), metrics.height())
            figures = f"{share.figures}   {100 * share.part:.0f} %"
            room = inside.width() - metrics.horizontalAdvance(figures) - 12
            painter.setPen(self.colour(QPalette.ColorRole.Text))
            painter.drawText(
                line, ALIGN.AlignLeft, metrics.elidedText(share.name, Qt.TextElideMode.ElideRight, max(room, 20.0))
            )
            painter.drawText(line, ALIGN.AlignRight, figures)
            bar = QRectF(inside.left(), line.bottom() + 2, inside.width(), 7)
            painter.fillRect(bar, self.colour(QPalette.ColorRole.Midlight))
            painter.fillRect(QRectF(bar.left(), bar.top(), bar.width() * share.part, 7), QColor(share.colour))
            self._hot.append((QRectF(inside.left(), top, inside.width(), row), f"{share.name}: {figures}"))

    def _row_height(self) -> int:
        return self.fontMetrics().height() + 18
