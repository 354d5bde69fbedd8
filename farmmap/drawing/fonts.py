"""The typeface of maps and sheets, in millimetres.

Source Sans Pro comes with the package font-source-sans-pro, so that pages look
alike on every machine; where it is missing, the system's own typeface is used.
"""

from __future__ import annotations

import importlib.util
from functools import cache, lru_cache
from pathlib import Path

from PySide6.QtGui import QFont, QFontDatabase, QFontMetricsF

from farmmap.drawing.application import ensure_application
from farmmap.scene.styles import TextStyle

_PACKAGE = "font_source_sans_pro"
_FILES = ("SourceSansPro-Regular.ttf", "SourceSansPro-It.ttf", "SourceSansPro-Semibold.ttf", "SourceSansPro-Bold.ttf")
_WEIGHTS = {"regular": QFont.Weight.Normal, "semibold": QFont.Weight.DemiBold, "bold": QFont.Weight.Bold}

LINE_HEIGHT = 1.15
"""From one line of text to the next, in sizes of type."""

_MEASURED_AT = 200  # pixels: large enough that widths do not depend on rounding


@cache
def family() -> str:
    """Name of the typeface, once it is registered with Qt."""
    ensure_application()
    spec = importlib.util.find_spec(_PACKAGE)
    if spec is None or spec.origin is None:
        return QFont().defaultFamily()
    folder = Path(spec.origin).parent / "files"
    families = [
        name
        for file in _FILES
        if (folder / file).is_file()
        for name in QFontDatabase.applicationFontFamilies(QFontDatabase.addApplicationFont(str(folder / file)))
    ]
    return min(families, key=len) if families else QFont().defaultFamily()


@lru_cache(maxsize=256)
def font(style: TextStyle, dots_per_mm: float) -> QFont:
    """Return the font of a style on a device of that many dots to the millimetre."""
    return _font(style.weight, style.italic, max(round(style.size_mm * dots_per_mm), 1))


@lru_cache(maxsize=20_000)
def text_size_mm(text: str, style: TextStyle) -> tuple[float, float]:
    """Width and height of a text of one or more lines. [mm]."""
    lines = text.split("\n")
    width = max(text_width_mm(line, style) for line in lines)
    return width, style.size_mm * (0.92 + LINE_HEIGHT * (len(lines) - 1))


@lru_cache(maxsize=20_000)
def text_width_mm(text: str, style: TextStyle) -> float:
    """Width of one line of text. [mm]."""
    return _metrics(style.weight, style.italic).horizontalAdvance(text) * style.size_mm / _MEASURED_AT


def capital_height(style: TextStyle) -> float:
    """Height of capital letters in sizes of type."""
    return _metrics(style.weight, style.italic).capHeight() / _MEASURED_AT


@lru_cache(maxsize=16)
def _metrics(weight: str, italic: bool) -> QFontMetricsF:
    return QFontMetricsF(_font(weight, italic, _MEASURED_AT))


def _font(weight: str, italic: bool, pixels: int) -> QFont:
    made = QFont(family())
    made.setWeight(_WEIGHTS[weight])
    made.setItalic(italic)
    made.setPixelSize(pixels)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return made
