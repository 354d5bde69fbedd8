"""Colours, pens and polygons for QPainter, from plain data."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import shiboken6
from PySide6.QtCore import Qt
from PySide6.QtGui import QBrush, QColor, QPen, QPolygonF

from farmmap.scene.view import Floats

_ONE_DOT = 1.5
_THIN_DASHED_DOTS = 1.05
_MITRED_DOTS = 5.0


@lru_cache(maxsize=512)
def colour(name: str, opacity: float = 1.0) -> QColor:
    """Return the colour ``#rrggbb`` with an opacity from 0 to 1."""
    made = QColor(name)
    made.setAlphaF(opacity)
    return made


def brush(name: str, opacity: float = 1.0) -> QBrush:
    """Return a brush of that colour, one that paints nothing for ""."""
    return QBrush(colour(name, opacity)) if name else QBrush(Qt.BrushStyle.NoBrush)


def pen(name: str, width_mm: float, dots_per_mm: float, dash: tuple[float, ...] = ()) -> QPen:
    """Return a pen; one that paints nothing for "".

    Parameters
    ----------
    name : str
        ``#rrggbb``.
    width_mm : float
        Weight. [mm]
    dots_per_mm : float
        Resolution of the device.
    dash : tuple of float
        Lengths of strokes and gaps in turn. [mm]
    """
    if not name:
        return QPen(Qt.PenStyle.NoPen)
    width = max(width_mm * dots_per_mm, 0.8)
    made = QPen(colour(name), width)
    made.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if dash:
        made.setCapStyle(Qt.PenCapStyle.FlatCap)
        made.setDashPattern([length * dots_per_mm / width for length in dash])
    else:
        made.setCapStyle(Qt.PenCapStyle.RoundCap)
    return made


def screen_pen(name: str, width_mm: float, dots_per_mm: float, dash: tuple[float, ...] = ()) -> QPen:
    """Return a pen for a device of dots, as `pen` but quicker to draw with.

    A full line of about one dot is drawn as one of exactly one, which Qt
    draws without working out an outline; a dashed one is a little wider, as Qt
    would otherwise begin its dashes anew at the edge of the picture. Corners
    of lines up to a few dots are mitred, as a round one could not be told
    from it.
    """
    width = width_mm * dots_per_mm
    thin = _THIN_DASHED_DOTS if dash else 1.0
    made = pen(name, thin / dots_per_mm if width < _ONE_DOT else width_mm, dots_per_mm, dash)
    if width < _MITRED_DOTS:
        made.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
        made.setCapStyle(Qt.PenCapStyle.FlatCap)
    return made


def polygon(points: Floats) -> QPolygonF:
    """Return corners as Qt's polygon, copied in one piece.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        x and y in dots.
    """
    made = QPolygonF()
    made.resize(len(points))
    if len(points):
        pointer: Any = shiboken6.VoidPtr  # its stub knows only one of its ways of being made
        memory = pointer(made.data(), 16 * len(points), True)
        np.frombuffer(memory, np.float64).reshape(-1, 2)[:] = points
    return made
