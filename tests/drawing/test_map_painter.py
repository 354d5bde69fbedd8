import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
import shapely
from PySide6.QtGui import QColor, QImage, QPainter, QPicture

from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.stamps import blank_image, pixels_of
from farmmap.farm.farm import new_farm
from farmmap.scene.build import build_scene
from farmmap.scene.scene import STANDING, Chosen
from farmmap.scene.view import View
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)
DOTS = 96 / 25.4


def paint(scene, view, dots=DOTS, painter=None, layers=None):
    image = blank_image(round(view.width_mm * dots), round(view.height_mm * dots))
    with_painter = QPainter(image)
    (painter or MapPainter()).paint(with_painter, scene, view, dots, layers)
    with_painter.end()
    return image


def view_of(farm, width=800, height=600):
    return View.fitting(farm.bounds(), width / DOTS, height / DOTS)


def colour_at(image, view, x, y, dots=DOTS):
    across, down = view.to_dots(x, y, dots)
    return QColor(image.pixel(int(across), int(down))).name()


def test_ground_and_blocks_have_their_colours():
    farm = made_farm(12, 0)
    scene, view = build_scene(farm, ON, hidden=frozenset({"labels"})), view_of(farm)
    image = paint(scene, view)
    look = scene.theme
    assert image.pixelColor(3, 3).name().upper() == look.outside.upper()
    inside = farm.blocks.geometry.iloc[0].point_on_surface()
    assert colour_at(image, view, inside.x, inside.y).upper() == look.areas["blocks"].fill.upper()
    hole = shapely.Polygon(farm.blocks.geometry.iloc[3].interiors[0]).representative_point()
    assert colour_at(image, view, hole.x, hole.y).upper() == look.inside.upper()


def test_trees_stand_where_they_are_and_have_the_colour_of_their_species(hill_farm):
    scene = build_scene(hill_farm, ON, hidden=frozenset({"labels", "crowns"}))
    trees = next(layer for layer in scene.layers if layer.name == "trees")
    middle = View(float(trees.x[200]), float(trees.y[200]), 0.3, 220.0, 160.0)
    image = paint(scene, middle)
    x, y = middle.to_dots(trees.x, trees.y, DOTS)
    inside = np.flatnonzero((x > 30) & (x < image.width() - 30) & (y > 30) & (y < image.height() - 30))
    alone = [one for one in inside if (np.hypot(x - x[one], y - y[one]) < 60).sum() == 1]
    checked = 0
    for one in alone:
        kind = trees.groups[trees.group[one]]
        half = int(trees.sizes_mm(0.3)[trees.group[one]] * DOTS * 0.3)
        if kind.drawn_as == STANDING and half > 2:
            symbol = pixels_of(image)[int(y[one]) - half : int(y[one]) + half, int(x[one]) - half : int(x[one]) + half]
            shades, counts = np.unique(symbol, return_counts=True)
            wanted = int(trees.symbols[kind.species].colour[1:], 16) | 0xFF000000
            assert shades[counts.argmax()] == wanted
            checked += 1
    assert checked > 0


def test_screen_and_paper_paint_the_same_picture(hill_farm):
    scene = build_scene(hill_farm, ON, theme="paper", hidden=frozenset({"labels"}))
    view = View.fitting(hill_farm.bounds(), 180, 130).zoomed(3.0, (60.0, 40.0))
    stamped = paint(scene, view, 8.0)
    picture = QPicture()
    painter = QPainter(picture)
    MapPainter().paint(painter, scene, view, 8.0)
    painter.end()
    outlined = QImage(stamped.size(), QImage.Format.Format_ARGB32_Premultiplied)
    painter = QPainter(outlined)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.drawPicture(0, 0, picture)
    painter.end()
    one, other = (pixels_of(image).view(np.uint8).astype(int) for image in (stamped, outlined))
    away = np.abs(one - other)
    assert away.mean() < 1.0
    assert (away > 64).mean() < 0.01


