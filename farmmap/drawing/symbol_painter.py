"""Tree symbols and the samples of a key."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen, QPolygonF, QTransform

from farmmap.drawing.fonts import font, written
from farmmap.drawing.hatch_painter import hatch_rectangle
from farmmap.drawing.line_painter import paint_line
from farmmap.drawing.marks import paint_mark
from farmmap.drawing.pens import brush, colour, pen
from farmmap.scene.scene import PLANNED, STANDING, UNMEASURED, Sample, TextSample, TreeSample
from farmmap.scene.sizes import GONE_MM, LETTER_FROM_MM, PLANNED_MM, UNMEASURED_MM, outline_mm
from farmmap.scene.styles import LEAST_TEXT_MM, AreaStyle, LineStyle, MarkStyle, TextStyle, Theme, ink_on, mixed
from farmmap.scene.symbols import SpeciesSymbol

SAMPLE_TREE_MM = 2.6
"""Width of a tree in the key, wide enough to carry its letter. [mm]"""

SOLID_BELOW_MM = 0.6
"""Narrower symbols are filled with the ink in a look without colours, as they would not stay open in a copy. [mm]"""

_LEAST_OUTLINED_DOTS = 5.0
_STAKED, _STAKE, _STAKE_WIDE = 0.75, 0.9, 0.1  # disc and foot of a planned tree, and its stake, in widths


@cache
def symbol_path(shape: str) -> QPainterPath:
    """Outline of a symbol about the origin, with the area of a circle of diameter 1."""
    path = QPainterPath()
    if shape == "circle":
        path.addEllipse(QPointF(0, 0), 0.5, 0.5)
        return path
    corners = {
        "square": _regular(4, 45.0),
        "diamond": _regular(4, 0.0),
        "triangle": _regular(3, -90.0),
        "wedge": _regular(3, 90.0),
        "plus": _plus(),
    }[shape]
    area = (
        abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1], strict=True))) / 2
    )
    scale = math.sqrt(math.pi / 4 / area)
    path.addPolygon(QPolygonF([QPointF(x * scale, y * scale) for x, y in corners]))
    path.closeSubpath()
    return path


def _regular(sides: int, first_deg: float) -> list[tuple[float, float]]:
    angles = [math.radians(first_deg + 360 / sides * side) for side in range(sides)]
    return [(math.cos(angle), math.sin(angle)) for angle in angles]


def _plus() -> list[tuple[float, float]]:
    arm, half = 1.0, 0.58
    quarter = [(half, -arm), (half, -half), (arm, -half)]
    corners = [complex(x, y) * 1j**turn for turn in range(4) for x, y in quarter]
    return [(corner.real, corner.imag) for corner in corners]


@dataclass(frozen=True)
class TreePaint:
    """How one kind of tree is painted on one device, everything in dots.

    Attributes
    ----------
    symbol : SpeciesSymbol
        Colour, shape and letter.
    drawn_as : int
        As in `farmmap.scene.scene`.
    size : float
        Width of the symbol.
    outline : float
        Weight of its ring.
    lettered : bool
        Whether it carries its letter.
    ink, gone : str
        Colours of the ring and of crosses.
    least_text : float
        Smallest type.
    staked : bool
        Whether a planned tree has a ring and a stake, which tell it from a small one that stands.
    dotted : bool
        Whether one that is not measured has a dot in it, which tells it from a white one that is.
    """

    symbol: SpeciesSymbol
    drawn_as: int
    size: float
    outline: float
    lettered: bool
    ink: str
    gone: str
    least_text: float
    staked: bool = False
    dotted: bool = False

    def start(self, painter: QPainter) -> QPainterPath:
        """Set the painter's pen and brush, and return the path to paint at each tree."""
        path = symbol_path(self.symbol.shape)
        match self.drawn_as:
            case 0:  # standing
                painter.setBrush(brush(self.symbol.colour))
                painter.setPen(self._ring())
            case 1:  # not measured
                painter.setBrush(Qt.BrushStyle.NoBrush)
                share = 0.0 if self.dotted else 0.45
                painter.setPen(QPen(colour(mixed(self.symbol.colour, share, self.ink)), max(self.outline, 0.8)))
                path = _dotted(self.symbol.shape) if self.dotted else path
            case 2:  # gone
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setPen(QPen(colour(self.gone), max(self.outline, 0.8)))
                path = _cross()
            case _:  # planned
                painter.setBrush(brush(self.symbol.colour))
                painter.setPen(self._ring() if self.staked else QPen(Qt.PenStyle.NoPen))
                path = _staked() if self.staked else symbol_path("circle")
        return QTransform.fromScale(self.size, self.size).map(path)

    def _ring(self) -> QPen:
        if self.size < _LEAST_OUTLINED_DOTS or not self.outline:
            return QPen(Qt.PenStyle.NoPen)
        made = QPen(colour(self.ink), self.outline)
        made.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
        return made

    @property
    def is_finished(self) -> bool:
        """Whether anything stands inside the symbol."""
        return self.drawn_as == STANDING and (self.lettered or bool(self.symbol.mark))

    def finish(self, painter: QPainter, x: float, y: float) -> None:
        """Paint what stands inside the symbol at a place."""
        if not self.is_finished:
            return
        ink = colour(ink_on(self.symbol.colour))
        if self.symbol.mark and not self.lettered:
            painter.setPen(QPen(ink, self.size * 0.1))
            painter.setBrush(ink if self.symbol.mark == "dot" else QColor(Qt.GlobalColor.transparent))
            painter.drawEllipse(QPointF(x, y), self.size * 0.16, self.size * 0.16)
        if self.lettered:
            made = self.letter_font()
            metrics = QFontMetricsF(made)
            painter.setFont(made)
            painter.setPen(ink)
            said = written(self.symbol.letter)
            across = metrics.horizontalAdvance(said) / 2
            down = metrics.capHeight() / 2 + self.size * _LETTER_DROP.get(self.symbol.shape, 0.0)
            painter.drawText(QPointF(x - across, y + down), said)

    def letter_font(self) -> QFont:
        """Font of the letter."""
        wide = 0.62 if len(self.symbol.letter) == 1 else 0.5
        style = TextStyle("", max(self.size * wide, self.least_text), "bold")
        return font(style, 1.0)


