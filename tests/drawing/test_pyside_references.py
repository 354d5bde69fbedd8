"""PySide6 must not lose references to None: 6.12.0 on Python 3.11 did, and aborted after some thousand calls.

From Python 3.12 on None is never freed, so its count stands still and nothing can be lost.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import PySide6
import pytest
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QImage, QPainter, QPainterPath, QPen, QPolygonF, QTransform

TIMES = 200  # few enough that a broken release is told of before it aborts


def test_the_release_that_loses_references_is_not_in_use():
    assert PySide6.__version__ != "6.12.0"


def _painted() -> tuple[QImage, QPainter]:
    image = QImage(32, 32, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.white)
    return image, QPainter(image)


def _path_calls() -> list[Callable[[], object]]:
    path, corners = QPainterPath(), QPolygonF([QPointF(0, 0), QPointF(4, 0), QPointF(4, 4)])
    return [
        path.clear,
        lambda: path.addPolygon(corners),
        path.closeSubpath,
        lambda: path.moveTo(1, 1),
        lambda: path.lineTo(2, 2),
        lambda: path.addEllipse(QPointF(1, 1), 1, 1),
        lambda: path.translate(0.1, 0.1),
        path.clear,
    ]


def _painter_calls(painter: QPainter) -> list[Callable[[], object]]:
    pen, brush, corners = QPen(), QBrush(), QPolygonF([QPointF(0, 0), QPointF(4, 0), QPointF(4, 4)])
    return [
        painter.save,
        lambda: painter.setPen(pen),
        lambda: painter.setBrush(brush),
        lambda: painter.setRenderHint(QPainter.RenderHint.Antialiasing),
        lambda: painter.setTransform(QTransform()),
        lambda: painter.translate(0.5, 0.5),
        lambda: painter.drawLine(QLineF(0, 0, 3, 3)),
        lambda: painter.drawEllipse(QPointF(5, 5), 2, 2),
        lambda: painter.drawPolygon(corners),
        lambda: painter.fillRect(QRectF(0, 0, 2, 2), QColor("green")),
        lambda: pen.setWidthF(0.5),
        lambda: brush.setColor(QColor("brown")),
        painter.restore,
    ]


@pytest.mark.parametrize("kind", ["path", "painter"])
def test_calls_that_return_nothing_keep_their_references(kind):
    image, painter = _painted()
    calls = _path_calls() if kind == "path" else _painter_calls(painter)
    before = sys.getrefcount(None)
    for _ in range(TIMES):
        for call in calls:
            call()
    drift = sys.getrefcount(None) - before
    painter.end()
    assert not image.isNull()
    assert abs(drift) < TIMES / 10
