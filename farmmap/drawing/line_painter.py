"""One line with all that goes with it: double edges, strokes across, arrowheads and caution signs."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import lru_cache

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QBrush, QPainter, QPen, QPolygonF

from farmmap.drawing.marks import paint_mark
from farmmap.drawing.pens import colour, pen, polygon, screen_pen
from farmmap.scene.styles import LineStyle
from farmmap.scene.view import Floats

ARROW_MM, MOST_ARROW_MM = 1.7, 2.6
LEAST_TRUE_MM = 0.7
"""A line is drawn at its true width when that is more than this. [mm]"""


def paint_line(
    painter: QPainter,
    points: Floats,
    style: LineStyle,
    dots_per_mm: float,
    true_mm: float = 0.0,
    marks_from_mm: float | None = None,
    *,
    on_paper: bool = True,
    is_whole: bool = False,
    pause: Callable[[], None] = lambda: None,
) -> None:
    """Paint a line.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    points : ndarray, shape (n, 2)
        The line. [dots]
    style : LineStyle
        How.
    dots_per_mm : float
        Resolution of the device.
    true_mm : float
        Its true width on the picture; wins where it is more than the style's. [mm]
    marks_from_mm : float, optional
        Where the first arrowhead or sign stands; half way to the second if not given. [mm]
    on_paper : bool
        Whether every corner is to be drawn in full; a screen has no use for that.
    is_whole : bool
        Whether all of it lies inside the clip, as far as the caller knows.
    pause : callable
        Called between slices of work; may raise to stop.
    """
    shape = polygon(points)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    width = max(style.width_mm, true_mm)
    for made, is_dashed in _pens(style, width, dots_per_mm, on_paper):
        pause()
        if on_paper or is_whole or not is_dashed:
            painter.setPen(made)
            painter.drawPolyline(shape)
        else:
            draw_dashed(painter, points, made)
    if style.arrow_every_mm:
        size = min(max(ARROW_MM, width), MOST_ARROW_MM) * dots_per_mm
        for x, y, angle in _marked(points, style.arrow_every_mm, marks_from_mm, dots_per_mm):
            _arrow(painter, x, y, angle, size, style.colour)
    if style.caution_every_mm:
        for x, y, _ in _marked(points, style.caution_every_mm, marks_from_mm, dots_per_mm):
            paint_mark(painter, x, y, style.caution, dots_per_mm)


def draw_dashed(painter: QPainter, points: Floats, made: QPen) -> None:
    """Draw a line with a dashed pen on a device of dots.

    What lies outside the clip is left out, as Qt loses count of the dashes
    over it, and they would then not fall where they do on paper.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    points : ndarray, shape (n, 2)
        The line. [dots]
    made : QPen
        Its dashes begin where the line does.
    """
    for first, last, before in _seen(painter, points, made.widthF()):
        counted = QPen(made)
        counted.setDashOffset(made.dashOffset() + before / made.widthF())
        painter.setPen(counted)
        painter.drawPolyline(polygon(points[first:last]))


def _seen(painter: QPainter, points: Floats, reach: float) -> Iterator[tuple[int, int, float]]:
    """First and last-plus-one corner of each part of a line that may be seen, and how far along the line it begins."""
    if not painter.hasClipping() or len(points) < 2:
        yield 0, len(points), 0.0
        return
    box = painter.clipBoundingRect().adjusted(-reach, -reach, reach, reach)
    low, high = np.minimum(points[:-1], points[1:]), np.maximum(points[:-1], points[1:])
    seen = (high >= (box.left(), box.top())).all(axis=1) & (low <= (box.right(), box.bottom())).all(axis=1)
    if seen.all():
        yield 0, len(points), 0.0
        return
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    changes = np.flatnonzero(np.diff(np.concatenate([[False], seen, [False]])))
    for first, last in changes.reshape(-1, 2).tolist():
        yield first, last + 1, float(run[first])


def _marked(
    points: Floats, every_mm: float, from_mm: float | None, dots_per_mm: float
) -> Iterator[tuple[float, float, float]]:
    first = every_mm / 2 if from_mm is None else from_mm
    return stations(points, first * dots_per_mm, every_mm * dots_per_mm)


def stations(points: Floats, first: float, every: float) -> Iterator[tuple[float, float, float]]:
    """Places along a line and its direction there, ``every`` so far; the middle of a line that is shorter.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        The line.
    first, every : float
        Distance of the first place from the start, and from one to the next.

    Yields
    ------
    x, y, angle : float
        The place, and the angle of the line there. [radians]
    """
    step = np.diff(points, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    run = np.concatenate([[0.0], np.cumsum(length)])
    if run[-1] <= 0:
        return
    at = np.arange(first, run[-1], every) if run[-1] > first else np.array([run[-1] / 2])
    piece = np.clip(np.searchsorted(run, at, side="right") - 1, 0, len(length) - 1)
    x, y = np.interp(at, run, points[:, 0]), np.interp(at, run, points[:, 1])
    angle = np.arctan2(step[piece, 1], step[piece, 0])
    yield from zip(x.tolist(), y.tolist(), angle.tolist(), strict=True)


@lru_cache(maxsize=1000)
def _pens(style: LineStyle, width: float, dots_per_mm: float, on_paper: bool) -> tuple[tuple[QPen, bool], ...]:
    """Return the pens that a line is drawn with one after the other, not to be changed, and which are dashed."""
    make_pen = pen if on_paper else screen_pen
    if style.inside and width > LEAST_TRUE_MM:
        pens = [
            make_pen(style.colour, width, dots_per_mm),
            make_pen(style.inside, max(width - 2 * style.edge_mm, width * 0.4), dots_per_mm),
        ]
        for made in pens:
            made.setCapStyle(Qt.PenCapStyle.FlatCap)
    else:
        pens = [make_pen(style.colour, width, dots_per_mm, style.dash)]
    if style.tick_mm:
        pens.append(_strokes(style, dots_per_mm))
    return tuple((made, made.style() == Qt.PenStyle.CustomDashLine) for made in pens)


def _strokes(style: LineStyle, dots_per_mm: float) -> QPen:
    """Return a wide pen of which only thin slices are drawn: strokes across the line."""
    made = QPen(colour(style.colour), style.tick_mm * dots_per_mm)
    made.setCapStyle(Qt.PenCapStyle.FlatCap)
    made.setJoinStyle(Qt.PenJoinStyle.BevelJoin)
    slice_mm = max(0.22, 0.9 / dots_per_mm)
    made.setDashPattern([slice_mm / style.tick_mm, (style.tick_every_mm - slice_mm) / style.tick_mm])
    made.setDashOffset((style.tick_every_mm + slice_mm) / 2 / style.tick_mm)
    return made


def _arrow(painter: QPainter, x: float, y: float, angle: float, size: float, name: str) -> None:
    cos, sin = math.cos(angle), math.sin(angle)
    corners = [(0.6, 0.0), (-0.6, -0.5), (-0.25, 0.0), (-0.6, 0.5)]
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QBrush(colour(name)))
    painter.drawPolygon(
        QPolygonF([QPointF(x + size * (a * cos - b * sin), y + size * (a * sin + b * cos)) for a, b in corners])
    )
