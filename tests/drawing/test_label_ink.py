"""Names as they are painted: the ink of no two meets, and none is cut at the frame."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
import shapely
from PySide6.QtCore import QMarginsF, QSizeF
from PySide6.QtGui import QImage, QPageLayout, QPageSize, QPainter, QPdfWriter

from farmmap.drawing.fonts import text_size_mm
from farmmap.drawing.label_painter import paint_label
from farmmap.drawing.stamps import pixels_of
from farmmap.figures.standing import standing
from farmmap.scene.labels import place
from farmmap.scene.scene import LabelLayer, Wording
from farmmap.scene.styles import theme
from farmmap.scene.trees import tree_layer
from farmmap.scene.view import View
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


WIDE, HIGH = 60.0, 40.0


def bent_name():
    """A creek's name over an arc, in a picture of 60 mm by 40 mm."""
    angle = np.radians(np.linspace(170, 10, 100))
    arc = np.column_stack([25 * np.cos(angle), 25 * np.sin(angle) - 15])
    style = theme("paper").texts["creeks"]
    creek = Wording("Ōtū Creek", style, 4.0, arc, True, 50.0, 0.5)
    view = View(0.0, 0.0, 1.0, WIDE, HIGH)
    (label,) = place(LabelLayer((creek,), None, style), view, text_size_mm)
    assert len(label.letters) == len("Ōtū Creek")
    return label


def test_each_letter_of_a_bent_name_is_painted_in_its_place():
    label = bent_name()
    plain = replace(label, style=replace(label.style, halo=""))
    ink = ink_of(plain, int(WIDE * DOTS_PER_MM), int(HIGH * DOTS_PER_MM))
    down, across = np.nonzero(ink)
    dots = shapely.points((across + 0.5) / DOTS_PER_MM, (down + 0.5) / DOTS_PER_MM)
    letters = shapely.polygons(label.outlines())
    leans = 0.45  # [mm] a slanted letter leans over the next one's place
    assert shapely.distance(shapely.union_all(letters), dots).max() < leans
    for letter, outline in zip(label.letters, letters, strict=True):
        assert shapely.contains(outline, dots).any() or letter.text == " "
    moved = ink_of(replace(plain, x_mm=label.x_mm + 5), ink.shape[1], ink.shape[0])
    assert (moved[:, 30:] == ink[:, :-30]).mean() > 0.999


def test_a_bent_name_has_its_halo_beneath_all_of_its_letters():
    label = bent_name()
    bare = ink_of(replace(label, style=replace(label.style, halo="")), 360, 240)
    haloed = ink_of(label, 360, 240)
    assert haloed[bare].all()
    assert haloed.sum() > 1.5 * bare.sum()


def test_a_bent_name_is_found_in_a_pdf_as_one(tmp_path):
    label = bent_name()
    writer = QPdfWriter(str(tmp_path / "name.pdf"))
    size = QPageSize(QSizeF(WIDE, HIGH), QPageSize.Unit.Millimeter, "", QPageSize.SizeMatchPolicy.ExactMatch)
    writer.setPageLayout(QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(0, 0, 0, 0)))
    writer.setResolution(2540)
    painter = QPainter(writer)
    paint_label(painter, label, 100.0)
    painter.end()
    with pypdfium2.PdfDocument(tmp_path / "name.pdf") as pdf:
        page = pdf[0]
        words = page.get_textpage()
        assert words.get_text_range().strip() == "Ōtū Creek"
        picture = page.render(scale=DOTS_PER_MM * 25.4 / 72).to_numpy()
    painted = (picture[:240, :360, :3] < 140).any(axis=2)
    letters = ink_of(replace(label, style=replace(label.style, halo="")), 360, 240)
    assert painted.sum() > letters.sum() / 2
    near = [np.roll(letters, (down, across), (0, 1)) for down in (-1, 0, 1) for across in (-1, 0, 1)]
    assert not (painted & ~np.any(near, axis=0)).any()  # the straight one, which is there to be found, is not seen
