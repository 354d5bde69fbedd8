"""Lines, marks, labels, samples and pens, each painted and looked at dot by dot."""

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter

from farmmap.drawing.fonts import text_size_mm
from farmmap.drawing.label_painter import paint_label
from farmmap.drawing.line_painter import paint_line, stations
from farmmap.drawing.marks import paint_mark
from farmmap.drawing.pens import pen, polygon
from farmmap.drawing.stamps import blank_image, pixels_of
from farmmap.drawing.symbol_painter import paint_sample, symbol_path
from farmmap.scene.labels import Label
from farmmap.scene.scene import GONE, PLANNED, STANDING, UNMEASURED, TextSample, TreeSample
from farmmap.scene.styles import LineStyle, MarkStyle, TextStyle, theme
from farmmap.scene.symbols import SHAPES, SpeciesSymbol

LOOK = theme("paper")
TREE = SpeciesSymbol("PTOT", "tōtara", "#009E73", "triangle", "T")


def marked(paint, width=200, height=200):
    image = blank_image(width, height)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    try:
        paint(painter)
    finally:
        painter.end()
    return pixels_of(image).copy()


def box(dots):
    rows, columns = np.nonzero(dots >> 24 > 60)
    return columns.min(), rows.min(), columns.max(), rows.max()


def test_polygons_keep_every_corner():
    corners = np.random.default_rng(1).random((500, 2)) * 1e6
    made = polygon(corners)
    assert [(point.x(), point.y()) for point in made] == [tuple(corner) for corner in corners.tolist()]
    assert len(polygon(np.empty((0, 2)))) == 0


def test_dashes_are_in_millimetres():
    made = pen("#000000", 0.5, 10.0, (2.0, 1.0))
    assert [length * made.widthF() for length in made.dashPattern()] == pytest.approx([20.0, 10.0])


@pytest.mark.parametrize("shape", SHAPES)
def test_all_symbols_cover_the_same_area(shape):
    dots = marked(
        lambda p: (p.translate(100, 100), p.scale(100, 100), p.fillPath(symbol_path(shape), QColor("#000000")))
    )
    assert (dots >> 24).sum() / 255 == pytest.approx(np.pi / 4 * 100**2, rel=0.01)


def test_stations_are_evenly_spaced_and_know_the_direction():
    bend = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0]])
    found = list(stations(bend, 25.0, 50.0))
    assert [(round(x), round(y)) for x, y, _ in found] == [(25, 0), (75, 0), (100, 25), (100, 75)]
    assert [round(np.degrees(angle)) for *_, angle in found] == [0, 0, 90, 90]
    assert [(x, y) for x, y, _ in stations(bend[:2] / 50, 5.0, 9.0)] == [(1.0, 0.0)]
    assert list(stations(np.zeros((2, 2)), 1.0, 1.0)) == []


LINE = np.array([[10.0, 100.0], [190.0, 100.0]])


def test_a_fence_has_strokes_across_it_at_even_distances():
    dots = marked(lambda p: paint_line(p, LINE, LOOK.lines["fences"], 10.0))
    above = np.flatnonzero(dots[95] >> 24 > 60)
    starts = above[np.flatnonzero(np.diff(above, prepend=-9) > 1)]
    assert np.diff(starts).tolist() == pytest.approx([40.0] * (len(starts) - 1), abs=1)
    assert len(starts) == 5
    assert box(dots)[3] - box(dots)[1] == pytest.approx(12, abs=2)


def test_a_wide_line_is_drawn_at_its_true_width_with_two_edges():
    style = LOOK.lines["creeks"]
    dots = marked(lambda p: paint_line(p, LINE, style, 10.0, true_mm=6.0))
    column = dots[:, 40]
    assert np.count_nonzero(column >> 24) == pytest.approx(60, abs=2)
    assert hex(column[100]) == "0xff" + style.inside[1:].lower()
    edge = [
        abs(int(column[71]) >> shift & 255) - int(style.colour[at : at + 2], 16)
        for shift, at in ((16, 1), (8, 3), (0, 5))
    ]
    assert max(map(abs, edge)) < 40


