"""The picture beside a plain one: each tree, area and line painted by itself, in full, with one call of Qt."""

import datetime as dt
import math

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPainterPath

from farmmap.drawing.crowd_painter import crowd, one_dot_each
from farmmap.drawing.line_painter import paint_line
from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.marks import paint_mark
from farmmap.drawing.pens import brush, pen
from farmmap.drawing.stamps import blank_image, make_stamp, pixels_of
from farmmap.drawing.symbol_painter import paint_tree, tree_paint
from farmmap.scene.build import build_scene
from farmmap.scene.scene import AreaLayer, CrownLayer, LineLayer, MarkLayer, TreeLayer
from farmmap.scene.view import View
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)
DOTS = 96 / 25.4
NO_LABELS = frozenset({"labels"})

MOST_MEAN, FAR, MOST_FAR = 0.8, 64, 0.003
"""A picture agrees with the plain one if its channels are less than 0.8 steps of 255 away on average, and fewer than
3 in 1,000 more than a quarter of the range. What is allowed for: soft edges, a line of 1.1 dots drawn as one of 1 dot,
corners dropped that lie within a quarter of a dot, and trees set to the nearest quarter of a dot."""

DASHED = frozenset({"margins"})
"""Left out, as dashes begin a little farther on where a corner is dropped, or at the edge of the picture."""


def plain_picture(scene, view, size):
    image = QImage(*size, QImage.Format.Format_RGB32)
    image.fill(QColor(scene.theme.outside))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for layer in scene.layers:
        match layer:
            case AreaLayer():
                plain_areas(painter, layer, view)
            case LineLayer():
                for shape, wide in zip(layer.shapes, layer.widths_m / view.metres_per_mm, strict=True):
                    points = np.column_stack(view.to_dots(*shapely.get_coordinates(shape).T, DOTS))
                    paint_line(painter, points, layer.style, DOTS, float(wide), on_paper=True)
            case MarkLayer():
                for x, y in zip(*view.to_dots(layer.x, layer.y, DOTS), strict=True):
                    paint_mark(painter, x, y, layer.style, DOTS)
            case CrownLayer():
                plain_crowns(painter, layer, view)
            case TreeLayer():
                plain_trees(painter, layer, view, scene.theme)
    painter.end()
    return image


def plain_areas(painter, layer, view):
    for shape in layer.shapes:
        path = QPainterPath()
        for ring in (shape.exterior, *shape.interiors):
            x, y = view.to_dots(*shapely.get_coordinates(ring).T, DOTS)
            path.moveTo(x[0], y[0])
            for across, down in zip(x[1:], y[1:], strict=True):
                path.lineTo(across, down)
            path.closeSubpath()
        painter.setBrush(brush(layer.style.fill, layer.style.opacity))
        painter.setPen(pen(layer.style.line, layer.style.line_mm, DOTS, layer.style.dash))
        painter.drawPath(path)


def plain_crowns(painter, layer, view):
    if view.metres_per_mm > layer.farthest_m_per_mm:
        return
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.WindingFill)
    radius = layer.trees.crown_m / view.metres_per_mm * DOTS / 2
    for x, y, r in zip(*view.to_dots(layer.trees.x, layer.trees.y, DOTS), radius.tolist(), strict=True):
        path.addEllipse(QPointF(x, y), r, r)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(brush(layer.style.fill, layer.style.opacity))
    painter.drawPath(path)


def plain_trees(painter, layer, view, theme):
    x, y = view.to_dots(layer.x, layer.y, DOTS)
    sizes = layer.sizes_mm(view.metres_per_mm)
    for one in layer.by_group.tolist():
        kind = layer.groups[layer.group[one]]
        paint = tree_paint(layer.symbols[kind.species], kind.drawn_as, float(sizes[layer.group[one]]), theme, DOTS)
        paint_tree(painter, x[one], y[one], paint)


