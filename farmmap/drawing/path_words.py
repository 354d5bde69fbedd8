"""Qt's paths in the words of a PDF and of an SVG."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QByteArray, QDataStream, QIODevice
from PySide6.QtGui import QPainterPath

_COUNT_BYTES = 4
_ELEMENT = np.dtype([("kind", ">i4"), ("x", ">f8"), ("y", ">f8")])  # of a path in Qt's stream, after their number
_MOVE, _LINE, _CURVE, _CURVE_ON, _CURVE_END, _AND_CLOSE = 0, 1, 2, 3, 4, 10


@dataclass(frozen=True)
class Tongue:
    """What a kind of file calls the steps of a path.

    Attributes
    ----------
    words : mapping of int to str
        By kind of step, with a place for each of its two numbers.
    """

    words: Mapping[int, str]

    def path(self, path: QPainterPath, places: int = 1) -> str:
        """Return a path, its numbers to so many places; what ends where it began is closed."""
        stream_of = QByteArray()
        QDataStream(stream_of, QIODevice.OpenModeFlag.WriteOnly) << path
        raw = stream_of.data()
        elements = np.frombuffer(raw, _ELEMENT, int.from_bytes(raw[:_COUNT_BYTES], "big"), _COUNT_BYTES)
        points = np.round(np.column_stack([elements["x"], elements["y"]]), places) + 0.0
        code = elements["kind"].astype(np.int64)
        code[np.flatnonzero(code == _CURVE) + 2] = _CURVE_END
        starts = np.flatnonzero(code == _MOVE)
        ends = np.append(starts[1:], len(code)) - 1
        closed = (points[starts] == points[ends]).all(axis=1) & (ends > starts)
        code[ends[closed]] += _AND_CLOSE
        template = "".join(map(self.words.__getitem__, code.tolist()))
        return template % tuple(points.ravel().tolist())


PDF = Tongue(
    {
        _MOVE: "%g %g m\n",
        _LINE: "%g %g l\n",
        _LINE + _AND_CLOSE: "%g %g l h\n",
        _CURVE: "%g %g ",
        _CURVE_ON: "%g %g ",
        _CURVE_END: "%g %g c\n",
        _CURVE_END + _AND_CLOSE: "%g %g c h\n",
    }
)
"""ISO 32000, section 8.5.2."""

SVG = Tongue(
    {
        _MOVE: "M%g %g",
        _LINE: "L%g %g",
        _LINE + _AND_CLOSE: "L%g %gZ",
        _CURVE: "C%g %g ",
        _CURVE_ON: "%g %g ",
        _CURVE_END: "%g %g",
        _CURVE_END + _AND_CLOSE: "%g %gZ",
    }
)
"""Scalable Vector Graphics (World Wide Web Consortium), section on paths."""
