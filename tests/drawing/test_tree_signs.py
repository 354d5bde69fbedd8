"""Rings and crosses over marked trees: seen, told apart without colour, and nothing at all where none is marked."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from PySide6.QtGui import QImage, QPainter, QPdfWriter

from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.stamps import blank_image, pixels_of
from farmmap.drawing.tree_painter import TreePainter
from farmmap.drawing.tree_signs import LEAST_DOTS, signs_in, stamp_signs
from farmmap.farm.edits import rows_changed
from farmmap.scene.build import build_scene
from farmmap.scene.scene import CROP, TAKE, MarkLayer, TreeLayer
from farmmap.scene.styles import contrast, theme
from farmmap.scene.view import View
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)
DOTS = 96 / 25.4


def marked(farm, marks):
    """The farm with marks on its trees, in their order."""
    rows = farm.trees.iloc[: len(marks)].assign(mark=pd.array(list(marks), dtype="str"))
    return rows_changed(farm, "Mark", "trees", rows).apply(farm)


def layer_of(farm, look="light"):
    scene = build_scene(farm, ON, theme=look, margins=())
    return next(layer for layer in scene.layers if isinstance(layer, TreeLayer)), scene


@pytest.fixture(scope="module")
def farm():
    return made_farm(6, 300)


@pytest.fixture(scope="module")
def three(farm):
    """A farm whose first trees are marked in turn."""
    return marked(farm, ["crop", "take", ""] * 40)


def test_the_layer_knows_what_each_tree_is_marked_for(farm, three):
    plain, _ = layer_of(farm)
    assert not plain.marks.any()
    assert not len(plain.marked)
    layer, _ = layer_of(three)
    wanted = {"": 0, "crop": CROP, "take": TAKE}
    alive = three.trees["status"].loc[layer.ids] == "alive"
    there = alive.to_numpy() & (three.trees["stage"].loc[layer.ids] == "existing").to_numpy()
    marks = [wanted[mark] for mark in three.trees["mark"].loc[layer.ids]]
    assert layer.marks.tolist() == np.where(there, marks, 0).tolist()
    runs = layer.cells.slices((layer.x.min(), layer.y.min(), layer.x.max(), layer.y.max()))
    assert layer.marked_in(runs).tolist() == layer.marked.tolist()
    assert layer.marked_in([]).tolist() == []


def test_a_felled_tree_has_no_sign(farm):
    rows = farm.trees.iloc[:5].assign(mark=pd.array(["take"] * 5, dtype="str"), status="felled")
    layer, scene = layer_of(rows_changed(farm, "Fell", "trees", rows).apply(farm))
    assert not layer.marks.any()
    assert not [entry for entry in scene.key if entry.words == "to be taken out"]


def test_the_key_tells_of_marks_only_where_there_are_some(farm, three):
    words = [entry.words for entry in layer_of(farm)[1].key]
    assert "crop tree, kept" not in words
    assert "to be taken out" not in words
    layer, scene = layer_of(three)
    counts = {entry.words: entry.count for entry in scene.key}
    assert counts["crop tree, kept"] == (layer.marks == CROP).sum() > 0
    assert counts["to be taken out"] == (layer.marks == TAKE).sum() > 0
    only = marked(three, [""] + ["crop", ""] * 20 + [""] * 80)
    assert "to be taken out" not in [entry.words for entry in layer_of(only)[1].key]


@pytest.mark.parametrize("look", ["light", "dark", "paper"])
def test_signs_stand_out_from_every_ground(look):
    made = theme(look)
    for name in ("crop", "take"):
        assert min(contrast(made.marks[name].line, ground) for ground in made.grounds()) >= 4.5
    assert made.marks["crop"].shape != made.marks["take"].shape


def one_tree(farm, mark, wide=30.0):
    """Grey dots of one thick tree alone, with a mark."""
    every, _ = layer_of(farm)
    stems = np.array([group.dbh_class_cm for group in every.groups])[every.group]
    alone = marked(replace_trees(farm, every.ids[[int(stems.argmax())]]), [mark])
    layer, scene = layer_of(alone)
    view = View.fitting((layer.x[0] - 1, layer.y[0] - 1, layer.x[0] + 1, layer.y[0] + 1), wide, wide, 0.0)
    view = replace(view, metres_per_mm=0.5)
    image = QImage(round(wide * DOTS), round(wide * DOTS), QImage.Format.Format_ARGB32_Premultiplied)
    painter = QPainter(image)
    MapPainter().paint(painter, scene, view, DOTS)
    painter.end()
    grey = image.convertToFormat(QImage.Format.Format_Grayscale8)
    lines = np.frombuffer(grey.constBits(), np.uint8).reshape(grey.height(), grey.bytesPerLine())
    return lines[:, : grey.width()].astype(int)


def replace_trees(farm, ids):
    tape = farm.measurements
    return farm.with_tables(trees=farm.trees.loc[ids], measurements=tape[tape["tree"].isin(ids)])


def test_crop_take_and_left_are_told_apart_without_colour(farm):
    left, crop, take = (one_tree(farm, mark) for mark in ("", "crop", "take"))
    for one, other in ((left, crop), (left, take), (crop, take)):
        assert (np.abs(one - other) > 40).sum() > 12
    middle = left.shape[0] // 2
    ring, cross = np.abs(crop - left) > 30, np.abs(take - left) > 30
    assert not ring[middle - 1 : middle + 2, middle - 1 : middle + 2].any()  # a ring leaves the tree as it is
    assert cross[middle - 1 : middle + 2, middle - 1 : middle + 2].any()  # a cross goes over it
    assert ring[middle].any()
    assert ring[:, middle].any()


def test_nothing_is_painted_where_nothing_is_marked(farm):
    layer, scene = layer_of(farm)
    view = View.fitting(scene.bounds, 200, 150)
    sizes = layer.sizes_mm(view.metres_per_mm) * DOTS
    assert signs_in(layer, sizes, view, DOTS) is None
    image = blank_image(round(200 * DOTS), round(150 * DOTS))
    stamp_signs(pixels_of(image), layer, sizes, view, scene.theme, DOTS, lambda: None)
    assert not pixels_of(image).any()


def test_a_hidden_species_has_no_signs_and_signs_outside_the_view_are_left_out(three):
    layer, scene = layer_of(three)
    view = View.fitting(scene.bounds, 200, 150)
    sizes = layer.sizes_mm(view.metres_per_mm) * DOTS
    everywhere = signs_in(layer, sizes, view, DOTS)
    assert len(everywhere.x) == len(layer.marked)
    hidden = replace(layer, shown=np.zeros(len(layer.symbols), np.bool_))
    assert signs_in(hidden, sizes, view, DOTS) is None
    x, y = layer.x[layer.marked[0]], layer.y[layer.marked[0]]
    near = signs_in(layer, sizes, View.fitting((x - 5, y - 5, x + 5, y + 5), 40, 40), DOTS)
    assert 0 < len(near.x) < len(layer.marked)
    assert signs_in(layer, np.full(len(layer.groups), 0.5), view, DOTS, LEAST_DOTS) is None


def test_signs_are_the_same_ground_on_screen_and_paper(three, tmp_path):
    layer, scene = layer_of(three, "paper")
    view = View.fitting(scene.bounds, 150, 100)
    path = tmp_path / "map.pdf"
    sizes_of_file = []
    for one in (scene, replace(scene, layers=tuple(_unmarked(layer) for layer in scene.layers))):
        writer = QPdfWriter(str(path))
        painter = QPainter(writer)
        MapPainter().paint(painter, one, view, writer.resolution() / 25.4)
        painter.end()
        sizes_of_file.append(path.stat().st_size)
    assert sizes_of_file[0] > sizes_of_file[1]
    sizes = layer.sizes_mm(view.metres_per_mm)
    screen, paper = (signs_in(layer, sizes * dots, view, dots) for dots in (DOTS, 1200 / 25.4))
    assert screen.x / DOTS == pytest.approx(paper.x / (1200 / 25.4))
    assert screen.size / DOTS == pytest.approx(paper.size / (1200 / 25.4), abs=0.1)
    assert screen.mark.tolist() == paper.mark.tolist()


def _unmarked(layer):
    return replace(layer, marks=np.zeros_like(layer.marks)) if isinstance(layer, TreeLayer) else layer


def test_painting_a_part_gives_the_dots_of_the_whole(three):
    """What is mended after an edit must not be seen."""
    layer, scene = layer_of(three)
    whole = replace(View.fitting(scene.bounds, 200, 150), metres_per_mm=2.0)
    part = whole.sized(100, 75)
    painted = []
    for view in (whole, part):
        image = blank_image(round(view.width_mm * 4), round(view.height_mm * 4))
        TreePainter().stamp_trees(pixels_of(image), layer, view, scene.theme, 4.0, lambda: None, whole)
        painted.append(pixels_of(image).copy())
    inner = painted[0][150:450, 200:600]
    assert (inner == painted[1]).all()
    assert not isinstance(layer, MarkLayer)
