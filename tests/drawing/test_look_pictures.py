"""What a look makes of trees, hatches and grounds, painted and looked at as everybody sees it and as a copy shows it."""

import itertools

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter

from farmmap.drawing.backdrop_painter import paint_backdrop
from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.marks import paint_mark
from farmmap.drawing.stamps import blank_image, pixels_of
from farmmap.drawing.symbol_painter import paint_sample, paint_tree, tree_paint
from farmmap.drawing.tree_signs import sign_style
from farmmap.scene.build import build_scene
from farmmap.scene.raster_layer import Patch, RasterLayer
from farmmap.scene.scene import CROP, GONE, PLANNED, STANDING, TAKE, UNMEASURED, CrownLayer, Scene, TreeLayer
from farmmap.scene.shapes import area_layer
from farmmap.scene.sizes import GONE_MM, PLANNED_MM, SMALLEST_MM, UNMEASURED_MM, sign_mm
from farmmap.scene.styles import LOOKS, AreaStyle, Hatch, theme
from farmmap.scene.symbols import OKABE_ITO, SHAPES, SpeciesSymbol
from farmmap.scene.view import View
from tests.scene.colour_vision import VISION
from tests.scene.test_build import ON

DOTS = 300 / 25.4
COPIES_BLACK = 128
SEEN = 0.06
"""Difference of luminance, 0 to 1, from which a dot is another one; about ten steps of L* in the lighter greys."""

OTHER_INK = 0.15
"""Share of the ink of two signs that must differ for them to be told apart. The bound is ours."""

paper_look = pytest.mark.parametrize("look", [theme(name) for name in LOOKS.values()], ids=lambda look: look.name)
GREY = theme(LOOKS["grey"])


def painted(paint, wide=101, high=101, ground="#FFFFFF"):
    """Return what is painted as red, green and blue, shape (high, wide, 3)."""
    image = blank_image(wide, high)
    image.fill(QColor(ground))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    try:
        paint(painter)
    finally:
        painter.end()
    dots = pixels_of(image)
    return np.stack([(dots >> shift) & 255 for shift in (16, 8, 0)], axis=-1).astype(np.float64)


def luminance(picture, vision):
    part = picture / 255
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    return np.clip(linear @ VISION[vision].T, 0, 1) @ np.array([0.2126, 0.7152, 0.0722])


def copied(picture):
    """Return which dots a copy of two tones makes black."""
    return picture @ np.array([0.2126, 0.7152, 0.0722]) < COPIES_BLACK


STATES = ("alive", "not measured", "dead or felled", "planned", "crop", "take", "picked")


def tree_in(state, symbol, look):
    """Return the picture of a tree that is drawn as small as it can be."""
    drawn_as = {"not measured": UNMEASURED, "dead or felled": GONE, "planned": PLANNED}.get(state, STANDING)
    least = max(SMALLEST_MM, look.least_symbol_mm)
    width = (least, UNMEASURED_MM, GONE_MM, PLANNED_MM)[drawn_as]

    def paint(painter):
        paint_tree(painter, 50.5, 50.5, tree_paint(symbol, drawn_as, width, look, DOTS))
        if state in {"crop", "take"}:
            style = sign_style(look, CROP if state == "crop" else TAKE, float(sign_mm(least, 0.5)))
            paint_mark(painter, 50.5, 50.5, style, DOTS)
        if state == "picked":
            paint_mark(painter, 50.5, 50.5, look.marks["tree picked"], DOTS)

    return painted(paint)


@paper_look
@pytest.mark.parametrize("shape", SHAPES)
def test_states_of_a_tree_are_told_apart_in_every_vision(look, shape):
    for colour in OKABE_ITO:
        pictures = {state: tree_in(state, SpeciesSymbol("S", "s", colour, shape, "S"), look) for state in STATES}
        for vision in VISION:
            seen = {state: luminance(picture, vision) for state, picture in pictures.items()}
            for one, other in itertools.combinations(STATES, 2):
                ink = max((seen[state] < 1 - SEEN).sum() for state in (one, other))
                differs = (np.abs(seen[one] - seen[other]) > SEEN).sum()
                assert differs >= OTHER_INK * ink, (one, other, colour, vision)


@pytest.mark.parametrize("shape", SHAPES)
def test_states_of_a_tree_are_told_apart_in_a_copy_of_the_grey_look(shape):
    for colour in OKABE_ITO:
        black = {state: copied(tree_in(state, SpeciesSymbol("S", "s", colour, shape, "S"), GREY)) for state in STATES}
        for one, other in itertools.combinations(STATES, 2):
            ink = max(black[one].sum(), black[other].sum())
            assert (black[one] ^ black[other]).sum() >= OTHER_INK * ink, (one, other, colour)


def test_plants_too_close_for_signs_do_not_run_together_in_the_grey_look():
    """Dots of 0.35 mm, half a millimetre apart."""
    paint = tree_paint(SpeciesSymbol("S", "s", OKABE_ITO[3], "circle", "S"), STANDING, 0.35, GREY, DOTS)

    def row(painter):
        for place in range(12):
            paint_tree(painter, 10.5 + place * 0.5 * DOTS, 50.5, paint)

    black = copied(painted(row))[50]
    assert (np.diff(black.astype(int)) == 1).sum() == 12


