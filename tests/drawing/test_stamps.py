import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QPainter

from farmmap.drawing.stamps import Canvas, blank_image, make_stamp, pixels_of, tint, under_discs
from farmmap.errors import Stopped


def disc(colour, radius):
    def paint(painter, middle):
        painter.setPen(QColor(0, 0, 0, 0))
        painter.setBrush(QColor(colour))
        painter.drawEllipse(QPointF(middle, middle), radius, radius)

    return make_stamp(radius, paint, smooth=True)


def painted(width, height, colour, radius, places):
    image = blank_image(width, height)
    image.fill(QColor("#F0F0E0"))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QColor(0, 0, 0, 0))
    painter.setBrush(QColor(colour))
    for x, y in places:
        painter.drawEllipse(QPointF(x + 0.5, y + 0.5), radius, radius)
    painter.end()
    return pixels_of(image).copy()


def channels(dots):
    return np.ascontiguousarray(dots).view(np.uint8).reshape(*dots.shape, 4).astype(int)


@pytest.mark.parametrize("radius", [2.1, 3.2, 9.0, 12.0])
def test_stamps_are_what_the_painter_paints_also_across_the_edges(radius):
    places = [(5, 5), (30, 12), (0, 0), (39, 29), (-2, 15), (20, 31), (60, 60), (25, -40)]
    image = blank_image(40, 30)
    image.fill(QColor("#F0F0E0"))
    x, y = (np.array([place[axis] for place in places], np.int32) for axis in (0, 1))
    Canvas(pixels_of(image)).lay_down(disc("#C04020", radius), x, y)
    away = np.abs(channels(pixels_of(image)) - channels(painted(40, 30, "#C04020", radius, places)))
    assert away.max() <= 2


def test_many_places_and_few_places_come_out_alike():
    rng = np.random.default_rng(2)
    x, y = rng.integers(0, 200, 5000).astype(np.int32), rng.integers(0, 150, 5000).astype(np.int32)
    many, few = blank_image(200, 150), blank_image(200, 150)
    stamp = make_stamp(
        2,
        lambda painter, middle: painter.fillRect(int(middle) - 1, int(middle) - 1, 3, 2, QColor("#123456")),
        smooth=False,
    )
    Canvas(pixels_of(many)).lay_down(stamp, x, y)
    canvas = Canvas(pixels_of(few))
    for first in range(0, 5000, 500):
        canvas.lay_down(stamp, x[first : first + 500], y[first : first + 500])
    assert (pixels_of(many) == pixels_of(few)).all()
    assert (pixels_of(many) == 0xFF123456).any()


def test_small_stamps_laid_down_by_qt_differ_by_a_step_of_colour_at_most():
    places = [(8, 8), (30, 12), (0, 0), (39, 29), (20, 31)]
    x, y = (np.array([place[axis] for place in places], np.int32) for axis in (0, 1))
    by_numpy, by_qt = blank_image(40, 30), blank_image(40, 30)
    stamp = disc("#C04020", 3.2)
    assert not stamp.is_large
    for image, few in ((by_numpy, False), (by_qt, True)):
        image.fill(QColor("#F0F0E0"))
        Canvas(pixels_of(image), few=few).lay_down(stamp, x, y)
    away = np.abs(channels(pixels_of(by_numpy)) - channels(pixels_of(by_qt)))
    assert away.max() <= 1
    assert QColor(by_qt.pixelColor(8, 8)).name() == "#c04020"


def test_many_large_stamps_leave_turns_to_others_and_stop_when_they_are_told_to():
    turns, image = [], blank_image(300, 200)

    def pause():
        turns.append(1)
        if len(turns) == 5:
            raise Stopped("Enough.")

    places = np.full(5000, 100, np.int32)
    with pytest.raises(Stopped):
        Canvas(pixels_of(image), pause).lay_down(disc("#336699", 12.0), places, places)
    assert QColor(image.pixelColor(100, 100)).name() == "#336699"
    assert QPainter(image).end()


def test_an_image_whose_rows_are_padded_is_stamped_in_place():
    image = blank_image(7, 9)
    dots = pixels_of(image)
    Canvas(dots).lay_down(
        make_stamp(1, lambda p, m: p.fillRect(int(m), int(m), 1, 1, QColor("#FF0000")), smooth=False),
        np.array([6], np.int32),
        np.array([8], np.int32),
    )
    assert image.pixel(6, 8) == 0xFFFF0000
    assert (dots != 0).sum() == 1


@given(
    st.lists(st.tuples(st.floats(-20, 60), st.floats(-20, 50), st.floats(0.2, 30)), max_size=12),
)
def test_discs_cover_the_dots_whose_middles_they_hold(found):
    x, y, diameter = (np.array([one[axis] for one in found], float) for axis in range(3))
    covered = under_discs(30, 40, x, y, diameter)
    rows, columns = np.mgrid[0:30, 0:40] + 0.5
    away = (columns[..., None] - x) ** 2 + (rows[..., None] - y) ** 2 - (diameter / 2) ** 2
    wanted, near = (away <= 0).any(axis=2), (np.abs(away) < 1e-6).any(axis=2)
    assert (covered == wanted)[~near].all()


def test_a_tint_is_even_and_only_where_it_is_asked_for():
    image = blank_image(10, 10)
    image.fill(QColor("#FFFFFF"))
    dots = pixels_of(image)
    covered = np.zeros((10, 10), bool)
    covered[2:5, 3:8] = True
    tint(dots, covered, 0x008000, 0.25)
    assert len(np.unique(dots[covered])) == 1
    assert (dots[~covered] == 0xFFFFFFFF).all()
    assert channels(dots)[3, 4].tolist() == pytest.approx([191, 223, 191, 255], abs=2)
