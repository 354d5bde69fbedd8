"""A chart of bars that are stacked from parts, each part with its colour, its hatching and its letter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QPainter, QPalette, QPen
from PySide6.QtWidgets import QWidget

from farmmap.panels.chart import ALIGN, Chart, ink_on, round_ticks

HATCHES = (
    Qt.BrushStyle.NoBrush,
    Qt.BrushStyle.BDiagPattern,
    Qt.BrushStyle.HorPattern,
    Qt.BrushStyle.FDiagPattern,
    Qt.BrushStyle.Dense6Pattern,
    Qt.BrushStyle.VerPattern,
    Qt.BrushStyle.DiagCrossPattern,
    Qt.BrushStyle.CrossPattern,
)
"""Hatchings by which parts are told apart beside their colours."""
_INK = QColor("#1a1d20")
_GAP = 6.0


@dataclass(frozen=True)
class Kind:
    """One kind of part: its name, colour ``#rrggbb``, place among `HATCHES`, and letter."""

    name: str
    colour: str
    hatch: int
    letter: str


@dataclass(frozen=True)
class Stack:
    """One bar: what stands under it, its parts by kind from the ground up, the bounds of their sum, nan for none."""

    name: str
    parts: tuple[tuple[Kind, float], ...]
    low: float
    high: float

    @property
    def height(self) -> float:
        """All parts together."""
        return sum(amount for _, amount in self.parts)


