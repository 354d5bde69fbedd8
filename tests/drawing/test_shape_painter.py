"""Areas and lines on a screen: corners that nobody sees are left out, and dashes fall where they belong."""

import numpy as np
import pytest
import shapely
from PySide6.QtGui import QColor, QImage, QPainter

from farmmap.drawing import shape_painter
from farmmap.drawing.shape_painter import SIMPLER_DOTS, paint_areas, paint_lines
from farmmap.drawing.stamps import pixels_of
from farmmap.scene.scene import AreaLayer, LineLayer
from farmmap.scene.styles import AreaStyle, LineStyle
from farmmap.scene.view import View

SIDE, DOTS = 300, 4.0
VIEW = View(0.0, 0.0, 10.0, SIDE / DOTS, SIDE / DOTS)
FINE_M = 0.15 * VIEW.metres_per_mm / DOTS


def areas(shapes):
    shapes = np.array(shapes, object)
    return AreaLayer(
        "blocks", AreaStyle("#88AA66", 1.0, "#224411", 0.3), np.arange(len(shapes)), shapes, bounds(shapes)
    )


def lines(shapes, **style):
    shapes = np.array(shapes, object)
    look = LineStyle("#6B3A1E", 0.5, **style)
    return LineLayer("fences", look, np.arange(len(shapes)), shapes, bounds(shapes), np.zeros(len(shapes)))


def bounds(shapes):
    return shapely.bounds(shapes)


def painted(paint, layer, view=VIEW):
    image = QImage(SIDE, SIDE, QImage.Format.Format_RGB32)
    image.fill(QColor("#FFFFFF"))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(0, 0, SIDE, SIDE)
    paint(painter, layer, view, DOTS, lambda: None)
    painter.end()
    return pixels_of(image).copy().view(np.uint8).reshape(SIDE, SIDE, 4).astype(int)


def rough_ring(radius, legs=4000):
    turn = np.linspace(0, 2 * np.pi, legs, endpoint=False)
    far = radius + FINE_M * np.sin(97 * turn)
    return shapely.Polygon(np.column_stack([far * np.cos(turn), far * np.sin(turn)]))


def exactly(monkeypatch, paint, layer):
    with monkeypatch.context() as patch:
        patch.setattr(shape_painter, "_simplified", lambda shapes, _: shapes)
        return painted(paint, areas(layer.shapes) if isinstance(layer, AreaLayer) else layer)


def test_corners_left_out_move_no_edge_by_more_than_a_quarter_of_a_dot(monkeypatch):
    layer = areas([rough_ring(330.0), rough_ring(180.0)])
    seen, whole = painted(paint_areas, layer), exactly(monkeypatch, paint_areas, layer)
    # an edge that lies a quarter of a dot elsewhere changes a dot by a quarter at most, the line on it twice over
    assert np.abs(seen - whole).max() <= 255 * 2 * SIMPLER_DOTS
    assert (seen != whole).any()


def test_what_was_simplified_once_serves_all_scales_up_to_twice_as_large_and_no_others(monkeypatch):
    asked = []
    simplify = shape_painter._simplified
    monkeypatch.setattr(shape_painter, "_simplified", lambda shapes, far: asked.append(far) or simplify(shapes, far))
    layer = areas([rough_ring(330.0), rough_ring(180.0)])
    for metres_per_mm in (10.0, 10.2, 12.0, 15.0, 20.6, 40.9, 10.0):
        view = View(0.0, 0.0, metres_per_mm, SIDE / DOTS, SIDE / DOTS)
        painted(paint_areas, layer, view)
        assert asked[-1] <= SIMPLER_DOTS * metres_per_mm / DOTS < 2 * asked[-1]
    assert asked == [0.5, 1.0, 2.0, 0.5]


def test_a_layer_with_long_legs_is_painted_corner_for_corner(monkeypatch):
    monkeypatch.setattr(shape_painter, "_simplified", lambda *_: pytest.fail("nothing was to be left out"))
    assert (painted(paint_areas, areas([shapely.box(-200, -150, 100, 220)])) != 255).any()


@pytest.mark.parametrize("style", [{"dash": (2.0, 1.0)}, {"tick_mm": 1.4, "tick_every_mm": 4.0}])
def test_dashes_of_a_line_that_lies_in_view_are_as_if_it_were_looked_through(monkeypatch, style):
    wave = np.column_stack([np.linspace(-340, 340, 40), 120 * np.sin(np.linspace(0, 9, 40))])
    beyond = shapely.LineString([(-900, -200), (0, -260), (900, -200)])
    layer = lines([shapely.LineString(wave), beyond], **style)
    at_once = painted(paint_lines, layer)
    monkeypatch.setattr(shape_painter, "_whole", lambda _painter, _points, firsts: [False] * (len(firsts) - 1))
    assert (painted(paint_lines, layer) == at_once).all()
    assert (at_once != 255).any()
