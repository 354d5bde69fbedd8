"""Drawings as forms of a PDF."""

import re

import pytest
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainterPath, QPen, QPolygonF

from farmmap.drawing.path_words import PDF, SVG
from farmmap.drawing.pdf_forms import FormBook, disc, form_of
from farmmap.drawing.symbol_painter import paint_tree, tree_paint
from farmmap.scene.styles import theme
from farmmap.scene.symbols import SHAPES, SpeciesSymbol


def words(draw):
    return form_of(draw).content.words.decode()


def test_a_path_is_written_with_its_curves_and_closed_where_it_ends_at_its_start():
    path = QPainterPath(QPointF(0, 0))
    path.lineTo(10, 0)
    path.cubicTo(11, 1, 12, 2, 10, 10.25)
    path.lineTo(0, 0)
    path.moveTo(5, 5)
    path.lineTo(6, 6)
    assert PDF.path(path).split("\n") == [
        "0 0 m",
        "10 0 l",
        "11 1 12 2 10 10.2 c",
        "0 0 l h",
        "5 5 m",
        "6 6 l",
        "",
    ]
    assert SVG.path(path) == "M0 0L10 0C11 1 12 2 10 10.2L0 0ZM5 5L6 6"


def test_fill_and_stroke_are_said_before_the_path():
    def draw(painter):
        pen = QPen(QColor("#FF0000"), 4.0)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
        pen.setDashPattern([2.0, 1.0])
        painter.setPen(pen)
        painter.setBrush(QColor("#0000FF"))
        painter.drawRect(QRectF(0, 0, 10, 20))

    said = words(draw)
    assert said.startswith("0 0 1 rg\n1 0 0 RG 4 w 0 J 0 j [8 4] 0 d\n0 0 m")
    assert said.endswith("B*")


def test_a_stroke_alone_fills_nothing_and_a_fill_alone_strokes_nothing():
    def stroke(painter):
        painter.setPen(QPen(QColor("#000000"), 2.0))
        painter.drawLine(QLineF(0, 0, 30, 40))

    def fill(painter):
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor("#000000"))
        painter.drawPolygon(QPolygonF([QPointF(0, 0), QPointF(9, 0), QPointF(0, 9)]))

    assert words(stroke).endswith("\nS")
    assert "rg" not in words(stroke)
    assert words(fill).endswith("h\nf*")
    assert "RG" not in words(fill)


def test_what_shows_through_names_its_opacity():
    def draw(painter):
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(0, 0, 0, 51))
        painter.drawEllipse(QPointF(0, 0), 5, 5)
        painter.setBrush(QColor(0, 0, 0))
        painter.drawEllipse(QPointF(0, 0), 2, 2)

    content = form_of(draw).content
    assert content.opacities == {51, 255}
    assert re.findall(rb"/A(\d+) gs", content.words) == [b"51", b"255"]


def test_the_place_and_turn_of_the_painter_hold():
    def draw(painter):
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QBrush(QColor("#000000")))
        painter.translate(100, 50)
        painter.scale(2, 2)
        painter.drawRect(QRectF(0, 0, 10, 10))

    form = form_of(draw)
    assert "120 70 l" in form.content.words.decode()
    left, top, right, bottom = form.box
    assert (left, top, right, bottom) == (99, 49, 121, 71)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_box_holds_all_of_a_symbol(shape):
    paint = tree_paint(SpeciesSymbol("T", "tōtara", "#009E73", shape, "T"), 0, 3.0, theme("paper"), 100.0)
    form = form_of(lambda painter: paint_tree(painter, 0.0, 0.0, paint))
    left, top, right, bottom = form.box
    assert left < -150 - paint.outline
    assert right > 150 + paint.outline
    assert top < -150 - paint.outline
    assert bottom > 150
    assert b"BT" not in form.content.words  # the letter is an outline, so that copied text is not full of letters


def test_forms_that_are_alike_are_one():
    book = FormBook()
    assert book.number_of(disc()) == 0
    paint = tree_paint(SpeciesSymbol("T", "tōtara", "#009E73", "circle", "T"), 0, 3.0, theme("paper"), 100.0)
    first = book.name_of(form_of(lambda painter: paint_tree(painter, 0.0, 0.0, paint)))
    again = book.name_of(form_of(lambda painter: paint_tree(painter, 0.0, 0.0, paint)))
    assert first == again == "T1"
    assert len(book.forms) == 2
