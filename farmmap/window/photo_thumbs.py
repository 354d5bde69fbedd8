"""Small pictures of photographs, read in the background and kept."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QPoint, QPointF, QRect, QSize, Qt
from PySide6.QtGui import QColor, QIcon, QImage, QImageReader, QPainter, QPixmap

THUMB = QSize(264, 198)
"""Room for a small picture, on a screen of any resolution. [px of a plain screen]"""

_KEPT: dict[tuple[str, int, int, float], QImage] = {}
_MOST_KEPT = 200


def read_thumbs(paths: Sequence[Path], dots: float) -> list[QImage]:
    """Read photographs small and the right way up; an empty picture stands for one that cannot be read.

    Parameters
    ----------
    paths : sequence of Path
        Their files.
    dots : float
        Dots of the screen to one of a plain screen, along a side.
    """
    return [_thumb(path, dots) for path in paths]


def _thumb(path: Path, dots: float) -> QImage:
    try:
        found = path.stat()
    except OSError:
        return QImage()
    key = str(path), found.st_mtime_ns, found.st_size, dots
    if key not in _KEPT:
        if len(_KEPT) >= _MOST_KEPT:
            _KEPT.clear()
        _KEPT[key] = _read(path, dots)
    return _KEPT[key]


def _read(path: Path, dots: float) -> QImage:
    reader = QImageReader(str(path))
    reader.setAutoTransform(True)
    whole = reader.size()
    if whole.isValid():
        side = round(max(THUMB.width(), THUMB.height()) * dots)
        reader.setScaledSize(whole.scaled(side, side, Qt.AspectRatioMode.KeepAspectRatio))
    return reader.read()


def icon_of(image: QImage, ink: QColor, dots: float) -> QIcon:
    """Return an icon of the size `THUMB` with a picture in its middle, or an empty frame for none.

    Parameters
    ----------
    image : QImage
        The picture.
    ink : QColor
        For the frame and its words.
    dots : float
        As for `read_thumbs`.
    """
    room = QPixmap(THUMB * dots)
    room.setDevicePixelRatio(dots)
    room.fill(Qt.GlobalColor.transparent)
    painter = QPainter(room)
    if image.isNull():
        painter.setPen(ink)
        painter.drawRect(1, 1, THUMB.width() - 3, THUMB.height() - 3)
        painter.drawText(QRect(QPoint(), THUMB), Qt.AlignmentFlag.AlignCenter, "cannot be shown")
    else:
        fine = Qt.TransformationMode.SmoothTransformation
        small = image.scaled(THUMB * dots, Qt.AspectRatioMode.KeepAspectRatio, fine)
        small.setDevicePixelRatio(dots)
        left, top = (
            (whole - own / dots) / 2 for whole, own in zip(THUMB.toTuple(), small.size().toTuple(), strict=True)
        )
        painter.drawImage(QPointF(left, top), small)
    painter.end()
    icon = QIcon(room)
    icon.addPixmap(room, QIcon.Mode.Selected)  # else its colours would be mixed with that of the choice
    return icon
