"""A planting painted over a map that is painted again and again: what has not changed is kept as a picture."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QImage, QPainter

from farmmap.drawing.planting_painter import PARTS, PlantingPainter
from farmmap.scene.planting_layer import PlantingPicture
from farmmap.scene.styles import Theme
from farmmap.scene.view import Floats, View


class PlantingLayers:
    """Paints plantings in layers, each painted afresh only when something of it is another."""

    def __init__(self) -> None:
        self._painter = PlantingPainter()
        self._kept: dict[str, tuple[tuple[Any, ...], tuple[Any, ...], QImage]] = {}

    def paint(
        self,
        painter: QPainter,
        picture: PlantingPicture,
        view: View,
        dots_per_mm: float,
        theme: Theme,
        crown_m: Floats | None = None,
        *,
        strength: float = 1.0,
    ) -> None:
        """Paint a planting with the upper left corner of the view at the painter's origin.

        Parameters
        ----------
        painter, picture, view, dots_per_mm, theme, crown_m
            As for `PlantingPainter.paint`.
        strength : float
            How strongly plants and fences are shown, 0 to 1: less while they are those of the last plan only.
        """
        finer = max(float(painter.deviceTransform().m11()), 0.1)
        made_of = {
            "ground": tuple(zone.shapes for zone in picture.zones),
            "plants": (picture.x, picture.symbols, crown_m),
            "fences": (picture.fences,),
        }
        for part in PARTS:
            same, equal = made_of[part], (view, dots_per_mm, theme.name, finer)
            kept = self._kept.get(part)
            if kept is None or kept[1] != equal or not _are_same(kept[0], same):
                image = _blank(view, dots_per_mm, finer)
                onto = QPainter(image)
                self._painter.paint_part(part, onto, picture, view, dots_per_mm, theme, crown_m)
                onto.end()
                self._kept[part] = kept = same, equal, image
            painter.setOpacity(1.0 if part == "ground" else strength)
            painter.drawImage(QPointF(0, 0), kept[2])
        painter.setOpacity(1.0)


def _are_same(one: tuple[Any, ...], other: tuple[Any, ...]) -> bool:
    return len(one) == len(other) and all(a is b for a, b in zip(one, other, strict=True))


def _blank(view: View, dots_per_mm: float, finer: float) -> QImage:
    wide, high = (max(round(side * dots_per_mm * finer), 1) for side in (view.width_mm, view.height_mm))
    image = QImage(wide, high, QImage.Format.Format_ARGB32_Premultiplied)
    image.setDevicePixelRatio(finer)
    image.fill(Qt.GlobalColor.transparent)
    return image
