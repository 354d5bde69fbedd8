"""Small drawings as form XObjects of a PDF: written into the file once, then put down at any number of places."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QPaintDevice,
    QPaintEngine,
    QPaintEngineState,
    QPainter,
    QPainterPath,
    QPen,
    QPolygonF,
    QTransform,
)

from farmmap.drawing.path_words import PDF

DOTS_PER_MM = 100.0
"""Units of a drawing to the millimetre; whole ones are as fine as places on paper need to be."""

_CAPS = {Qt.PenCapStyle.FlatCap: 0, Qt.PenCapStyle.RoundCap: 1, Qt.PenCapStyle.SquareCap: 2}
_JOINS = {Qt.PenJoinStyle.MiterJoin: 0, Qt.PenJoinStyle.RoundJoin: 1, Qt.PenJoinStyle.BevelJoin: 2}
_LONGEST_MITRE = 10.0  # of a stroke's width, as a PDF has it where nothing is said
_ALL_OPACITY = 255


@dataclass(frozen=True)
class Content:
    """Operators of a PDF's content, and what they call by name.

    Attributes
    ----------
    words : bytes
        The operators.
    uses : frozenset of str
        Names of forms.
    opacities : frozenset of int
        Opacities, of 255; the graphics state for each is called as `opacity_name` says.
    """

    words: bytes
    uses: frozenset[str] = frozenset()
    opacities: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Form:
    """A drawing about the origin, downwards and in units of 1 / `DOTS_PER_MM` mm.

    Attributes
    ----------
    content : Content
        What paints it.
    box : tuple of float
        Left, top, right and bottom of a rectangle that holds it.
    is_group : bool
        Whether it is painted as one thing: what covers itself does so without showing through.
    """

    content: Content
    box: tuple[float, float, float, float]
    is_group: bool = False


class FormBook:
    """The forms of a document; those that are alike are one.

    Attributes
    ----------
    forms : list of Form
        Each in the place that is its number; `form_name` says what it is called.
    """

    def __init__(self) -> None:
        self.forms: list[Form] = []
        self._numbers: dict[Form, int] = {}

    def number_of(self, form: Form) -> int:
        """Return the number of a form, which is put in when it comes for the first time."""
        found = self._numbers.setdefault(form, len(self.forms))
        if found == len(self.forms):
            self.forms.append(form)
        return found

    def name_of(self, form: Form) -> str:
        """Return what a form is called, which is put in when it comes for the first time."""
        return form_name(self.number_of(form))


def form_of(draw: Callable[[QPainter], None]) -> Form:
    """Return what is painted about the origin, at `DOTS_PER_MM` dots to the millimetre, as a form."""
    device = _Device()
    painter = QPainter(device)
    try:
        draw(painter)
    finally:
        painter.end()
    made, box = device.engine, device.engine.box
    content = Content("\n".join(made.said).encode(), opacities=frozenset(made.opacities))
    return Form(content, (box.left() - 1, box.top() - 1, box.right() + 1, box.bottom() + 1))


@cache
def disc() -> Form:
    """Return a form that fills a circle of diameter 1 with the colour that is set."""
    path = QPainterPath()
    path.addEllipse(QPointF(0, 0), 0.5, 0.5)
    return Form(Content(f"{PDF.path(path, places=4)}f".encode()), (-0.5, -0.5, 0.5, 0.5))


def form_name(number: int) -> str:
    """Return what a form is called in the file."""
    return f"T{number}"


def said(value: float) -> str:
    """Return a number as a PDF has it, to a hundredth."""
    return f"{round(value, 2):g}"


def colour_words(made: QColor) -> str:
    """Return red, green and blue as a PDF has them."""
    return " ".join(f"{part / 255:.4g}" for part in (made.red(), made.green(), made.blue()))


def opacity_name(opacity: int) -> str:
    """Return what a graphics state of an opacity, of 255, is called."""
    return f"A{opacity}"


class _Engine(QPaintEngine):
    """Writes down every path that is painted; Qt turns all else, letters too, into paths."""

    def __init__(self) -> None:
        super().__init__(QPaintEngine.PaintEngineFeature.AllFeatures)
        self.said: list[str] = []
        self.opacities: set[int] = set()
        self.box = QRectF()
        self._pen, self._brush, self._place = QPen(), QBrush(), QTransform()

    def begin(self, _: QPaintDevice) -> bool:
        return True

    def end(self) -> bool:
        return True

    def type(self) -> QPaintEngine.Type:
        return QPaintEngine.Type.User

    def updateState(self, state: QPaintEngineState) -> None:
        changed = state.state()
        if changed & QPaintEngine.DirtyFlag.DirtyPen:
            self._pen = QPen(state.pen())
        if changed & QPaintEngine.DirtyFlag.DirtyBrush:
            self._brush = QBrush(state.brush())
        if changed & QPaintEngine.DirtyFlag.DirtyTransform:
            self._place = QTransform(state.transform())

    def drawPath(self, path: QPainterPath) -> None:
        path = self._place.map(path)
        filled = self._brush.style() != Qt.BrushStyle.NoBrush and self._brush.color().alpha() > 0
        stroked = self._pen.style() != Qt.PenStyle.NoPen and self._pen.color().alpha() > 0
        if not (filled or stroked) or path.isEmpty():
            return
        rule = "*" if path.fillRule() == Qt.FillRule.OddEvenFill else ""
        how = f"B{rule}" if filled and stroked else f"f{rule}" if filled else "S"
        if filled:
            self.said.append(f"{colour_words(self._brush.color())} rg")
        if stroked:
            self.said.append(f"{colour_words(self._pen.color())} RG {self._stroke()}")
        self._set_opacity(self._brush.color().alpha() if filled else self._pen.color().alpha())
        self.said.append(f"{PDF.path(path)}{how}")
        mitred = _LONGEST_MITRE if self._pen.joinStyle() == Qt.PenJoinStyle.MiterJoin else 1.5
        reach = self._pen.widthF() * self._place.m11() / 2 * mitred if stroked else 0.0
        self.box = self.box.united(path.boundingRect().adjusted(-reach, -reach, reach, reach))

    def drawPolygon(self, points: Iterable[Any], mode: QPaintEngine.PolygonDrawMode) -> None:
        path = QPainterPath()
        path.addPolygon(QPolygonF(list(points)))
        brush = self._brush
        if mode == QPaintEngine.PolygonDrawMode.PolylineMode:
            self._brush = QBrush()
        else:
            path.closeSubpath()
            is_winding = mode == QPaintEngine.PolygonDrawMode.WindingMode
            path.setFillRule(Qt.FillRule.WindingFill if is_winding else Qt.FillRule.OddEvenFill)
        self.drawPath(path)
        self._brush = brush

    def _stroke(self) -> str:
        pen = self._pen
        width = pen.widthF() * self._place.m11()
        dash = " ".join(said(length * width) for length in pen.dashPattern())
        return f"{said(width)} w {_CAPS[pen.capStyle()]} J {_JOINS[pen.joinStyle()]} j [{dash}] 0 d"

    def _set_opacity(self, opacity: int) -> None:
        if opacity != _ALL_OPACITY or self.opacities:
            self.opacities.add(opacity)
            self.said.append(f"/{opacity_name(opacity)} gs")


class _Device(QPaintDevice):
    """What a painter paints on to have it written down."""

    def __init__(self) -> None:
        super().__init__()
        self.engine = _Engine()
        kinds = QPaintDevice.PaintDeviceMetric
        resolutions = (kinds.PdmDpiX, kinds.PdmDpiY, kinds.PdmPhysicalDpiX, kinds.PdmPhysicalDpiY)
        self._measures = dict.fromkeys(resolutions, round(DOTS_PER_MM * 25.4))
        self._measures[kinds.PdmDevicePixelRatioScaled] = int(QPaintDevice.devicePixelRatioFScale())

    def paintEngine(self) -> QPaintEngine:
        return self.engine

    def metric(self, what: QPaintDevice.PaintDeviceMetric) -> int:
        return self._measures.get(what, 1)