def test_an_arrow_points_with_the_line():
    style = LineStyle("#00548C", 0.2, arrow_every_mm=18.0)
    forth = marked(lambda p: paint_line(p, LINE, style, 10.0))
    back = marked(lambda p: paint_line(p, LINE[::-1], style, 10.0))
    assert (forth != back).any()
    high = (forth >> 24 > 60).sum(axis=0)
    assert np.flatnonzero(high > 10).min() < 100 < np.flatnonzero(high > 2).max()
    assert high[92:96].sum() > high[104:108].sum()


@pytest.mark.parametrize("shape", ["caution", "note", "ring", "square"])
def test_marks_are_centred_and_as_high_as_they_say(shape):
    style = MarkStyle(shape, "#1E211D", "#F0E442", 6.0, 0.2)
    left, top, right, bottom = box(marked(lambda p: paint_mark(p, 100, 100, style, 10.0)))
    assert (left + right) / 2 == pytest.approx(100, abs=1.5)
    assert bottom - top == pytest.approx(60, abs=6)


@pytest.mark.parametrize("text", ["HEM", "HEM\nHEM"])
def test_a_label_is_centred_on_its_place_inside_its_box(text):
    style = TextStyle("#000000", 6.0)
    wide, high = text_size_mm(text, style)
    left, top, right, bottom = box(marked(lambda p: paint_label(p, Label(text, style, 10.0, 10.0, wide, high), 10.0)))
    assert (left + right) / 2 == pytest.approx(100, abs=2)
    assert (top + bottom) / 2 == pytest.approx(100, abs=2)
    assert right - left <= wide * 10
    assert bottom - top <= high * 10


@pytest.mark.parametrize("dots_per_mm", [4.0, 20.0])
def test_a_halo_clears_the_ground_around_the_letters(dots_per_mm):
    style = TextStyle("#000000", 3.0, halo="#FFFFFF", halo_mm=0.4)
    size = round(20 * dots_per_mm)

    def paint(painter):
        painter.fillRect(0, 0, size, size, QColor("#C00000"))
        paint_label(painter, Label("I", style, 10.0, 10.0, 1.0, 3.0), dots_per_mm)

    row = marked(paint, size, size)[size // 2]
    red, green = (row >> 16 & 255).astype(int), (row >> 8 & 255).astype(int)
    ink = np.flatnonzero(red <= red.min() + 40)
    beside = green[ink.min() - 1 - round(0.1 * dots_per_mm)], green[ink.max() + 1 + round(0.1 * dots_per_mm)]
    assert min(beside) > 120
    assert green[0] < 10


SAMPLES = [
    *LOOK.areas.values(),
    *LOOK.lines.values(),
    *LOOK.marks.values(),
    *(TreeSample(TREE, kind) for kind in (STANDING, UNMEASURED, GONE, PLANNED)),
    TextSample("Abc", LOOK.texts["blocks"]),
]


@pytest.mark.parametrize("dots_per_mm", [3.78, 20.0])
@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: type(sample).__name__)
def test_every_sample_is_seen_and_stays_near_its_place(sample, dots_per_mm):
    middle = QRectF(6 * dots_per_mm, 6 * dots_per_mm, 8 * dots_per_mm, 4 * dots_per_mm)
    size = round(20 * dots_per_mm)
    dots = marked(lambda p: paint_sample(p, middle, sample, LOOK, dots_per_mm), size, size)
    assert (dots != 0).any()
    left, top, right, bottom = np.array(box(dots | 0xFF000000 * (dots != 0).astype(np.uint32))) / dots_per_mm
    assert min(left, top) > 4.0
    assert right < 16.0
    assert bottom < 12.0