class StackedChart(Chart):
    """Stacked bars over words, with a key of their kinds beneath."""

    def __init__(self, name: str, upright: str, parent: QWidget | None = None) -> None:
        super().__init__(name, parent)
        self._upright = upright
        self.stacks: tuple[Stack, ...] = ()
        self.kinds: tuple[Kind, ...] = ()

    def show_stacks(self, name: str, stacks: Sequence[Stack], kinds: Sequence[Kind], empty_words: str) -> None:
        """Show these bars under a heading, or words if there are none; their kinds from the ground up."""
        self._name, self.stacks, self.kinds, self._empty_words = name, tuple(stacks), tuple(kinds), empty_words
        self.setAccessibleName(name)
        self.setAccessibleDescription("; ".join(map(_words, self.stacks)) or empty_words)
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """High enough for bars and key."""
        unit = self.fontMetrics().height()
        return QSize(unit * 20, unit * 12 + len(self._key_rows(self.width() - 16.0)) * round(unit * 1.3))

    def minimumSizeHint(self) -> QSize:
        """As small as can still be read."""
        unit = self.fontMetrics().height()
        return QSize(unit * 10, unit * 11 + len(self._key_rows(self.width() - 16.0)) * round(unit * 1.3))

    def is_empty(self) -> bool:
        """Whether there are no bars."""
        return not any(stack.height > 0 for stack in self.stacks)

    def paint_marks(self, painter: QPainter, inside: QRectF) -> None:
        """Paint the bars over their names, and the key beneath."""
        rows = self._key_rows(inside.width())
        line = QFontMetricsF(self.font()).height() * 1.3
        above = inside.adjusted(0, 0, 0, -line * len(rows))
        ticks = round_ticks(max(max(stack.height, stack.high) for stack in self.stacks), self.steps_for(above))
        plot = self.plot_inside(above, ticks)
        self.paint_scale(painter, plot, ticks, self._upright)
        wide = plot.width() / len(self.stacks)
        for place, stack in enumerate(self.stacks):
            left = plot.left() + place * wide
            bar = QRectF(left + min(_GAP, wide / 6), plot.top(), wide - 2 * min(_GAP, wide / 6), plot.height())
            self._paint_stack(painter, bar, stack, ticks[-1])
            self._hot.append((QRectF(left, plot.top(), wide, plot.height()), _words(stack)))
        self._paint_names(painter, plot, wide)
        self._paint_key(painter, inside, rows, line)

    def _paint_stack(self, painter: QPainter, bar: QRectF, stack: Stack, top: float) -> None:
        letters = QFontMetricsF(self.font())
        base = bar.bottom()
        for kind, amount in stack.parts:
            height = bar.height() * amount / top
            box = QRectF(bar.left(), base - height, bar.width(), height)
            _fill(painter, box, kind)
            if height >= letters.height() * 0.95 and bar.width() >= letters.horizontalAdvance(kind.letter) + 8:
                _letter(painter, box, kind, letters)
            self._hot.append((box, f"{stack.name}, {kind.name}: {amount:.1f} m³"))
            base -= height
        if stack.high > stack.low > 0:
            low, high = (bar.bottom() - bar.height() * value / top for value in (stack.low, stack.high))
            middle, arm = bar.center().x(), min(6.0, bar.width() / 4)
            for colour, width in ((self.colour(QPalette.ColorRole.Base), 4.0), (self._text(), 1.6)):
                painter.setPen(QPen(colour, width))
                painter.drawLine(QPointF(middle, low), QPointF(middle, high))
                for end in (low, high):
                    painter.drawLine(QPointF(middle - arm, end), QPointF(middle + arm, end))

    def _paint_names(self, painter: QPainter, plot: QRectF, wide: float) -> None:
        metrics = QFontMetricsF(self.font())
        widest = max(metrics.horizontalAdvance(stack.name) for stack in self.stacks) + 8
        every = next(n for n in (1, 2, 3, 4, 6, 12, 100) if n * wide >= widest or n == 100)
        painter.setPen(self.colour(QPalette.ColorRole.PlaceholderText))
        for place in range(0, len(self.stacks), every):
            middle = plot.left() + (place + 0.5) * wide
            box = QRectF(middle - widest / 2, plot.bottom() + 4, widest, metrics.height())
            box.moveLeft(min(max(box.left(), 0.0), self.width() - widest))
            painter.drawText(box, ALIGN.AlignHCenter, self.stacks[place].name)

    def _key_rows(self, width: float) -> list[list[Kind]]:
        """Kinds of the key in rows that are no wider than there is room."""
        rows: list[list[Kind]] = []
        used = width
        for kind in self.kinds:
            needs = self._key_width(kind)
            if used + needs > width or not rows:
                rows.append([])
                used = 0.0
            rows[-1].append(kind)
            used += needs
        return rows

    def _key_width(self, kind: Kind) -> float:
        metrics = QFontMetricsF(self.font())
        return metrics.height() * 1.4 + metrics.horizontalAdvance(kind.name) + 24

    def _paint_key(self, painter: QPainter, inside: QRectF, rows: Sequence[Sequence[Kind]], line: float) -> None:
        metrics = QFontMetricsF(self.font())
        for number, row in enumerate(rows):
            top, left = inside.bottom() - line * (len(rows) - number), inside.left()
            for kind in row:
                box = QRectF(left, top, metrics.height() * 1.4, metrics.height())
                _fill(painter, box, kind)
                _letter(painter, box, kind, metrics)
                painter.setPen(self._text())
                room = QRectF(box.right() + 6, top, inside.right() - box.right() - 6, metrics.height())
                name = metrics.elidedText(kind.name, Qt.TextElideMode.ElideRight, room.width())
                painter.drawText(room, ALIGN.AlignLeft | ALIGN.AlignVCenter, name)
                left += self._key_width(kind)

    def _text(self) -> QColor:
        return self.colour(QPalette.ColorRole.Text)


def _fill(painter: QPainter, box: QRectF, kind: Kind) -> None:
    painter.fillRect(box, QColor(kind.colour))
    painter.fillRect(box, QBrush(_INK, HATCHES[kind.hatch % len(HATCHES)]))
    painter.setPen(QPen(_INK, 0.8))
    painter.drawRect(box)


def _letter(painter: QPainter, box: QRectF, kind: Kind, metrics: QFontMetricsF) -> None:
    """Paint a kind's letter on a patch of its own colour, so that hatching does not cross it."""
    wide = metrics.horizontalAdvance(kind.letter) + 4
    patch = QRectF(box.center().x() - wide / 2, box.center().y() - metrics.ascent() / 2 - 1, wide, metrics.ascent() + 2)
    painter.fillRect(patch.intersected(box.adjusted(1, 1, -1, -1)), QColor(kind.colour))
    painter.setPen(ink_on(kind.colour))
    painter.drawText(box, ALIGN.AlignCenter, kind.letter)


def _words(stack: Stack) -> str:
    parts = ", ".join(f"{kind.name} {amount:.1f}" for kind, amount in reversed(stack.parts) if amount > 0)
    between = f" ({stack.low:.1f} to {stack.high:.1f})" if stack.high >= stack.low else ""
    return f"{stack.name}: {stack.height:.1f} m³{between}; {parts}"