def painted(scene, view, size, painter=None):
    image = QImage(*size, QImage.Format.Format_RGB32)
    with_painter = QPainter(image)
    (painter or MapPainter()).paint(with_painter, scene, view, DOTS)
    with_painter.end()
    return image


def channels(image):
    return pixels_of(image).copy().view(np.uint8).reshape(image.height(), image.width(), 4)[..., :3]


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("zoom", [1.0, 3.0, 9.0])
def test_the_picture_agrees_with_a_plain_one(theme, zoom):
    farm, size = made_farm(12, 400), (900, 650)
    scene = build_scene(farm, ON, theme=theme, hidden=NO_LABELS | DASHED)
    view = View.fitting(farm.bounds(), size[0] / DOTS, size[1] / DOTS).zoomed(zoom, (100.0, 60.0))
    away = np.abs(
        channels(painted(scene, view, size)).astype(int) - channels(plain_picture(scene, view, size)).astype(int)
    )
    assert away.mean() < MOST_MEAN
    assert (away > FAR).mean() < MOST_FAR


@pytest.mark.parametrize("missing", ["blocks", "trees"])
def test_the_comparison_notices_what_is_missing(missing):
    farm, size = made_farm(12, 400), (900, 650)
    view = View.fitting(farm.bounds(), size[0] / DOTS, size[1] / DOTS)
    whole = painted(build_scene(farm, ON, hidden=NO_LABELS), view, size)
    less = painted(build_scene(farm, ON, hidden=NO_LABELS | {missing}), view, size)
    away = np.abs(channels(whole).astype(int) - channels(less).astype(int))
    assert away.mean() > MOST_MEAN or (away > FAR).mean() > MOST_FAR


def trees_of(count):
    farm = made_farm(1, count, creek=False)
    return next(layer for layer in build_scene(farm, ON).layers if isinstance(layer, TreeLayer))


def test_one_dot_each_is_what_a_loop_over_the_trees_paints():
    trees, size = trees_of(30_000), (200, 150)
    middle = (float(np.median(trees.x)), float(np.median(trees.y)))
    view = View(*middle, 8.0, size[0] / DOTS, size[1] / DOTS)
    colours = np.arange(1, len(trees.groups) + 1, dtype=np.uint32)
    shown = np.arange(len(trees.groups)) % 5 != 2
    found, wanted = blank_image(*size), blank_image(*size)
    runs = trees.cells.slices(view.ground_bounds())
    one_dot_each(pixels_of(found), trees, runs, colours, shown, view, DOTS, lambda: None)
    dots = pixels_of(wanted)
    a_metre = DOTS / view.metres_per_mm
    west, south = (float(v) for v in view.to_dots(trees.cells.west, trees.cells.south, DOTS))
    for x, y, group in zip(trees.x_near, trees.y_near, trees.group, strict=True):
        across = math.floor(np.float32(x) * np.float32(a_metre) + np.float32(west))
        down = math.floor(np.float32(y) * -np.float32(a_metre) + np.float32(south))
        if shown[group] and 0 <= across < size[0] and 0 <= down < size[1]:
            dots[down, across] = colours[group]
    assert (pixels_of(found) == dots).all()
    assert (dots != 0).mean() > 0.2


