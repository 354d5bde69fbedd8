"""The sign of a photo point: a dot, and an angle that opens the way the camera looks."""

import math

import numpy as np
import pytest
from PySide6.QtGui import QImage, QPainter, Qt

from farmmap.drawing.marks import paint_mark
from farmmap.drawing.shape_painter import paint_marks
from farmmap.drawing.stamps import pixels_of
from farmmap.scene.scene import MarkLayer
from farmmap.scene.styles import THEMES
from farmmap.scene.view import View

DOTS = 10.0


def painted(turn_deg, name="paper"):
    """Dots that were painted, as x and y from the middle, y upwards."""
    image = QImage(200, 200, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    paint_mark(painter, 100.0, 100.0, THEMES[name].marks["photo point"], DOTS, turn_deg)
    painter.end()
    down, across = np.nonzero(pixels_of(image).reshape(200, 200, -1).any(axis=2))
    return across - 99.5, 99.5 - down


@pytest.mark.parametrize("turn_deg", [0.0, 45.0, 90.0, 200.0, 359.0])
@pytest.mark.parametrize("name", list(THEMES))
def test_it_opens_towards_the_bearing(qapp, name, turn_deg):
    x, y = painted(turn_deg, name)
    far = np.hypot(x, y) > 20
    assert far.sum() > 200
    bearing = np.degrees(np.arctan2(x[far], y[far]))
    off = (bearing - turn_deg + 180) % 360 - 180
    assert np.abs(off).max() < 25 + math.degrees(math.asin(6 / 20))  # half the angle, and half a line with its edging
    assert abs(off.mean()) < 2


def test_without_a_bearing_it_is_a_dot(qapp):
    x, y = painted(math.nan)
    assert np.hypot(x, y).max() < 15


def test_each_one_of_a_layer_has_its_own(qapp):
    image = QImage(400, 200, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.transparent)
    view = View(20.0, 10.0, 1.0, 40.0, 20.0)
    style = THEMES["paper"].marks["photo point"]
    layer = MarkLayer(
        "photo_points", style, np.array([1, 2]), np.array([10.0, 30.0]), np.array([10.0, 10.0]), np.array([0.0, 180.0])
    )
    painter = QPainter(image)
    paint_marks(painter, layer, view, DOTS)
    painter.end()
    rows = pixels_of(image).reshape(200, 400, -1).any(axis=2)
    left, right = np.nonzero(rows[:, :200])[0], np.nonzero(rows[:, 200:])[0]
    assert left.min() < 65
    assert right.max() > 135
    assert left.max() < 120
    assert right.min() > 80
