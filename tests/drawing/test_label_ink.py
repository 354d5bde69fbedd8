"""Names as they are painted: the ink of no two meets, and none is cut at the frame."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtGui import QImage, QPainter

from farmmap.drawing.fonts import text_size_mm
from farmmap.drawing.label_painter import paint_label
from farmmap.drawing.stamps import pixels_of
from farmmap.figures.standing import standing
from farmmap.scene.labels import place
from farmmap.scene.styles import theme
from farmmap.scene.trees import tree_layer
from farmmap.scene.wordings import label_layer
from tests.scene.random_farm import random_farm

ON = dt.date(2025, 1, 1)
DOTS_PER_MM = 6.0


def ink_of(label, wide, high):
    """Dots that a name leaves on clear ground, True or False."""
    image = QImage(wide, high, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(0)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    paint_label(painter, label, DOTS_PER_MM)
    painter.end()
    return pixels_of(image).reshape(high, wide) >> 24 > 40  # fainter is the edge of a letter


@pytest.mark.parametrize("seed", range(0, 500, 25))
def test_painted_names_neither_meet_nor_are_cut(seed):
    farm, view = random_farm(seed)
    trees = tree_layer(farm, ON, standing(farm, ON), frozenset()) if len(farm.trees) else None
    labels = place(label_layer(farm, theme("paper"), frozenset(), trees), view, text_size_mm)
    wide, high = (int(side * DOTS_PER_MM) for side in (view.width_mm, view.height_mm))
    letters, halos = [], []
    for label in labels:
        letters.append(ink_of(replace(label, style=replace(label.style, halo="")), wide, high))
        halos.append(ink_of(label, wide, high))
        for edge in (halos[-1][0], halos[-1][-1], halos[-1][:, 0], halos[-1][:, -1]):
            assert not edge.any(), label.text
    taken = np.sum(letters, axis=0) if letters else np.zeros(1)
    assert taken.max() <= 1
    for label, mine, halo in zip(labels, letters, halos, strict=True):
        assert mine.any() or not label.text.strip(), label.text
        hidden = halo & (taken - mine > 0)
        assert hidden.sum() <= 2, label.text
