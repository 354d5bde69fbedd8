"""A device that writes what is painted on it as SVG; letters become outlines, so that they look alike everywhere."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from typing import Any
from xml.sax.saxutils import escape

import numpy as np
from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRect, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QImage,
    QImageWriter,
    QPaintDevice,
    QPaintEngine,
    QPaintEngineState,
    QPainter,
    QPainterPath,
    QPen,
    QPixmap,
    QPolygonF,
    QTransform,
)

from farmmap.drawing.path_words import SVG
from farmmap.drawing.pens import colour
from farmmap.drawing.tree_looks import Look, looks_in
from farmmap.drawing.tree_painter import crowns_in
from farmmap.scene.scene import CrownLayer, TreeLayer
from farmmap.scene.styles import Theme
from farmmap.scene.view import View

DOTS_PER_MM = 100.0
"""Units of the file to the millimetre."""

_CAPS = {Qt.PenCapStyle.FlatCap: "butt", Qt.PenCapStyle.RoundCap: "round", Qt.PenCapStyle.SquareCap: "square"}
_JOINS = {Qt.PenJoinStyle.MiterJoin: "miter", Qt.PenJoinStyle.RoundJoin: "round", Qt.PenJoinStyle.BevelJoin: "bevel"}
_LONGEST_MITRE = 10
_JPEG_QUALITY = 85
_AS_IT_IS = Qt.ImageConversionFlag.AutoColor


class SvgDevice(QPaintDevice):
    """Paint on it at `DOTS_PER_MM`, then ask for its `text`.

    Parameters
    ----------
    width_mm, height_mm : float
        Size of the picture. [mm]
    title, about : str
        What the file says it is.
    """

    def __init__(self, width_mm: float, height_mm: float, title: str, about: str) -> None:
        super().__init__()
        self._size_mm, self._words = (width_mm, height_mm), (title, about)
        self._engine = _Engine()
        self._looks: dict[Look, str] = {}
        kinds = QPaintDevice.PaintDeviceMetric
        resolutions = (kinds.PdmDpiX, kinds.PdmDpiY, kinds.PdmPhysicalDpiX, kinds.PdmPhysicalDpiY)
        self._measures = dict.fromkeys(resolutions, round(DOTS_PER_MM * 25.4))
        self._measures[kinds.PdmWidth], self._measures[kinds.PdmHeight] = (
            round(side * DOTS_PER_MM) for side in self._size_mm
        )
        self._measures[kinds.PdmDevicePixelRatioScaled] = int(QPaintDevice.devicePixelRatioFScale())

    def paintEngine(self) -> QPaintEngine:
        """Return what writes it down, as Qt asks for it."""
        return self._engine

    def metric(self, what: QPaintDevice.PaintDeviceMetric) -> int:
        """Return a measure of it, as Qt asks for it."""
        return self._measures.get(what, 1)

    def put_trees(self, painter: QPainter, trees: TreeLayer, view: View, theme: Theme) -> None:
        """Put trees over all that was painted so far: each look once, and then no more than its places."""
        rows: list[str] = []
        for look, at in looks_in(trees, view, theme, DOTS_PER_MM):
            use = f'<use href="#{self._look(look)}" x="%d" y="%d"/>\n'
            rows.append((use * len(at)) % tuple(np.rint(at).astype(np.int64).ravel().tolist()))
        self._put(painter, "".join(rows))

    def put_crowns(self, painter: QPainter, crowns: CrownLayer, view: View) -> None:
        """Put the tint under crowns over all that was painted so far, one even tint however many overlap."""
        if view.metres_per_mm > crowns.farthest_m_per_mm or not crowns.style.fill:
            return
        x, y, diameter = crowns_in(crowns, view, DOTS_PER_MM)
        rows = np.rint(np.column_stack([x, y, diameter / 2])).astype(np.int64)
        discs = ('<circle cx="%d" cy="%d" r="%d"/>\n' * len(rows)) % tuple(rows.ravel().tolist())
        tint = colour(crowns.style.fill, crowns.style.opacity)
        self._put(painter, f'<g fill="{tint.name()}" opacity="{tint.alphaF():.3g}">\n{discs}</g>\n')

    def text(self) -> str:
        """Return the file."""
        wide, high = self._size_mm
        title, about = (escape(words) for words in self._words)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}mm" height="{high:g}mm" '
            f'viewBox="0 0 {wide * DOTS_PER_MM:g} {high * DOTS_PER_MM:g}">\n'
            f"<title>{title}</title>\n<desc>{about}</desc>\n{self._engine.text()}</svg>\n"
        )

    def _look(self, look: Look) -> str:
        """Return the name of a look, which is written into the file when it comes for the first time."""
        name = self._looks.get(look)
        if name is None:
            name = self._looks[look] = f"t{len(self._looks)}"
            beside = SvgDevice(1.0, 1.0, "", "")
            painter = QPainter(beside)
            look.paint(painter)
            painter.end()
            self._engine.define(f'<g id="{name}">\n{beside._engine.text()}</g>\n')
        return name

    def _put(self, painter: QPainter, words: str) -> None:
        place = painter.deviceTransform()
        painter.fillRect(QRectF(), QColor(0, 0, 0))  # has the clip that holds now told to the engine
        self._engine.put(f'<g transform="{_matrix(place)}">\n{words}</g>\n')


class _Engine(QPaintEngine):
    """Writes down every path and picture that is painted; Qt turns all else, letters too, into paths."""

    def __init__(self) -> None:
        super().__init__(QPaintEngine.PaintEngineFeature.AllFeatures)
        self._said: list[str] = []
        self._defined: list[str] = []
        self._clips: dict[str, str] = {}
        self._clip: tuple[str, ...] = ()
        self._open: tuple[str, ...] = ()
        self._pen, self._brush, self._place, self._opacity = QPen(), QBrush(), QTransform(), 1.0

    def begin(self, _: QPaintDevice) -> bool:
        return True

    def end(self) -> bool:
        return True

    def type(self) -> QPaintEngine.Type:
        return QPaintEngine.Type.SVG

    def text(self) -> str:
        """Return all that was painted."""
        clips = [f'<clipPath id="{name}"><path d="{path}"/></clipPath>\n' for path, name in self._clips.items()]
        defined = "".join((*clips, *self._defined))
        ends = "</g>\n" * len(self._open)
        return (f"<defs>\n{defined}</defs>\n" if defined else "") + "".join(self._said) + ends

    def define(self, words: str) -> None:
        """Put something in that is to be used by its name."""
        self._defined.append(words)

    def put(self, words: str) -> None:
        """Put elements in, inside the clip that holds now."""
        if self._clip != self._open:
            self._said += ["</g>\n" * len(self._open), *(f'<g clip-path="url(#{name})">\n' for name in self._clip)]
            self._open = self._clip
        self._said.append(words)

    def updateState(self, state: QPaintEngineState) -> None:
        changed, flags = state.state(), QPaintEngine.DirtyFlag
        if changed & flags.DirtyPen:
            self._pen = QPen(state.pen())
        if changed & flags.DirtyBrush:
            self._brush = QBrush(state.brush())
        if changed & flags.DirtyTransform:
            self._place = QTransform(state.transform())
        if changed & flags.DirtyOpacity:
            self._opacity = state.opacity()
        if changed & flags.DirtyClipPath:
            self._clip_to(state.clipPath(), state.clipOperation())
        elif changed & flags.DirtyClipRegion:
            region = QPainterPath()
            region.addRegion(state.clipRegion())
            self._clip_to(region, state.clipOperation())

    def drawPath(self, path: QPainterPath) -> None:
        brush, pen = self._brush, self._pen
        filled = brush.style() != Qt.BrushStyle.NoBrush and brush.color().alpha() > 0
        stroked = pen.style() != Qt.PenStyle.NoPen and pen.color().alpha() > 0
        if path.isEmpty() or not (filled or stroked):
            return
        looks = ['fill="none"']
        if filled:
            looks = [f'fill="{brush.color().name()}"', *self._see_through("fill", brush.color())]
            looks += ['fill-rule="evenodd"'] if path.fillRule() == Qt.FillRule.OddEvenFill else []
        looks += self._stroke() if stroked else []
        self.put(f'<path d="{SVG.path(self._place.map(path))}" {" ".join(looks)}/>\n')

    def drawPolygon(self, points: Iterable[Any], mode: QPaintEngine.PolygonDrawMode) -> None:
        path = QPainterPath()
        path.addPolygon(QPolygonF(list(points)))
        brush = self._brush
        if mode == QPaintEngine.PolygonDrawMode.PolylineMode:
            self._brush = QBrush()
        else:
            path.closeSubpath()
        self.drawPath(path)
        self._brush = brush

    def drawPixmap(self, rect: QRectF | QRect, pixmap: QPixmap | QImage, part: QRectF | QRect) -> None:
        self.drawImage(rect, pixmap.toImage() if isinstance(pixmap, QPixmap) else pixmap, part)

    def drawImage(
        self, rect: QRectF | QRect, image: QImage, part: QRectF | QRect, flags: Qt.ImageConversionFlag = _AS_IT_IS
    ) -> None:
        del flags  # Qt hands it over, and means it for devices of few colours
        shown = image.copy(QRectF(part).toAlignedRect())
        mime = "png" if shown.hasAlphaChannel() else "jpeg"
        buffer = QBuffer()
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        writer = QImageWriter(buffer, QByteArray(mime.encode()))
        if mime == "jpeg":
            writer.setQuality(_JPEG_QUALITY)
        writer.write(shown)
        data = base64.b64encode(bytes(buffer.data().data())).decode()
        self.put(
            f'<image x="{rect.x():g}" y="{rect.y():g}" width="{rect.width():g}" height="{rect.height():g}" '
            f'preserveAspectRatio="none" opacity="{self._opacity:.3g}" transform="{_matrix(self._place)}" '
            f'href="data:image/{mime};base64,{data}"/>\n'
        )

    def _clip_to(self, path: QPainterPath, how: Qt.ClipOperation) -> None:
        if how == Qt.ClipOperation.NoClip:
            self._clip = ()
            return
        name = self._clips.setdefault(SVG.path(self._place.map(path)), f"c{len(self._clips)}")
        before = self._clip if how == Qt.ClipOperation.IntersectClip else ()
        self._clip = before if name in before else (*before, name)

    def _stroke(self) -> list[str]:
        pen, times = self._pen, abs(self._place.determinant()) ** 0.5
        width = max(pen.widthF(), 1.0) * times
        said = [
            f'stroke="{pen.color().name()}"',
            f'stroke-width="{width:.4g}"',
            *self._see_through("stroke", pen.color()),
        ]
        said += [f'stroke-linecap="{_CAPS[pen.capStyle()]}"', f'stroke-linejoin="{_JOINS[pen.joinStyle()]}"']
        said += [f'stroke-miterlimit="{_LONGEST_MITRE}"'] if pen.joinStyle() == Qt.PenJoinStyle.MiterJoin else []
        if pen.style() != Qt.PenStyle.SolidLine:
            said.append(f'stroke-dasharray="{" ".join(f"{length * width:.4g}" for length in pen.dashPattern())}"')
            said.append(f'stroke-dashoffset="{pen.dashOffset() * width:.4g}"')
        return said

    def _see_through(self, what: str, made: QColor) -> list[str]:
        opacity = made.alphaF() * self._opacity
        return [f'{what}-opacity="{opacity:.3g}"'] if opacity < 1 else []


def _matrix(place: QTransform) -> str:
    parts = (place.m11(), place.m12(), place.m21(), place.m22(), place.dx(), place.dy())
    return f"matrix({' '.join(f'{part:.7g}' for part in parts)})"