@pytest.mark.parametrize("hidden", ["trees", "species:PRAD", "blocks", "creeks", "hazards", "labels"])
def test_hiding_changes_the_picture(hill_farm, hidden):
    view = view_of(hill_farm)
    shown = paint(build_scene(hill_farm, ON), view)
    gone = paint(build_scene(hill_farm, ON, hidden=frozenset({hidden})), view)
    assert (pixels_of(shown) != pixels_of(gone)).any()


def test_what_is_chosen_is_seen(hill_farm):
    view = view_of(hill_farm)
    scene = build_scene(hill_farm, ON, chosen=Chosen("block", 2))
    image = paint(scene, view)
    x, y = hill_farm.blocks.geometry.loc[2].exterior.coords[1]
    assert colour_at(image, view, x, y).upper() == scene.theme.picked.upper()


def test_a_painter_that_was_moved_or_scaled_paints_in_its_place(hill_scene, hill_farm):
    view = view_of(hill_farm, 300, 200)
    trees = [layer for layer in hill_scene.layers if layer.name in {"trees", "crowns"}]
    straight = paint(hill_scene, view, layers=trees)
    moved = blank_image(400, 300)
    painter = QPainter(moved)
    painter.translate(40, 30)
    MapPainter().paint(painter, hill_scene, view, DOTS, trees)
    painter.end()
    assert (pixels_of(moved)[30:230, 40:340] == pixels_of(straight)[:200, :300]).mean() > 0.999
    finer = blank_image(round(view.width_mm * DOTS * 2), round(view.height_mm * DOTS * 2))
    painter = QPainter(finer)
    painter.scale(2, 2)
    MapPainter().paint(painter, hill_scene, view, DOTS, trees)
    painter.end()
    sharp = paint(hill_scene, view, 2 * DOTS, layers=trees)
    assert (pixels_of(finer) == pixels_of(sharp)).mean() > 0.98


def test_layers_by_themselves_leave_the_rest_clear(hill_scene, hill_farm):
    view = view_of(hill_farm)
    image = paint(hill_scene, view, layers=[layer for layer in hill_scene.layers if layer.name == "trees"])
    assert (pixels_of(image) == 0).mean() > 0.5
    assert (pixels_of(image) != 0).any()


def test_the_painter_is_left_as_it_was(hill_scene, hill_farm):
    image = blank_image(300, 200)
    painter = QPainter(image)
    MapPainter().paint(painter, hill_scene, view_of(hill_farm, 200, 100), DOTS)
    assert not painter.hasClipping()
    painter.fillRect(250, 150, 10, 10, QColor("#FF0000"))
    painter.end()
    assert image.pixelColor(255, 155).name() == "#ff0000"


@pytest.mark.parametrize("zoom", [0.02, 1, 40, 3000])
def test_any_view_can_be_painted(hill_scene, hill_farm, zoom):
    view = view_of(hill_farm).zoomed(zoom)
    assert paint(hill_scene, view).width() == 800
    turned = replace(view, rotation=37.0)
    assert paint(hill_scene, turned).width() == 800


def test_an_empty_farm_is_bare_ground():
    scene = build_scene(new_farm("Pipit Downs", "EPSG:2193"), ON)
    image = paint(scene, View.fitting(None, 60, 40))
    assert len(np.unique(pixels_of(image))) == 1


def test_a_crowd_of_trees_is_one_dot_each(hill_farm):
    scene = build_scene(hill_farm, ON)
    trees = next(layer for layer in scene.layers if layer.name == "trees")
    view = View.fitting(hill_farm.bounds(), 20, 15)
    image = paint(scene, view, DOTS, layers=[trees])
    marked = np.argwhere(pixels_of(image) != 0)
    x, y = view.to_dots(trees.x, trees.y, DOTS)
    wanted = {(int(b), int(a)) for a, b in zip(x, y, strict=True)}
    assert {tuple(one) for one in marked.tolist()} == {
        w for w in wanted if 0 <= w[0] < image.height() and 0 <= w[1] < image.width()
    }
