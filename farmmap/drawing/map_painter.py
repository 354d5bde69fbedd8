"""Painting a scene, the same way for the screen, a picture and paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPainter, QTransform

from farmmap.drawing.backdrop_painter import paint_backdrop
from farmmap.drawing.fonts import text_size_mm
from farmmap.drawing.label_painter import paint_label
from farmmap.drawing.pens import colour
from farmmap.drawing.shape_painter import OUTLINED, Pause, paint_areas, paint_lines, paint_marks
from farmmap.drawing.stamps import blank_image, pixels_of
from farmmap.drawing.tree_painter import TreePainter, outline_crowns, paint_crowns, stamp_crowns
from farmmap.scene.labels import Label, place
from farmmap.scene.raster_layer import RasterLayer, TileSource
from farmmap.scene.scene import AreaLayer, CrownLayer, LabelLayer, Layer, LineLayer, MarkLayer, Scene, TreeLayer
from farmmap.scene.styles import Theme
from farmmap.scene.view import View

_SHARED_DOTS = {QImage.Format.Format_ARGB32_Premultiplied, QImage.Format.Format_RGB32}


def _go_on() -> None:
    """Nobody else waits for a turn."""


class TreesApart(Protocol):
    """Who puts trees and crowns into a file himself, where a painter would take long and the file would be large."""

    def put_trees(self, painter: QPainter, trees: TreeLayer, view: View, theme: Theme) -> None:
        """Put trees over all that was painted so far, for a view whose upper left corner is the painter's origin."""

    def put_crowns(self, painter: QPainter, crowns: CrownLayer, view: View) -> None:
        """Put the tint under crowns over all that was painted so far, as `put_trees` does."""


@dataclass(frozen=True)
class _How:
    """What holds for all layers of one painting."""

    pause: Pause
    labels: Sequence[Label] | None
    as_in: View


