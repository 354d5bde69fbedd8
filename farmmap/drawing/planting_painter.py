"""Painting a planned planting over the map: hatched strips, rows, plants, crowns to come, and the fence."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen, QPolygonF, QTransform

from farmmap.drawing.marks import paint_mark
from farmmap.drawing.pens import colour, polygon
from farmmap.drawing.stamps import Canvas, Stamp, blank_image, make_stamp, pixels_of, tint, under_discs
from farmmap.drawing.symbol_painter import symbol_path, tree_paint
from farmmap.plans.planting.plan import FenceLine
from farmmap.scene.planting_layer import PlantingPicture, ZoneArea
from farmmap.scene.scene import STANDING
from farmmap.scene.styles import Theme, mixed
from farmmap.scene.symbols import SpeciesSymbol
from farmmap.scene.view import Bounds, Floats, View

_HATCH = {
    "level": Qt.BrushStyle.HorPattern,
    "rising": Qt.BrushStyle.BDiagPattern,
    "falling": Qt.BrushStyle.FDiagPattern,
    "upright": Qt.BrushStyle.VerPattern,
    "crossed": Qt.BrushStyle.CrossPattern,
    "diamonds": Qt.BrushStyle.DiagCrossPattern,
}
_TILE = 8  # dots after which Qt's hatches come again
PARTS = ("ground", "plants", "fences")
"""What a planting is painted of, from the ground upwards."""
TINT, HATCH_INK = 0.16, 0.55
"""How strong the tint and the hatch of a zone are."""
SMALLEST_MM, LARGEST_MM = 0.7, 2.6
"""Least and greatest width of a plant's symbol. [mm]"""
OF_SPACING = 0.55
"""Width of a plant's symbol in parts of the spacing, within those limits."""
ROWS_FROM_MM = 0.8
"""Rows are drawn when they are so far apart. [mm]"""
CROWN_TINT = 0.6
"""How strongly crowns to come hide the signs beneath them, as they do from above."""
FINE_UP_TO = 4000
"""No more plants than this in view are placed to half a dot."""
CLIP_MM = 5.0
"""What lies further outside the view is cut off, so that the cut is not seen. [mm]"""
THIN_DOTS = 0.4
"""Corners nearer than that to each other are drawn once. [dots]"""
MANY_PLANTS = 30_000
"""Of more plants in view no more than one is drawn at each dot."""
STRAINER_MM, GATE_MM, FLOOD_MM = 1.5, 2.4, 3.0
"""Sizes of what belongs to a fence, and width of the band under a span that a flood may reach. [mm]"""


@dataclass(frozen=True)
class _Frame:
    """What holds for the whole of one painting."""

    view: View
    dots_per_mm: float
    finer: float
    theme: Theme

    def dots(self, points: Floats) -> Floats:
        """Where points of the ground lie, shape (n, 2). [dots of the painter]."""
        return np.column_stack(self.view.to_dots(points[:, 0], points[:, 1], self.dots_per_mm))

    @property
    def size(self) -> tuple[float, float]:
        return self.view.width_mm * self.dots_per_mm, self.view.height_mm * self.dots_per_mm


