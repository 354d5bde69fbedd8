"""Pictures under the map lie where the corners over them lie, whatever their grid, the scale and the turn."""

import numpy as np
import pytest
from affine import Affine
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter, QPdfWriter

from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.stamps import blank_image
from farmmap.farm.farm import new_farm
from farmmap.farm.grids import transform
from farmmap.files.rasters import look_at
from farmmap.scene.backdrop_tiles import BackdropTiles, halved
from farmmap.scene.raster_layer import Patch, RasterLayer
from farmmap.scene.scene import Scene
from farmmap.scene.styles import theme
from farmmap.scene.view import View
from tests.files.raster_files import raster_file, turned

EAST, NORTH = 1_812_000.0, 5_478_000.0
SIDE_M = 200.0
"""Side of the painted squares. [m]"""
DOTS_PER_MM = 96 / 25.4


def painted(path, epsg, squares, dot_m, place=None):
    """A picture on a grid, black, with white squares whose sides lie at known places of the farm's grid.

    A dot that a side crosses is grey by how much of it lies inside, as in a photograph.
    """
    across = np.concatenate([np.linspace(EAST, EAST + 800, 9)] * 2)
    up = np.repeat([NORTH, NORTH + 800], 9)
    x, y = transform(across, up, 2193, epsg)
    west, north = x.min(), y.max()
    dot = (x.max() - x.min()) / 800 * dot_m, (y.max() - y.min()) / 800 * dot_m
    place = place or Affine(dot[0], 0, west, 0, -dot[1], north)
    columns, rows = round((x.max() - west) / dot[0]), round((north - y.min()) / dot[1])
    column, row = np.meshgrid(np.arange(columns) + 0.5, np.arange(rows) + 0.5)
    ground = transform(
        place.a * column + place.b * row + place.c, place.d * column + place.e * row + place.f, epsg, 2193
    )
    white = np.zeros(column.shape)
    for left, low in squares:
        away = [abs(at - start - SIDE_M / 2) for at, start in zip(ground, (left, low), strict=True)]
        white = np.maximum(white, np.clip(0.5 + (SIDE_M / 2 - np.maximum(*away)) / dot_m, 0, 1))
    return raster_file(path, np.repeat((white * 255).astype(np.uint8)[None], 3, axis=0), place, f"EPSG:{epsg}")


def scene_of(layer):
    return Scene((layer,), (), layer.bounds, theme("light"))


def shown(layer, view, dots_per_mm=DOTS_PER_MM, tiles=None):
    image = blank_image(round(view.width_mm * dots_per_mm), round(view.height_mm * dots_per_mm))
    painter = QPainter(image)
    MapPainter(tiles or BackdropTiles()).paint(painter, scene_of(layer), view, dots_per_mm, [layer])
    painter.end()
    return image


def edges(line):
    """Where a line of brightness rises and falls through one half, between dots."""
    over = line.astype(float) / 255 - 0.5
    at = np.flatnonzero(over[:-1] * over[1:] < 0)
    return at + over[at] / (over[at] - over[at + 1]) + 0.5


SQUARES = [(EAST + 100, NORTH + 100), (EAST + 500, NORTH + 100), (EAST + 500, NORTH + 500)]


@pytest.fixture(scope="module", params=[2193, 4326, 32760, 27200, 3857])
def picture_on(request, tmp_path_factory):
    path = painted(tmp_path_factory.mktemp("grids") / "squares.tif", request.param, SQUARES, 0.8)
    file = look_at(path, new_farm("Pipit", "EPSG:2193").grid)
    return RasterLayer("backdrops", 1.0, file.bounds, file, 2193)


@pytest.mark.parametrize("metres_per_mm", [0.8, 2.0, 2.9, 7.3, 15.0])
def test_squares_lie_under_their_corners_to_within_a_dot(picture_on, metres_per_mm):
    """Every square that is whole in view: its four sides, halfway along each, against the vector corners' dots."""
    width = 1300 / metres_per_mm if metres_per_mm > 2 else 420
    view = View(EAST + 403.7, NORTH + 397.1, metres_per_mm, width, width * 0.8)
    if metres_per_mm < 2:
        view = view.centred(EAST + 203.3, NORTH + 197.9)
    dots = _brightness(shown(picture_on, view))
    seen = 0
    for left, low in SQUARES:
        x, y = view.to_dots(np.array([left, left + SIDE_M]), np.array([low + SIDE_M, low]), DOTS_PER_MM)
        if min(x[0], y[0]) < 2 or x[1] > dots.shape[1] - 2 or y[1] > dots.shape[0] - 2:
            continue
        seen += 1
        middle_x, middle_y = int(x.mean()), int(y.mean())
        room = int((x[1] - x[0]) * 0.4)
        across = edges(dots[middle_y, max(int(x[0]) - room, 0) : int(x[1]) + room]) + max(int(x[0]) - room, 0)
        down = edges(dots[max(int(y[0]) - room, 0) : int(y[1]) + room, middle_x]) + max(int(y[0]) - room, 0)
        assert across == pytest.approx(x, abs=0.5)
        assert down == pytest.approx(y, abs=0.5)
    assert seen >= 1


