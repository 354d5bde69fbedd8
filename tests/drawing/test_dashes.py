"""Dashes and strokes across a line fall on a screen where they do on paper, however much of it lies out of sight."""

import numpy as np
import pytest
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPainter, QPen

from farmmap.drawing.line_painter import draw_dashed

DASH, GAP = 10.0, 37.0


def dashed(points, clip):
    image = QImage(600, 40, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.white)
    painter = QPainter(image)
    painter.setClipRect(clip)
    pen = QPen(Qt.GlobalColor.black, 6.0)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setDashPattern([DASH / 6.0, GAP / 6.0])
    draw_dashed(painter, points, pen)
    painter.end()
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(40, 600, 4)
    return np.flatnonzero(rows[20, :, 0] < 128)


@pytest.mark.parametrize("start", [0.0, -100.0, -1000.0, -30_000.0])
@pytest.mark.parametrize("corners", [2, 60, 3000])
def test_dashes_are_counted_from_the_start_of_the_line(start, corners):
    points = np.column_stack([np.linspace(start, 800.0, corners), np.full(corners, 20.5)])
    dark = dashed(points, QRectF(0, 0, 600, 40))
    into = (dark + 0.5 - start) % (DASH + GAP)
    assert len(dark) > 100
    assert ((into < DASH + 0.6) | (into > DASH + GAP - 0.6)).all()


def test_a_line_that_comes_back_goes_on_counting():
    out = np.column_stack([np.linspace(0, 5000, 90), np.full(90, 5.5)])
    back = np.column_stack([np.linspace(5000, 0, 90), np.full(90, 20.5)])
    dark = dashed(np.concatenate([out, back]), QRectF(0, 0, 600, 40))
    into = (5000 + 15 + 5000 - (dark + 0.5)) % (DASH + GAP)
    assert ((into < DASH + 0.6) | (into > DASH + GAP - 0.6)).all()
