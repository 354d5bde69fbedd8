"""A planting kept in layers looks as if it were painted afresh, and is painted afresh where something changed."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtGui import QPainter

from farmmap.drawing.planting_layers import PlantingLayers
from farmmap.drawing.planting_painter import PARTS, PlantingPainter
from farmmap.drawing.stamps import blank_image, pixels_of
from farmmap.scene.planting_layer import planting_picture, with_zones_of
from farmmap.scene.styles import theme
from tests.drawing.test_planting_painter import DOTS, LOOK, NAMES, made_plan, painted, view_of


@pytest.fixture
def picture(farm):
    return planting_picture(farm, made_plan(), NAMES.__getitem__)


@pytest.fixture
def parts(monkeypatch):
    """Which parts were painted afresh."""
    seen, paint = [], PlantingPainter.paint_part

    def noted(self, part, *rest):
        seen.append(part)
        paint(self, part, *rest)

    monkeypatch.setattr(PlantingPainter, "paint_part", noted)
    return seen


def laid(layers, picture, view, crowns=None, look=LOOK, finer=1.0, **more):
    image = blank_image(round(view.width_mm * DOTS * finer), round(view.height_mm * DOTS * finer))
    painter = QPainter(image)
    painter.scale(finer, finer)
    layers.paint(painter, picture, view, DOTS, look, crowns, **more)
    painter.end()
    return pixels_of(image).copy()


def far_off(one, other):
    """Share of the dots that differ by more than rounding."""
    channels = [np.stack([(dots >> shift) & 255 for shift in (0, 8, 16, 24)]).astype(int) for dots in (one, other)]
    return (np.abs(channels[0] - channels[1]).max(axis=0) > 6).mean()


@pytest.mark.parametrize("finer", [1.0, 2.0])
def test_layers_look_like_the_painting_in_one_go(picture, finer):
    view = view_of()
    assert far_off(laid(PlantingLayers(), picture, view, finer=finer), painted(picture, view, finer=finer)) < 0.002


def test_only_what_changed_is_painted_afresh(picture, parts):
    layers, view = PlantingLayers(), view_of()
    first = laid(layers, picture, view)
    assert parts == list(PARTS)
    parts.clear()
    assert (laid(layers, picture, view) == first).all()
    assert parts == []
    wider = with_zones_of(picture, replace(picture, zones=picture.zones[:1]))
    assert (laid(layers, wider, view) != first).any()
    assert parts == ["ground"], "plants and fence of the last plan stay"
    parts.clear()
    laid(layers, picture, view, np.full(len(picture.x), 3.0))
    assert parts == ["ground", "plants"]
    for other in ({"view": view_of(0.5)}, {"look": theme("dark")}, {"finer": 1.5}):
        parts.clear()
        laid(layers, picture, **({"view": view} | other))
        assert parts == list(PARTS), other


def test_plants_of_the_last_plan_are_pale_and_the_ground_is_not(picture):
    view = view_of()
    strong, pale = (laid(PlantingLayers(), picture, view, strength=strength) for strength in (1.0, 0.35))
    bare = laid(PlantingLayers(), replace(picture, fences=(), x=picture.x[:0]), view)
    ground = (strong == bare) & (bare > 0)
    assert ground.any()
    assert (pale == bare)[ground].all()
    assert (pale[~ground & (strong > 0)] != strong[~ground & (strong > 0)]).mean() > 0.9