def _brightness(image):
    shades = image.convertToFormat(QImage.Format.Format_Grayscale8)
    lines = np.frombuffer(shades.constBits(), np.uint8).reshape(shades.height(), shades.bytesPerLine())
    return lines[:, : shades.width()].copy()  # the image is let go


@pytest.mark.parametrize("rotation", [0.0, 30.0, 90.0, 200.0])
def test_on_a_turned_map_corners_still_fit(picture_on, rotation):
    """Just inside each corner the square is white, just outside black."""
    view = View(EAST + 400, NORTH + 400, 4.0, 320, 300, rotation)
    dots = _brightness(shown(picture_on, view))
    for left, low in SQUARES:
        for across, up in ((0, 0), (1, 0), (1, 1), (0, 1)):
            x, y = left + across * SIDE_M, low + up * SIDE_M
            step = 2 * view.metres_per_mm / DOTS_PER_MM
            inward = np.array([x + step * (1 - 2 * across)]), np.array([y + step * (1 - 2 * up)])
            outward = np.array([x - step * (1 - 2 * across)]), np.array([y - step * (1 - 2 * up)])
            for place, want in ((inward, 255), (outward, 0)):
                column, row = (int(v[0]) for v in view.to_dots(*place, DOTS_PER_MM))
                assert abs(int(dots[row, column]) - want) < 40


def test_a_turned_file_fits_too(tmp_path):
    place = turned(EAST + 20, NORTH + 1000, 0.8, -10)
    file = look_at(painted(tmp_path / "a.tif", 2193, SQUARES, 0.8, place), new_farm("Pipit", "EPSG:2193").grid)
    layer = RasterLayer("backdrops", 1.0, file.bounds, file, 2193)
    view = View(EAST + 500, NORTH + 400, 3.0, 250, 200)
    dots = _brightness(shown(layer, view))
    x, y = view.to_dots(np.array([EAST + 500, EAST + 700]), np.array([NORTH + 700, NORTH + 500]), DOTS_PER_MM)
    line = dots[int(y.mean()), int(x[0]) - 40 : int(x[1]) + 40]
    assert edges(line) + int(x[0]) - 40 == pytest.approx(x, abs=0.5)


def test_strength_and_clear_parts_let_the_ground_show():
    dots = np.zeros((10, 10, 4), np.uint8)
    dots[:, 5:] = [0, 0, 0, 255]
    bounds = (0.0, 0.0, 100.0, 100.0)
    layer = RasterLayer("relief", 0.5, bounds, None, 2193, (Patch(dots, bounds),))
    view = View(50, 50, 2.0, 50, 50)
    image = QImage(100, 100, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(QColor("#FFFFFF"))
    painter = QPainter(image)
    MapPainter(BackdropTiles()).paint(painter, scene_of(layer), view, 2.0, [layer])
    assert painter.opacity() == 1.0
    painter.end()
    assert image.pixelColor(20, 50).red() == 255
    assert image.pixelColor(80, 50).red() == pytest.approx(128, abs=2)


def test_without_anybody_to_read_them_pictures_are_left_out(picture_on):
    image = blank_image(50, 50)
    painter = QPainter(image)
    MapPainter().paint(painter, scene_of(picture_on), View(EAST, NORTH, 5, 50, 50), 1.0, [picture_on])
    painter.end()
    assert image == blank_image(50, 50)


def test_halves_keep_the_ground_that_they_cover():
    rng = np.random.default_rng(1)
    dots = rng.integers(0, 255, (37, 50, 4)).astype(np.uint8)
    patches = halved(dots, (0.0, 0.0, 500.0, 370.0))
    assert patches[0].dots.shape == (48, 64, 4)
    assert patches[0].bounds == (0.0, -110.0, 640.0, 370.0)
    assert [patch.dots.shape[0] for patch in patches] == [48, 24, 12, 6, 3]
    assert all(patch.bounds == patches[0].bounds for patch in patches)
    assert patches[2].dots[3, 5].astype(float) == pytest.approx(dots[12:16, 20:24].mean(axis=(0, 1)), abs=2)


def test_a_page_holds_the_picture_at_the_resolution_of_print(tmp_path, picture_on):
    writer = QPdfWriter(str(tmp_path / "a.pdf"))
    writer.setResolution(2400)
    painter = QPainter(writer)
    view = View(EAST + 400, NORTH + 400, 10.0, 100, 80)
    MapPainter(BackdropTiles()).paint(painter, scene_of(picture_on), view, 2400 / 25.4, [picture_on])
    painter.drawRect(QRectF(0, 0, 10, 10))
    painter.end()
    made = (tmp_path / "a.pdf").read_bytes()
    assert b"/Subtype /Image" in made
    assert 5_000 < len(made) < 3_000_000
    assert b"/Width 1200" in made