_LETTER_DROP = {"triangle": 0.06, "wedge": -0.06}


def tree_paint(symbol: SpeciesSymbol, drawn_as: int, size_mm: float, theme: Theme, dots_per_mm: float) -> TreePaint:
    """Return how a tree of a kind is painted.

    Parameters
    ----------
    symbol : SpeciesSymbol
        Its species.
    drawn_as : int
        As in `farmmap.scene.scene`.
    size_mm : float
        Width of the symbol. [mm]
    theme : Theme
        The look.
    dots_per_mm : float
        Resolution of the device.
    """
    ringed = drawn_as == STANDING or (drawn_as == PLANNED and theme.least_ring_mm > 0)
    weight = outline_mm(size_mm, theme.outline_mm, theme.least_ring_mm) if ringed else theme.outline_mm
    if theme.fills and size_mm < SOLID_BELOW_MM:
        symbol, weight = replace(symbol, colour=theme.small), 0.0
    elif theme.fills:
        symbol = replace(symbol, colour=theme.fill_of(symbol.colour))
    staked = drawn_as == PLANNED and theme.least_ring_mm > 0 and size_mm * dots_per_mm >= _LEAST_OUTLINED_DOTS
    needed = LETTER_FROM_MM * (1.0 if len(symbol.letter) == 1 else 1.3)
    return TreePaint(
        symbol,
        drawn_as,
        size_mm * dots_per_mm,
        weight * dots_per_mm,
        drawn_as == STANDING and bool(symbol.letter) and size_mm >= needed,
        theme.ink,
        theme.gone,
        LEAST_TEXT_MM * dots_per_mm,
        staked,
        drawn_as == UNMEASURED and bool(theme.fills),
    )


