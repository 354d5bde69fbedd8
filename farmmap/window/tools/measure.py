"""Measuring a distance or an area along the ground."""

from __future__ import annotations

import numpy as np
from PySide6.QtGui import QPainter

from farmmap.window.tools.bench import Bench, Spot
from farmmap.window.tools.corners_tool import CornersTool
from farmmap.window.tools.readings import area_words, length_words
from farmmap.window.tools.sketch import Outline, paint_outline


class MeasureTool(CornersTool):
    """Measures; what was measured last stays on the map until the next is begun."""

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        self.last: np.ndarray | None = None

    @property
    def as_area(self) -> bool:
        """Whether an area is measured."""
        return self.choice == "area"

    def words(self) -> str:
        """Return what may be done next, and what was measured."""
        if self.corners:
            return "Click on; double click or Enter ends; Backspace takes the last corner back; Escape gives up."
        if self.last is not None and self.bench.farm is not None:
            return f"{self.result()} (level distance, slope not counted). Click to measure again."
        what = "an area: click its corners." if self.as_area else "a distance: click from corner to corner."
        return f"Measure {what} Nothing on the farm is changed."

    def result(self) -> str:
        """Return what was measured last: ``125.3 m``, or ``1.234 ha, 456.7 m around``."""
        assert self.last is not None
        assert self.bench.farm is not None
        points = [(float(x), float(y)) for x, y in self.last]
        if self.as_area:
            return (
                f"{area_words(self.bench.farm, points)}, {length_words(self.bench.farm, [*points, points[0]])} around"
            )
        return length_words(self.bench.farm, points, with_bearing=len(points) == 2)

    def put(self, spot: Spot) -> None:
        """Begin anew, or go on."""
        self.last = None
        super().put(spot)

    def give_up(self) -> None:
        """Forget what is half measured."""
        self.last = None
        super().give_up()

    def finish(self, corners: np.ndarray) -> None:
        """Keep it, and say what it comes to."""
        self.last = corners

    def paint(self, painter: QPainter) -> None:
        """Paint what was measured last."""
        if self.last is not None and self.bench.contents.now is not None:
            painter.save()
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            outline = Outline(self.last, closed=self.as_area)
            paint_outline(painter, self.bench.dots(self.last), outline, self.bench.inks(), sure=False)
            painter.restore()
        super().paint(painter)
