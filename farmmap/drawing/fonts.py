"""The typeface of maps and sheets, in millimetres.

Source Sans Pro comes with the package font-source-sans-pro, so that pages look
alike on every machine; where it is missing, the system's own typeface is used.
"""

from __future__ import annotations

import importlib.util
import unicodedata
from collections.abc import Sequence
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

STAND_IN = "?"
"""Written for a letter that no typeface of this computer has."""

_ASCENT, _CAPITALS, _DESCENT, _LEAST_DESCENT = 0.72, 0.66, 0.23, 0.02
"""How far letters of our typeface reach above and below the base line. [sizes of type]"""

_HANGING = frozenset("Qgjpqy()[]{},;|@$_/\\")
"""Plain letters and signs that reach below the base line."""

_JOINER = "\u200d"
_SKIN_TONES = frozenset(map(chr, range(0x1F3FB, 0x1F400)))

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


def font(style: TextStyle, dots_per_mm: float, text: str = "") -> QFont:
    """Return the font of a style on a device of that many dots to the millimetre.

    Parameters
    ----------
    style : TextStyle
        What is wished.
    dots_per_mm : float
        Resolution of the device.
    text : str
        What is to be written, as many typefaces have letters upright that they have not slanted.
    """
    weight, italic = _face(text, style.weight, style.italic)
    return _font(weight, italic, max(round(style.size_mm * dots_per_mm), 1))


def dots_per_mm_of(style: TextStyle, dots_per_mm: float) -> float:
    """Return the resolution at which `font` is exactly as large as its style says, as Qt has whole dots only."""
    return max(round(style.size_mm * dots_per_mm), 1) / style.size_mm


@lru_cache(maxsize=20_000)
def text_size_mm(text: str, style: TextStyle) -> tuple[float, float]:
    """Width and height of a text of one or more lines, all of its ink within. [mm]."""
    lines = text.split("\n")
    width = max(text_width_mm(line, style) for line in lines)
    up, down = reach(lines[0], style)[0], reach(lines[-1], style)[1]
    return width, style.size_mm * (up + down + LINE_HEIGHT * (len(lines) - 1))


@lru_cache(maxsize=20_000)
def text_width_mm(text: str, style: TextStyle) -> float:
    """Width of one line of text. [mm]."""
    metrics = _metrics(*_face(text, style.weight, style.italic))
    return metrics.horizontalAdvance(written(text)) * style.size_mm / _MEASURED_AT


@lru_cache(maxsize=20_000)
def reach(line: str, style: TextStyle) -> tuple[float, float]:
    """How far a line's ink reaches above and below its base line, in sizes of type; what most letters need at least."""
    if line.isascii():
        up = _CAPITALS if line == line.upper() else _ASCENT
        return up, _LEAST_DESCENT if _HANGING.isdisjoint(line) else _DESCENT
    ink = _metrics(*_face(line, style.weight, style.italic)).tightBoundingRect(written(line))
    return max(_CAPITALS, -ink.top() / _MEASURED_AT), max(_LEAST_DESCENT, ink.bottom() / _MEASURED_AT)


def base_lines(lines: Sequence[str], style: TextStyle) -> list[float]:
    """Return the base line of each line of a text below the middle of all its ink, in sizes of type."""
    up, down = reach(lines[0], style)[0], reach(lines[-1], style)[1]
    first = (up - down - LINE_HEIGHT * (len(lines) - 1)) / 2
    return [first + LINE_HEIGHT * row for row in range(len(lines))]


@lru_cache(maxsize=20_000)
def written(text: str) -> str:
    """Return a text as it is written: with ? for each letter that no typeface of this computer has."""
    if text.isascii():
        return text
    return "".join(STAND_IN if lacking(one) else one for one in letters(text))


def letters(text: str) -> list[str]:
    """Return the letters of a text, each with the marks and joiners that belong to it."""
    found: list[str] = []
    for one in text:
        joined = bool(found) and (_is_mark(one) or found[-1].endswith(_JOINER))
        if joined:
            found[-1] += one
        else:
            found.append(one)
    return found


def lacking(letter: str) -> bool:
    """Whether no typeface of this computer has a letter; marks and joiners on it may be missing."""
    return not letter.isascii() and not _has(letter[0], "regular", italic=False)


def _is_mark(one: str) -> bool:
    return unicodedata.category(one) in {"Mn", "Me", "Mc", "Cf"} or one in _SKIN_TONES


@lru_cache(maxsize=20_000)
def _has(one: str, weight: str, *, italic: bool) -> bool:
    """Whether our typeface, or one that the system puts in its place, has a character."""
    system = getattr(QFontDatabase.WritingSystem, unicodedata.name(one, "").split(" ")[0].title(), None)
    if system is not None and not QFontDatabase.families(system):
        return False  # Qt complains aloud when asked for these
    return _metrics(weight, italic).inFontUcs4(ord(one))


@lru_cache(maxsize=20_000)
def _face(text: str, weight: str, italic: bool) -> tuple[str, bool]:
    """Weight and slant in which there are most letters of a text, as near as can be to what is wished."""
    if text.isascii() or (weight == "regular" and not italic):
        return weight, italic
    faces = dict.fromkeys(((weight, italic), (weight, False), ("regular", False)))
    asked = {one for one in text if not one.isascii() and not _is_mark(one)}
    return max(faces, key=lambda face: sum(_has(one, face[0], italic=face[1]) for one in asked))


@lru_cache(maxsize=16)
def _metrics(weight: str, italic: bool) -> QFontMetricsF:
    return QFontMetricsF(_font(weight, italic, _MEASURED_AT))


@lru_cache(maxsize=256)
def _font(weight: str, italic: bool, pixels: int) -> QFont:
    made = QFont(family())
    made.setWeight(_WEIGHTS[weight])
    made.setItalic(italic)
    made.setPixelSize(pixels)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    made.setFeature(QFont.Tag("liga"), 0)  # two letters joined in one sign cannot be searched for in a PDF
    return made