class MapPainter:
    """Paints scenes; keep one, as it remembers the symbols that it has made.

    Paint the screen into a QImage of format ARGB32_Premultiplied without a
    device pixel ratio, and show that image: a million trees are then laid
    straight into its memory.

    Parameters
    ----------
    tiles : TileSource, optional
        Who reads the pictures under the map; without it they are left out.
    apart : TreesApart, optional
        Who puts trees and crowns into the file that is painted; without it the painter paints them.
    """

    def __init__(self, tiles: TileSource | None = None, apart: TreesApart | None = None) -> None:
        self._trees = TreePainter()
        self._tiles = tiles
        self._apart = apart

    def paint(
        self,
        painter: QPainter,
        scene: Scene,
        view: View,
        dots_per_mm: float,
        layers: Iterable[Layer] | None = None,
        *,
        pause: Pause = _go_on,
        labels: Sequence[Label] | None = None,
        as_in: View | None = None,
    ) -> None:
        """Paint a scene with the upper left corner of the view at the painter's origin.

        Parameters
        ----------
        painter : QPainter
            Its coordinates are dots of the device; left as it was.
        scene : Scene
            What to paint.
        view : View
            Which ground, at what scale and size.
        dots_per_mm : float
            Resolution of the device: 96 / 25.4 times the zoom of a screen, or its own for a printer.
        layers : iterable of Layer, optional
            Paint only these layers of the scene, and no ground colour beneath.
        pause : callable, optional
            Called every millisecond or two, so that another thread can have its turn; may raise to stop.
        labels : sequence of Label, optional
            Names in their places, as `labels` gives them, to be written instead of looking for places anew.
        as_in : View, optional
            Paint trees as large as they are in this view of the same scale, of which ``view`` is a part, or which is
            a part of it.
        """
        painter.save()
        try:
            self._paint(painter, scene, view, dots_per_mm, layers, _How(pause, labels, as_in or view))
        finally:
            painter.restore()

    def labels(
        self,
        scene: Scene,
        view: View,
        pause: Pause = _go_on,
        blocked_mm: tuple[float, float, float, float] | None = None,
    ) -> list[Label]:
        """Return the names of a scene in their places.

        Parameters
        ----------
        scene, view, pause
            As for `paint`.
        blocked_mm : tuple of float, optional
            Left, top, right and bottom of a part of the picture where no name is wanted. [mm]
        """
        layers = [layer for layer in scene.layers if isinstance(layer, LabelLayer)]
        return [label for layer in layers for label in place(layer, view, text_size_mm, pause, blocked_mm)]

    def _paint(
        self,
        painter: QPainter,
        scene: Scene,
        view: View,
        dots_per_mm: float,
        layers: Iterable[Layer] | None,
        how: _How,
    ) -> None:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
        wide, high = view.width_mm * dots_per_mm, view.height_mm * dots_per_mm
        if painter.paintEngine().type() not in OUTLINED:
            wide, high = round(wide), round(high)  # half a dot at the edge would be seen as a line
        frame = QRectF(0, 0, wide, high)
        painter.setClipRect(frame, Qt.ClipOperation.IntersectClip)
        if layers is None:
            painter.fillRect(frame, colour(scene.theme.outside))
        for layer in (*scene.layers, *scene.chosen) if layers is None else layers:
            how.pause()
            self._paint_layer(painter, layer, scene.theme, view, dots_per_mm, how)

    def _paint_layer(
        self, painter: QPainter, layer: Layer, theme: Theme, view: View, dots_per_mm: float, how: _How
    ) -> None:
        match layer:
            case RasterLayer():
                paint_backdrop(painter, layer, view, dots_per_mm, self._tiles)
            case AreaLayer():
                paint_areas(painter, layer, view, dots_per_mm, how.pause)
            case LineLayer():
                paint_lines(painter, layer, view, dots_per_mm, how.pause)
            case MarkLayer():
                paint_marks(painter, layer, view, dots_per_mm)
            case TreeLayer() | CrownLayer():
                self._paint_trees(painter, layer, theme, view, dots_per_mm, how)
            case LabelLayer():
                placed = how.labels if how.labels is not None else place(layer, view, text_size_mm, how.pause)
                for label in placed:
                    how.pause()
                    paint_label(painter, label, dots_per_mm)

    def _paint_trees(
        self,
        painter: QPainter,
        layer: TreeLayer | CrownLayer,
        theme: Theme,
        view: View,
        dots_per_mm: float,
        how: _How,
    ) -> None:
        if painter.paintEngine().type() in OUTLINED:
            self._outline_trees(painter, layer, theme, view, dots_per_mm, how.pause)
            return
        target = painter.device()
        if isinstance(target, QImage) and _fills(target, painter, view, dots_per_mm):
            self._stamp(target, layer, theme, view, dots_per_mm, how)
        else:
            finer = max(painter.deviceTransform().m11(), 0.1)
            size = (round(view.width_mm * dots_per_mm * finer), round(view.height_mm * dots_per_mm * finer))
            image = blank_image(*size)
            self._stamp(image, layer, theme, view, dots_per_mm * finer, how)
            painter.drawImage(QRectF(0, 0, size[0] / finer, size[1] / finer), image)
        if isinstance(layer, CrownLayer):
            outline_crowns(painter, layer, view, dots_per_mm, how.pause)

    def _outline_trees(
        self,
        painter: QPainter,
        layer: TreeLayer | CrownLayer,
        theme: Theme,
        view: View,
        dots_per_mm: float,
        pause: Pause,
    ) -> None:
        if isinstance(layer, TreeLayer):
            if self._apart:
                self._apart.put_trees(painter, layer, view, theme)
            else:
                self._trees.paint_trees(painter, layer, view, theme, dots_per_mm)
            return
        if self._apart:
            self._apart.put_crowns(painter, layer, view)
        else:
            paint_crowns(painter, layer, view, dots_per_mm)
        outline_crowns(painter, layer, view, dots_per_mm, pause)

    def _stamp(
        self,
        image: QImage,
        layer: TreeLayer | CrownLayer,
        theme: Theme,
        view: View,
        dots_per_mm: float,
        how: _How,
    ) -> None:
        dots = pixels_of(image)
        if isinstance(layer, CrownLayer):
            stamp_crowns(dots, layer, view, dots_per_mm, how.pause)
        else:
            self._trees.stamp_trees(dots, layer, view, theme, dots_per_mm, how.pause, how.as_in)


def _fills(image: QImage, painter: QPainter, view: View, dots_per_mm: float) -> bool:
    """Whether the view covers an image dot for dot, so that its memory may be written to."""
    across = abs(view.width_mm * dots_per_mm - image.width()) < 1.0
    down = abs(view.height_mm * dots_per_mm - image.height()) < 1.0
    whole = painter.deviceTransform() == QTransform() and image.format() in _SHARED_DOTS
    return across and down and whole
