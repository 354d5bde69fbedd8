"""Crowns as forecast have a broken line around them, on screens and on paper; those that were measured have none."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtGui import QColor, QPainter, QPicture

from farmmap.drawing import tree_painter
from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.stamps import blank_image
from farmmap.scene.build import build_scene
from farmmap.scene.scene import CrownLayer
from farmmap.scene.view import View
from tests.figures.growing_stand import growing_stand

DOTS = 96 / 25.4
AHEAD = dt.date(dt.datetime.now().astimezone().date().year + 20, 1, 1)


@pytest.fixture(scope="module")
def scenes():
    farm = growing_stand()
    return [build_scene(farm, day, hidden=frozenset({"labels"})) for day in (dt.date(2025, 6, 1), AHEAD)]


def crowns_of(scene):
    return next(layer for layer in scene.layers if isinstance(layer, CrownLayer))


def view_of(layer, metres_per_mm=0.4):
    return View(float(np.mean(layer.trees.x)), float(np.mean(layer.trees.y)), metres_per_mm, 200.0, 150.0)


def painted(scene, view, layer):
    image = blank_image(round(view.width_mm * DOTS), round(view.height_mm * DOTS))
    painter = QPainter(image)
    MapPainter().paint(painter, scene, view, DOTS, [layer])
    painter.end()
    return image


def on_the_edge(image, view, layer):
    """Dots along the edge of the southernmost crown, below its middle, where no other crown lies."""
    trees = layer.trees
    one = int(np.argmin(trees.y - trees.crown_m / 2))
    angle = np.radians(np.arange(-120, -60, 0.5))
    radius = float(trees.crown_m[one]) / 2
    x, y = view.to_dots(trees.x[one] + radius * np.cos(angle), trees.y[one] + radius * np.sin(angle), DOTS)
    return [QColor.fromRgba(image.pixel(int(a), int(b))).alpha() for a, b in zip(x, y, strict=True)]


def test_a_broken_line_is_drawn_around_forecast_crowns_only(scenes):
    known, ahead = scenes
    assert not crowns_of(known).style.line
    layer = crowns_of(ahead)
    view = view_of(layer)
    with_line = on_the_edge(painted(ahead, view, layer), view, layer)
    without = on_the_edge(painted(ahead, view, replace(layer, style=crowns_of(known).style)), view, layer)
    assert max(without) < 100
    assert max(with_line) > 150
    assert min(with_line) < 100  # broken: gaps between the strokes


def test_far_off_or_too_many_have_no_line(scenes, monkeypatch):
    known, ahead = scenes
    layer = crowns_of(ahead)
    plain = replace(layer, style=crowns_of(known).style)
    far = view_of(layer, 4.5)
    assert painted(ahead, far, layer) == painted(ahead, far, plain)
    monkeypatch.setattr(tree_painter, "MOST_OUTLINED", 5)
    view = view_of(layer)
    assert painted(ahead, view, layer) == painted(ahead, view, plain)


def test_paper_has_the_line_too(scenes):
    ahead = scenes[1]
    layer = crowns_of(ahead)
    sizes = []
    for style in (layer.style, replace(layer.style, line="")):
        picture = QPicture()
        painter = QPainter(picture)
        MapPainter().paint(painter, ahead, view_of(layer), DOTS, [replace(layer, style=style)])
        painter.end()
        sizes.append(picture.size())
    assert sizes[0] > sizes[1]