class PlantingPainter:
    """Paints plantings; keeps the stamps that it has made."""

    def __init__(self) -> None:
        self._stamps: dict[tuple[object, ...], Stamp] = {}

    def paint(
        self,
        painter: QPainter,
        picture: PlantingPicture,
        view: View,
        dots_per_mm: float,
        theme: Theme,
        crown_m: Floats | None = None,
    ) -> None:
        """Paint a planting with the upper left corner of the view at the painter's origin.

        Parameters
        ----------
        painter : QPainter
            Its coordinates are dots at ``dots_per_mm``; left as it was.
        picture : PlantingPicture
            What to paint.
        view : View
            Which ground.
        dots_per_mm : float
            Resolution in the painter's coordinates.
        theme : Theme
            The look of the map beneath.
        crown_m : ndarray, shape (n,), optional
            Diameter of each plant's crown in the year that is shown. [ground m, in grid m]
        """
        for part in PARTS:
            self.paint_part(part, painter, picture, view, dots_per_mm, theme, crown_m)

    def paint_part(
        self,
        part: str,
        painter: QPainter,
        picture: PlantingPicture,
        view: View,
        dots_per_mm: float,
        theme: Theme,
        crown_m: Floats | None = None,
    ) -> None:
        """Paint one of `PARTS`; else as `paint`."""
        frame = _Frame(view, dots_per_mm, max(float(painter.deviceTransform().m11()), 0.1), theme)
        painter.save()
        try:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setClipRect(QRectF(0, 0, *frame.size), Qt.ClipOperation.IntersectClip)
            if part == "ground":
                for zone in picture.zones:
                    _paint_zone(painter, zone, frame)
            elif part == "plants":
                self._paint_plants(painter, picture, frame, crown_m)
            else:
                for fence in picture.fences:
                    _paint_fence(painter, fence, frame)
        finally:
            painter.restore()

    def plant_mm(self, picture: PlantingPicture, view: View) -> float:
        """Return the width of a plant's symbol in a view [mm]."""
        return float(np.clip(OF_SPACING * picture.spacing_m / view.metres_per_mm, SMALLEST_MM, LARGEST_MM))

    def _paint_plants(self, painter: QPainter, picture: PlantingPicture, frame: _Frame, crown_m: Floats | None) -> None:
        if not len(picture.x):
            return
        view, finer = frame.view, frame.finer
        widest = 0.0 if crown_m is None else float(np.nanmax(crown_m, initial=0.0)) / view.metres_per_mm / 2
        west, south, east, north = view.ground_bounds(max(widest, LARGEST_MM))
        inside = (picture.x >= west) & (picture.x <= east) & (picture.y >= south) & (picture.y <= north)
        if not inside.any():
            return
        if crown_m is None:
            _paint_rows(painter, picture, frame)
        dots = frame.dots_per_mm * finer
        wide, high = (round(side * finer) for side in frame.size)
        image = blank_image(wide, high)
        pixels = pixels_of(image)
        x, y = view.to_dots(picture.x[inside], picture.y[inside], dots)
        symbol = picture.symbol[inside]
        shown: np.ndarray | slice = slice(None)
        if len(x) > MANY_PLANTS:
            shown = _one_a_dot(x, y, wide, high)
        self._stamp(pixels, picture, frame, x[shown], y[shown], symbol[shown])
        if crown_m is not None:
            diameter = np.nan_to_num(crown_m[inside]) / view.metres_per_mm * dots
            fill = frame.theme.areas["crowns"].fill
            tint(pixels, under_discs(high, wide, x, y, diameter), int(fill[1:], 16), CROWN_TINT)
        painter.drawImage(QRectF(0, 0, wide / finer, high / finer), image)

    def _stamp(
        self, pixels: np.ndarray, picture: PlantingPicture, frame: _Frame, x: Floats, y: Floats, symbol: np.ndarray
    ) -> None:
        canvas = Canvas(pixels)
        dots = frame.dots_per_mm * frame.finer
        size = max(round(self.plant_mm(picture, frame.view) * dots * 2) / 2, 2.0)
        halves = 2 if len(x) <= FINE_UP_TO else 1
        left, top = np.floor(x * halves).astype(np.int32), np.floor(y * halves).astype(np.int32)
        phase = (left % halves) * halves + top % halves
        key = symbol * halves * halves + phase
        order = np.argsort(key, kind="stable")
        counts = np.bincount(key, minlength=1)
        ends = np.cumsum(counts)
        for one in np.flatnonzero(counts).tolist():
            which = order[ends[one] - counts[one] : ends[one]]
            kind, at = divmod(one, halves * halves)
            shift = ((at // halves + 0.5) / halves - 0.5, (at % halves + 0.5) / halves - 0.5)
            stamp = self._stamp_of(picture.symbols[kind], size, dots, frame.theme, shift)
            canvas.lay_down(stamp, left[which] // halves, top[which] // halves)

    def _stamp_of(
        self, symbol: SpeciesSymbol, size: float, dots: float, theme: Theme, shift: tuple[float, float]
    ) -> Stamp:
        key = (symbol, size, dots, theme.name, shift)
        if key not in self._stamps:
            if len(self._stamps) > 1000:
                self._stamps.clear()
            self._stamps[key] = _made_stamp(symbol, size, dots, theme, shift)
        return self._stamps[key]


def paint_zone_sample(painter: QPainter, rect: QRectF, zone: ZoneArea, theme: Theme) -> None:
    """Paint a patch of a zone's tint and hatch, as it stands before its name."""
    painter.fillRect(rect, QColor(theme.inside))
    _fill(painter, _box_path(rect), zone, theme, 1.0)


def paint_plant_sample(painter: QPainter, rect: QRectF, symbol: SpeciesSymbol, theme: Theme) -> None:
    """Paint the symbol of a kind of plant, as it stands before its name."""
    size = 0.8 * min(rect.width(), rect.height())
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(rect.center())
    painter.setPen(QPen(QColor(theme.ink), 1.0))
    painter.setBrush(QColor(theme.fill_of(symbol.colour)))
    painter.drawPath(QTransform.fromScale(size, size).map(symbol_path(symbol.shape)))
    painter.restore()


def _box_path(rect: QRectF) -> QPainterPath:
    path = QPainterPath()
    path.addRect(rect)
    return path


def _made_stamp(symbol: SpeciesSymbol, size: float, dots: float, theme: Theme, shift: tuple[float, float]) -> Stamp:
    paint = tree_paint(symbol, STANDING, size / dots, theme, dots)

    def draw(painter: QPainter, middle: float) -> None:
        at = (middle + shift[0], middle + shift[1])
        path = paint.start(painter)
        if painter.pen().style() == Qt.PenStyle.NoPen:  # too small for a ring: a stronger colour sets it off
            painter.setBrush(colour(theme.small or mixed(symbol.colour, 0.75, theme.ink)))
        painter.drawPath(path.translated(*at))
        paint.finish(painter, *at)

    return make_stamp(size * 0.8 + paint.outline + 1.5, draw, smooth=True)


def _paint_zone(painter: QPainter, zone: ZoneArea, frame: _Frame) -> None:
    if not len(zone.shapes):
        return
    west, south, east, north = frame.view.ground_bounds(1.0)
    boxes = zone.boxes
    seen = (boxes[:, 0] <= east) & (boxes[:, 2] >= west) & (boxes[:, 1] <= north) & (boxes[:, 3] >= south)
    shapes = zone.shapes[seen]
    if not len(shapes):
        return
    if _reach_out(boxes[seen], frame.view.ground_bounds(CLIP_MM)):  # a long strip, of which little may be in view
        shapes = shapely.get_parts(shapely.clip_by_rect(shapes, *frame.view.ground_bounds(CLIP_MM)))
        shapes = shapes[(shapely.get_type_id(shapes) == shapely.GeometryType.POLYGON) & ~shapely.is_empty(shapes)]
    if not len(shapes):
        return
    _, corners, (rings, _) = shapely.to_ragged_array(shapes)
    points, rings = _thinned(frame.dots(corners), rings)
    path = QPainterPath()
    for first, last in zip(rings[:-1].tolist(), rings[1:].tolist(), strict=True):
        path.addPolygon(polygon(points[first:last]))
        path.closeSubpath()
    _fill(painter, path, zone, frame.theme, frame.finer)


def _reach_out(boxes: Floats, view: Bounds) -> bool:
    """Whether any of some rectangles is not wholly inside another."""
    west, south, east, north = view
    return bool((boxes < (west, south, -np.inf, -np.inf)).any() or (boxes > (np.inf, np.inf, east, north)).any())


def _thinned(points: Floats, ends: np.ndarray) -> tuple[Floats, np.ndarray]:
    """Return lines without the corners that fall on the same part of a dot as the one before, and where each ends."""
    cells = np.rint(points / THIN_DOTS).astype(np.int32)
    keep = np.ones(len(points), bool)
    keep[1:] = (cells[1:] != cells[:-1]).any(axis=1)
    keep[ends[:-1][ends[:-1] < len(points)]] = True
    return points[keep], np.concatenate([[0], np.cumsum(keep)])[ends]


def _fill(painter: QPainter, path: QPainterPath, zone: ZoneArea, theme: Theme, finer: float) -> None:
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)  # the outline has soft edges, the ground needs none
    name = theme.ink if theme.is_grey else zone.colour
    painter.fillPath(path, _ground_of(name, zone.hatch, theme.ink, finer))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.strokePath(path, QPen(QColor(mixed(name, 0.6, theme.ink)), 1.0))


@lru_cache(maxsize=64)
def _ground_of(name: str, hatch: str, ink: str, finer: float) -> QBrush:
    """Return tint and hatch of a zone as one brush, which fills in half the time of two; not to be changed."""
    times = max(round(finer), 1)
    tile = blank_image(_TILE * times, _TILE * times)
    painter = QPainter(tile)
    painter.fillRect(tile.rect(), colour(name, TINT))
    lines = QBrush(colour(mixed(name, 0.7, ink), HATCH_INK), _HATCH[hatch])
    lines.setTransform(QTransform.fromScale(times, times))
    painter.fillRect(tile.rect(), lines)
    painter.end()
    made = QBrush(tile)
    made.setTransform(QTransform.fromScale(1 / finer, 1 / finer))
    return made


def _one_a_dot(x: Floats, y: Floats, wide: int, high: int) -> np.ndarray:
    """Return places of the plants that are drawn, the last of those at each dot; a few beside the view are left out."""
    across, down = np.floor(x).astype(np.intp), np.floor(y).astype(np.intp)
    there = np.flatnonzero((across >= 0) & (across < wide) & (down >= 0) & (down < high))
    last = np.full(wide * high, -1, np.intp)
    last[down[there] * wide + across[there]] = there
    return np.sort(last[last >= 0])


def _paint_rows(painter: QPainter, picture: PlantingPicture, frame: _Frame) -> None:
    if not len(picture.row_ends) or picture.row_gap_m / frame.view.metres_per_mm < ROWS_FROM_MM:
        return
    points = frame.dots(picture.row_points)
    wide, high = frame.size
    outside = (points < 0) | (points > (wide, high))
    painter.setPen(QPen(QColor(mixed(frame.theme.ink, 0.75, frame.theme.inside)), 0))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    seen = np.concatenate([[0], np.cumsum(~outside.any(axis=1))])
    starts, ends = picture.row_ends[:, 0], picture.row_ends[:, 1]
    for first, last in picture.row_ends[seen[ends] > seen[starts]].tolist():
        painter.drawPolyline(polygon(points[first:last]))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)


def _paint_fence(painter: QPainter, fence: FenceLine, frame: _Frame) -> None:
    style, mm = frame.theme.lines["fences"], frame.dots_per_mm
    ground, ink, halo = frame.theme.lines["creeks"], QColor(style.colour), QColor(frame.theme.inside)
    box = frame.view.ground_bounds(CLIP_MM)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    band = QPen(colour(ground.colour, 0.55), FLOOD_MM * mm)
    band.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(band)
    for line in _lines_in(fence.flooded, box, frame):
        painter.drawPolyline(line)
    lines = _lines_in(fence.line, box, frame)
    painter.setPen(QPen(halo, 0.9 * mm))
    for line in lines:
        painter.drawPolyline(line)
    dashed = QPen(ink, 0.4 * mm)
    dashed.setDashPattern([3.0, 2.0])
    dashed.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(dashed)
    for line in lines:
        painter.drawPolyline(line)
    half = STRAINER_MM * mm / 2
    painter.setPen(QPen(halo, 1.0))
    painter.setBrush(ink)
    corners = frame.dots(_inside(shapely.get_coordinates(fence.line), box))
    strain_mm = fence.line.length / max(len(fence.strains_m), 1) / frame.view.metres_per_mm
    if strain_mm >= STRAINER_MM:  # else they would run into each other
        painter.drawRects([QRectF(x - half, y - half, 2 * half, 2 * half) for x, y in corners.tolist()])
    _paint_gates(painter, fence, frame)
    _paint_troughs(painter, fence, frame)
    size = GATE_MM * mm / 2
    for x, y in frame.dots(_inside(fence.floodgates, box)).tolist():  # a gate that hangs over water
        painter.setPen(QPen(halo, 1.0))
        painter.setBrush(QColor(ground.colour))
        painter.drawPolygon(QPolygonF([QPointF(x - size, y - size), QPointF(x + size, y - size), QPointF(x, y + size)]))


def _lines_in(shape: shapely.Geometry, box: Bounds, frame: _Frame) -> list[QPolygonF]:
    """Return lines, cut to a rectangle of ground, in dots."""
    lines = shapely.get_parts(shape)
    if _reach_out(shapely.bounds(lines).reshape(-1, 4), box):
        lines = shapely.get_parts(shapely.clip_by_rect(lines, *box))
    lines = lines[(shapely.get_type_id(lines) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(lines)]
    return [polygon(frame.dots(shapely.get_coordinates(line))) for line in lines]


def _inside(places: Floats, box: Bounds) -> Floats:
    """Return the places inside a rectangle of ground, shape (n, 2)."""
    places = np.asarray(places, np.float64).reshape(-1, 2)
    west, south, east, north = box
    return places[((places >= (west, south)) & (places <= (east, north))).all(axis=1)]


def _paint_gates(painter: QPainter, fence: FenceLine, frame: _Frame) -> None:
    """Paint each gate as a leaf that stands open."""
    wide_mm = max(fence.gate_m / frame.view.metres_per_mm, GATE_MM)
    gates = _inside(fence.gates, frame.view.ground_bounds(CLIP_MM + wide_mm))
    if not len(gates):
        return
    style = replace(frame.theme.marks["gate"], size_mm=wide_mm)
    middles = shapely.points(gates)
    along = shapely.line_locate_point(fence.line, middles)
    ahead = shapely.get_coordinates(shapely.line_interpolate_point(fence.line, along + 0.5))
    behind = shapely.get_coordinates(shapely.line_interpolate_point(fence.line, np.maximum(along - 0.5, 0.0)))
    turn = frame.dots(ahead) - frame.dots(behind)
    for (x, y), (across, down) in zip(frame.dots(gates).tolist(), turn.tolist(), strict=True):
        painter.save()
        painter.translate(x, y)
        painter.rotate(float(np.degrees(np.arctan2(down, across))))
        paint_mark(painter, 0.0, 0.0, style, frame.dots_per_mm)
        painter.restore()


def _paint_troughs(painter: QPainter, fence: FenceLine, frame: _Frame) -> None:
    for x, y in frame.dots(_inside(fence.troughs, frame.view.ground_bounds(CLIP_MM))).tolist():
        paint_mark(painter, x, y, frame.theme.marks["trough"], frame.dots_per_mm)
