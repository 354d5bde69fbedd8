"""Painting hatches, as strokes that end at the edge of what they fill."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath

from farmmap.drawing.pens import pen
from farmmap.scene.hatching import Frame, Ints, Ruling
from farmmap.scene.style_kinds import Hatch
from farmmap.scene.view import Floats, View

Strokes = Callable[[Ruling], Floats]


def hatch_areas(
    painter: QPainter, hatch: Hatch, view: View, dots_per_mm: float, points: Floats, rings: Ints, areas: Ints
) -> None:
    """Hatch areas of a map; the strokes are fixed to the ground.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    hatch : Hatch
        How.
    view : View
        What is seen.
    dots_per_mm : float
        Resolution of the device.
    points, rings, areas : ndarray
        The areas, as `farmmap.scene.hatching.Ruling.in_rings` takes them. [dots]
    """
    _hatch_ground(painter, hatch, view, dots_per_mm, lambda ruling: ruling.in_rings(points, rings, areas))


def hatch_discs(
    painter: QPainter, hatch: Hatch, view: View, dots_per_mm: float, x: Floats, y: Floats, diameter: Floats
) -> None:
    """Hatch what lies under any of some discs of a map [dots]; else as `hatch_areas`."""
    _hatch_ground(painter, hatch, view, dots_per_mm, lambda ruling: ruling.in_discs(x, y, diameter))


def hatch_rectangle(painter: QPainter, hatch: Hatch, dots_per_mm: float, rect: QRectF) -> None:
    """Hatch a rectangle, a line through its middle; for a sample. [dots]."""
    left, top, right, bottom = frame = (rect.left(), rect.top(), rect.right(), rect.bottom())
    corners = np.array([(left, top), (right, top), (right, bottom), (left, bottom), (left, top)], np.float64)
    middle = ((left + right) / 2, (top + bottom) / 2)
    ring, area = np.array([0, 5]), np.array([0, 1])
    _paint(painter, hatch, dots_per_mm, middle, frame, lambda ruling: ruling.in_rings(corners, ring, area))


def _hatch_ground(painter: QPainter, hatch: Hatch, view: View, dots_per_mm: float, strokes: Strokes) -> None:
    x, y = view.to_dots(0.0, 0.0, dots_per_mm)
    frame = (0.0, 0.0, view.width_mm * dots_per_mm, view.height_mm * dots_per_mm)
    _paint(painter, hatch, dots_per_mm, (float(x), float(y)), frame, strokes)


def _paint(
    painter: QPainter,
    hatch: Hatch,
    dots_per_mm: float,
    fixed_at: tuple[float, float],
    frame: Frame,
    strokes: Strokes,
) -> None:
    path = QPainterPath()
    for angle in hatch.angles_deg:
        ruling = Ruling(angle, hatch.spacing_mm * dots_per_mm, fixed_at, frame)
        for x0, y0, x1, y1 in strokes(ruling).tolist():
            path.moveTo(QPointF(x0, y0))
            path.lineTo(QPointF(x1, y1))
    made = pen(hatch.colour, hatch.line_mm, dots_per_mm)
    made.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.strokePath(path, made)
