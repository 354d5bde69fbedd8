"""Small pictures of photographs, read in the background and kept."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QColor, QIcon, QImage, QImageReader, QPainter, QPixmap

THUMB = QSize(264, 198)
"""Room for a small picture. [px]"""

_KEPT: dict[tuple[str, int, int], QImage] = {}
_MOST_KEPT = 400


def read_thumbs(paths: Sequence[Path]) -> list[QImage]:
    """Read photographs small and the right way up; an empty picture stands for one that cannot be read."""
    return [_thumb(path) for path in paths]


def _thumb(path: Path) -> QImage:
    try:
        found = path.stat()
    except OSError:
        return QImage()
    key = str(path), found.st_mtime_ns, found.st_size
    if key not in _KEPT:
        if len(_KEPT) >= _MOST_KEPT:
            _KEPT.clear()
        _KEPT[key] = _read(path)
    return _KEPT[key]


def _read(path: Path) -> QImage:
    reader = QImageReader(str(path))
    reader.setAutoTransform(True)
    whole = reader.size()
    if whole.isValid():
        side = max(THUMB.width(), THUMB.height())
        reader.setScaledSize(whole.scaled(side, side, Qt.AspectRatioMode.KeepAspectRatio))
    return reader.read()


def icon_of(image: QImage, ink: QColor) -> QIcon:
    """Return an icon of the size `THUMB` with a picture in its middle, or an empty frame for none."""
    room = QPixmap(THUMB)
    room.fill(Qt.GlobalColor.transparent)
    painter = QPainter(room)
    if image.isNull():
        painter.setPen(ink)
        painter.drawRect(1, 1, THUMB.width() - 3, THUMB.height() - 3)
        painter.drawText(room.rect(), Qt.AlignmentFlag.AlignCenter, "cannot be shown")
    else:
        small = image.scaled(THUMB, Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation)
        painter.drawImage((THUMB.width() - small.width()) // 2, (THUMB.height() - small.height()) // 2, small)
    painter.end()
    icon = QIcon(room)
    icon.addPixmap(room, QIcon.Mode.Selected)  # else its colours would be mixed with that of the choice
    return icon