def paint_sample(painter: QPainter, rect: QRectF, sample: Sample, theme: Theme, dots_per_mm: float) -> None:
    """Paint what stands in front of a line of the key.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    rect : QRectF
        Where, about 8 mm by 4 mm. [dots]
    sample : Sample
        What.
    theme : Theme
        The look.
    dots_per_mm : float
        Resolution of the device.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    middle = rect.center()
    match sample:
        case TreeSample():
            size = (SAMPLE_TREE_MM, UNMEASURED_MM, GONE_MM * 1.4, PLANNED_MM * 1.4)[sample.drawn_as]
            if len(sample.symbol.letter) > 1 and sample.drawn_as == STANDING:
                size *= 1.2
            paint = tree_paint(sample.symbol, sample.drawn_as, size, theme, dots_per_mm)
            paint = replace(paint, lettered=sample.drawn_as == STANDING and bool(sample.symbol.letter))
            paint_tree(painter, middle.x(), middle.y(), paint)
        case AreaStyle():
            inset = rect.adjusted(0.4 * dots_per_mm, 0.3 * dots_per_mm, -0.4 * dots_per_mm, -0.3 * dots_per_mm)
            painter.setBrush(brush(sample.fill, sample.opacity))
            painter.setPen(pen(sample.line, sample.line_mm, dots_per_mm, sample.dash))
            painter.drawRect(inset)
            if sample.hatch:
                hatch_rectangle(painter, sample.hatch, dots_per_mm, inset)
        case LineStyle():
            _paint_line_sample(painter, rect, sample, dots_per_mm)
        case MarkStyle():
            if sample.shape == "view":  # it reaches to one side of its place, and as far as two lines of a key are high
                sample = replace(sample, size_mm=0.75 * sample.size_mm)
                middle += QPointF(-0.4, 0.2) * sample.size_mm * dots_per_mm
            paint_mark(painter, middle.x(), middle.y(), sample, dots_per_mm)
        case TextSample():
            painter.setFont(font(sample.style, dots_per_mm))
            painter.setPen(colour(sample.style.colour))
            painter.drawText(rect, Qt.AlignmentFlag.AlignCenter, sample.text)
    painter.restore()


def paint_tree(painter: QPainter, x: float, y: float, paint: TreePaint) -> None:
    """Paint one tree at a place. [dots]."""
    path = paint.start(painter)
    painter.drawPath(path.translated(x, y))
    paint.finish(painter, x, y)


def _paint_line_sample(painter: QPainter, rect: QRectF, style: LineStyle, dots_per_mm: float) -> None:
    across = np.linspace(rect.left(), rect.right(), 9)
    wave = np.sin(np.linspace(-1.2, 1.2, 9) * 2) * rect.height() * 0.12
    paint_line(painter, np.column_stack([across, rect.center().y() + wave]), style, dots_per_mm, marks_from_mm=4.0)


@cache
def _staked() -> QPainterPath:
    """Return a disc on a stake, for a tree that is to be planted."""
    path = QPainterPath()
    path.addEllipse(QPointF(0, 0), _STAKED / 2, _STAKED / 2)
    path.addRect(QRectF(-_STAKE_WIDE / 2, _STAKED / 2, _STAKE_WIDE, _STAKE - _STAKED / 2))
    return path


@cache
def _dotted(shape: str) -> QPainterPath:
    """Return an outline with a dot in its middle, as large as the pen makes it."""
    path = QPainterPath(symbol_path(shape))
    path.addEllipse(QPointF(0, 0), 0.03, 0.03)
    return path


@cache
def _cross() -> QPainterPath:
    path = QPainterPath(QPointF(-0.5, -0.5))
    path.lineTo(0.5, 0.5)
    path.moveTo(0.5, -0.5)
    path.lineTo(-0.5, 0.5)
    return path
