"""Painting pictures under the map."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPaintEngine, QPainter, QTransform

from farmmap.drawing.stamps import blank_image
from farmmap.scene.backdrop_tiles import FINEST_DOTS_PER_MM, MOST_PRINTED_DOTS
from farmmap.scene.raster_layer import Dots, Patch, RasterLayer, TileSource
from farmmap.scene.view import View

_OUTLINED = {QPaintEngine.Type.Pdf, QPaintEngine.Type.SVG, QPaintEngine.Type.Picture}
"""Devices that keep pictures as they are given."""


def paint_backdrop(
    painter: QPainter, layer: RasterLayer, view: View, dots_per_mm: float, tiles: TileSource | None
) -> None:
    """Paint what is at hand of a picture.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    layer : RasterLayer
        The picture.
    view : View
        Which ground.
    dots_per_mm : float
        Resolution of the device.
    tiles : TileSource or None
        Who reads it; None to leave it out.
    """
    patch = None if tiles is None or layer.opacity <= 0 else tiles.fetch(layer, view, dots_per_mm)
    if patch is None:
        return
    patch = _in_sight(patch, view)
    if patch is None:
        return
    if layer.is_grey:
        patch = Patch(_greyed(patch.dots), patch.bounds)
    painter.save()
    painter.setOpacity(painter.opacity() * layer.opacity)
    if painter.paintEngine().type() in _OUTLINED:
        wide, high = view.width_mm * dots_per_mm, view.height_mm * dots_per_mm
        painter.drawImage(QRectF(0, 0, wide, high), _as_dots(patch, view))
    else:
        _lay(painter, patch, view, dots_per_mm)
    painter.restore()


def _lay(painter: QPainter, patch: Patch, view: View, dots_per_mm: float) -> None:
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
    painter.setTransform(_laid(patch, view, dots_per_mm), combine=True)
    painter.drawImage(0, 0, _image(patch.dots))


def _as_dots(patch: Patch, view: View) -> QImage:
    """Return what a view shows of a picture at the resolution of print, as a page does not smooth what it enlarges."""
    dots_per_mm = min(FINEST_DOTS_PER_MM, (MOST_PRINTED_DOTS / (view.width_mm * view.height_mm)) ** 0.5)
    wide, high = round(view.width_mm * dots_per_mm), round(view.height_mm * dots_per_mm)
    image = blank_image(max(wide, 1), max(high, 1))
    painter = QPainter(image)
    painter.scale(wide / (view.width_mm * dots_per_mm), high / (view.height_mm * dots_per_mm))
    _lay(painter, patch, view, dots_per_mm)
    painter.end()
    return image


def _in_sight(patch: Patch, view: View) -> Patch | None:
    """Cut a picture to the rows and columns that a view shows, and one more at each side."""
    west, south, east, north = patch.bounds
    rows, columns = patch.dots.shape[:2]
    across, down = (east - west) / columns, (north - south) / rows
    seen = view.ground_bounds()
    left, right = int((seen[0] - west) // across) - 1, int((seen[2] - west) // across) + 2
    top, bottom = int((north - seen[3]) // down) - 1, int((north - seen[1]) // down) + 2
    left, right, top, bottom = max(left, 0), min(right, columns), max(top, 0), min(bottom, rows)
    if left >= right or top >= bottom:
        return None
    bounds = (west + left * across, north - bottom * down, west + right * across, north - top * down)
    return Patch(patch.dots[top:bottom, left:right], bounds)


def _greyed(dots: Dots) -> Dots:
    """Return a picture without its colours: red, green and blue weighed as the eye does (Recommendation BT.709)."""
    grey = np.rint(dots[..., :3] @ np.array([0.2126, 0.7152, 0.0722], np.float32)).astype(np.uint8)
    return np.stack([grey, grey, grey, dots[..., 3]], axis=-1)


def _laid(patch: Patch, view: View, dots_per_mm: float) -> QTransform:
    """Return what carries the picture's own dots to those of the device."""
    west, south, east, north = patch.bounds
    rows, columns = patch.dots.shape[:2]
    x, y = view.to_dots(np.array([west, east, west]), np.array([north, north, south]), dots_per_mm)
    return QTransform(
        float(x[1] - x[0]) / columns,
        float(y[1] - y[0]) / columns,
        float(x[2] - x[0]) / rows,
        float(y[2] - y[0]) / rows,
        float(x[0]),
        float(y[0]),
    )


def _image(dots: Dots) -> QImage:
    """Return dots as an image of its own, in the format that painting is quickest with."""
    dots = np.ascontiguousarray(dots)
    rows, columns = dots.shape[:2]
    shared = QImage(dots.data, columns, rows, columns * 4, QImage.Format.Format_RGBA8888_Premultiplied)
    return shared.convertToFormat(QImage.Format.Format_ARGB32_Premultiplied)