def test_a_crowd_is_what_a_loop_over_the_trees_paints():
    """Small symbols in the order of painting, with the edges of the picture cutting through them."""
    trees, size = trees_of(180_000), (900, 700)
    scene = build_scene(made_farm(1, 180_000, creek=False), ON)
    middle = (float(np.median(trees.x)) + 1.5 * size[0] / DOTS, float(np.median(trees.y)))
    view = View(*middle, 3.0, size[0] / DOTS, size[1] / DOTS)
    painter = MapPainter()
    image = painted_trees(painter, scene, trees, view, size)
    assert painter._trees._sizes(trees, trees.group_shown(), view, scene.theme, DOTS).max() > 2
    stamps = painter._trees._last_stamps[2]
    reach = max(stamp.reach for stamp in stamps)
    found = crowd(trees, [(0, len(trees.x))], trees.group_shown(), view, DOTS, size, reach)
    wanted = blank_image(*size)
    dots = pixels_of(wanted)
    rows, columns = slice(300, 400), slice(0, 120)
    for one in np.argsort(found.group, kind="stable").tolist():
        x, y, stamp = int(found.x[one]), int(found.y[one]), stamps[found.group[one]]
        if 290 < y < 410 and x < 130:
            for across, down, colour in zip(
                stamp.dots.across.tolist(), stamp.dots.down.tolist(), stamp.dots.colours.tolist(), strict=True
            ):
                if 0 <= x + across < size[0]:
                    dots[y + down, x + across] = over(colour, int(dots[y + down, x + across]))
    one, other = (pixels_of(picture)[rows, columns].copy().view(np.uint8).astype(int) for picture in (image, wanted))
    assert (np.abs(one - other) <= 4).mean() > 0.98
    assert (dots[rows, columns] != 0).mean() > 0.1


@pytest.mark.parametrize("rotation", [0.0, 30.0])
def test_trees_taken_group_by_group_are_the_same_in_the_same_order(rotation):
    trees, size = trees_of(3000), (300, 200)
    middle = (float(np.median(trees.x)), float(np.median(trees.y)))
    view = View(*middle, 3.0, size[0] / DOTS, size[1] / DOTS, rotation)
    plain, grouped = (
        crowd(trees, [(0, len(trees.x))], trees.group_shown(), view, DOTS, size, 5, grouped=one)
        for one in (False, True)
    )
    order = np.argsort(plain.group, kind="stable")
    assert 0 < len(plain.x) < len(trees.x)
    for name in ("x", "y", "group"):
        assert (getattr(plain, name)[order] == getattr(grouped, name)).all()


def over(above, below):
    """One premultiplied colour laid over another."""
    left = 255 - (above >> 24)
    return sum(
        ((above >> shift & 255) + round((below >> shift & 255) * left / 255)) << shift for shift in (0, 8, 16, 24)
    )


def painted_trees(painter, scene, trees, view, size):
    image = blank_image(*size)
    with_painter = QPainter(image)
    painter.paint(with_painter, scene, view, DOTS, [trees])
    with_painter.end()
    return image


def test_a_hardened_stamp_has_whole_dots_only():
    def disc(painter, middle):
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor("#336699"))
        painter.drawEllipse(QPointF(middle, middle), 4.2, 4.2)

    soft = make_stamp(5, disc, smooth=True)
    assert soft.dots.partly > 0
    for hard in (soft.hardened(None).dots, soft.hardened(0xFF336699).dots):
        assert hard.partly == 0
        assert (
            np.abs(hard.colours.view(np.uint8).astype(int) - [0x99, 0x66, 0x33, 0xFF] * len(hard.colours)) <= 2
        ).all()
        assert len(hard.colours) == pytest.approx(math.pi * 4.2**2, rel=0.05)


@pytest.mark.parametrize("metres_per_mm", [0.4, 2.0, 9.0])
def test_a_part_of_a_view_is_painted_as_in_the_whole(metres_per_mm):
    farm, size = made_farm(12, 3000), (600, 400)
    scene = build_scene(farm, ON, hidden=NO_LABELS | DASHED | {"fences"})
    west, south, east, north = farm.bounds()
    view = View((west + east) / 2, (south + north) / 2, metres_per_mm, size[0] / DOTS, size[1] / DOTS)
    whole = channels(painted(scene, view, size))
    left, top, wide, high = 130, 90, 200, 150
    x, y = view.to_ground((left + wide / 2) / DOTS, (top + high / 2) / DOTS)
    part = view.centred(float(x), float(y)).sized(wide / DOTS, high / DOTS)
    image = QImage(wide, high, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    MapPainter().paint(painter, scene, part, DOTS, as_in=view)
    painter.end()
    away = np.abs(channels(image).astype(int) - whole[top : top + high, left : left + wide].astype(int))
    assert (away > 8).mean() < 0.002