HATCHED = AreaStyle(hatch=Hatch(2.0, 45.0, 0.3, "#000000"))
VIEW = View(100.0, 100.0, 1.0, 30.0, 30.0)


def hatched(shapes, view=VIEW, style=HATCHED):
    layer = area_layer("blocks", style, np.arange(len(shapes)), shapes)
    scene = Scene((layer,), (), None, GREY)
    wide, high = round(view.width_mm * 10), round(view.height_mm * 10)
    return painted(lambda painter: MapPainter().paint(painter, scene, view, 10.0), wide, high)[..., 0]


def test_hatches_of_neighbours_run_on_into_each_other():
    west, east = shapely.box(90, 90, 100, 110), shapely.box(100, 90, 110, 110)
    together, apart = hatched([shapely.box(90, 90, 110, 110)]), hatched([west, east])
    assert (together < 128).sum() > 1000
    assert (np.abs(together - apart) > 40).mean() < 0.002  # but for the soft ends of strokes where the two meet


def test_a_hatch_moves_with_its_ground():
    area = [shapely.box(90, 90, 110, 110)]
    here, moved = hatched(area), hatched(area, VIEW.panned(2.0, 1.0))
    assert np.abs(here[60:240, 60:240] - moved[70:250, 80:260]).max() < 3


def test_a_hatch_leaves_holes_and_the_outside_free():
    ground, hole = shapely.box(90, 90, 110, 110), shapely.box(96, 96, 104, 104)
    picture = hatched([shapely.difference(ground, hole)])
    assert (picture[112:188, 112:188] == 255).all()
    assert (picture[:45] == 255).all()
    assert (picture[60:105, 60:240] < 128).any()


def test_a_plain_style_is_painted_as_before():
    picture = hatched([shapely.box(90, 90, 110, 110)], style=AreaStyle(fill="#808080"))
    assert set(np.unique(picture[60:240, 60:240])) == {128.0}


@pytest.mark.parametrize("name", ["margins", "clearance", "hazard area", "crowns"])
def test_the_key_shows_the_hatch(name):
    style = GREY.areas[name]
    room = QRectF(5, 5, 8 * DOTS, 3.3 * DOTS)
    with_it, without = (
        painted(lambda painter, one=one: paint_sample(painter, room, one, GREY, DOTS), 110, 60)
        for one in (style, AreaStyle(style.fill, style.opacity, style.line, style.line_mm, style.dash))
    )
    assert (copied(with_it) & ~copied(without)).sum() > 40


@pytest.fixture(scope="module")
def grey_scene(hill_farm):
    return build_scene(hill_farm, ON, theme=GREY)


def layer_alone(scene, layer, view, dots):
    wide, high = round(view.width_mm * dots), round(view.height_mm * dots)
    return painted(lambda painter: MapPainter().paint(painter, scene, view, dots, [layer]), wide, high)


def test_every_layer_of_the_grey_look_is_grey_and_shows_in_a_copy(grey_scene, hill_farm):
    trees = next(layer for layer in grey_scene.layers if isinstance(layer, TreeLayer))
    whole = View.fitting(hill_farm.bounds(), 100.0, 75.0)
    close = View(float(np.median(trees.x)), float(np.median(trees.y)), 1.5, 80.0, 60.0)
    for layer in grey_scene.layers:
        if layer.name == "ground":
            continue
        picture = layer_alone(grey_scene, layer, close if isinstance(layer, CrownLayer) else whole, DOTS)
        assert np.ptp(picture, axis=-1).max() <= 2, layer.name
        assert copied(picture).sum() > 20, layer.name


def test_crowns_of_the_grey_look_are_hatched_once_where_they_overlap(grey_scene):
    crowns = next(layer for layer in grey_scene.layers if isinstance(layer, CrownLayer))
    trees = crowns.trees
    view = View(float(np.median(trees.x)), float(np.median(trees.y)), 1.5, 80.0, 60.0)
    picture = layer_alone(grey_scene, crowns, view, DOTS)
    tinted = picture[..., 0] < 250
    hatch = crowns.style.hatch
    share = (picture[..., 0] < 190).sum() / tinted.sum()
    assert 0.3 < share / (hatch.line_mm / hatch.spacing_mm) < 2.0


class OneTile:
    """Gives the same four dots wherever it is asked: red, green, blue and one half seen through."""

    def fetch(self, _layer, view, _dots_per_mm):
        dots = np.array([[(255, 0, 0, 255), (0, 255, 0, 255)], [(0, 0, 255, 255), (0, 64, 0, 128)]], np.uint8)
        return Patch(dots, view.ground_bounds())


def test_a_picture_under_the_grey_look_is_as_light_as_in_colour():
    colour, grey = (
        painted(
            lambda painter, is_grey=is_grey: paint_backdrop(
                painter,
                RasterLayer("backdrops", 1.0, VIEW.ground_bounds(), None, 2193, is_grey=is_grey),
                VIEW,
                1.0,
                OneTile(),
            ),
            30,
            30,
        )
        for is_grey in (False, True)
    )
    assert np.ptp(grey, axis=-1).max() <= 1
    assert np.ptp(colour, axis=-1).max() == 255
    for row, column in ((2, 2), (2, 27), (27, 2), (27, 27)):
        assert grey[row, column, 0] == pytest.approx(colour[row, column] @ [0.2126, 0.7152, 0.0722], abs=2)
