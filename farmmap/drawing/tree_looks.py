"""What the trees of a view look like, each look once with the places where it stands; for files of outlines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from PySide6.QtGui import QPainter

from farmmap.drawing.marks import paint_mark
from farmmap.drawing.symbol_painter import TreePaint
from farmmap.drawing.tree_painter import outlined, widths_mm
from farmmap.drawing.tree_signs import signs_by_style, signs_in
from farmmap.scene.scene import TreeLayer
from farmmap.scene.styles import MarkStyle, Theme
from farmmap.scene.view import Floats, View


@dataclass(frozen=True)
class Look:
    """How a symbol, what stands inside one, or a sign is painted.

    Attributes
    ----------
    style : TreePaint or MarkStyle
        The symbol or the sign.
    is_inside : bool
        Whether it is what stands inside the symbol.
    dots_per_mm : float
        Resolution that it is made for.
    """

    style: TreePaint | MarkStyle
    dots_per_mm: float
    is_inside: bool = False

    def paint(self, painter: QPainter) -> None:
        """Paint it about the origin."""
        if isinstance(self.style, MarkStyle):
            paint_mark(painter, 0.0, 0.0, self.style, self.dots_per_mm)
        elif self.is_inside:
            self.style.finish(painter, 0.0, 0.0)
        else:
            painter.drawPath(self.style.start(painter))


def looks_in(trees: TreeLayer, view: View, theme: Theme, dots_per_mm: float) -> Iterator[tuple[Look, Floats]]:
    """Return the looks of the trees in a view and of their signs, in the order of painting, each with its places.

    Parameters
    ----------
    trees : TreeLayer
        The trees.
    view : View
        What is seen; its upper left corner is the origin.
    theme : Theme
        The look of the map.
    dots_per_mm : float
        Resolution.

    Yields
    ------
    tuple
        The look, and its places, shape (n, 2). [dots]
    """
    for paint, x, y in outlined(trees, view, theme, dots_per_mm):
        at = _near(np.column_stack([x, y]), view, dots_per_mm, paint.size)
        if len(at):
            yield Look(paint, dots_per_mm), at
            if paint.is_finished:
                yield Look(paint, dots_per_mm, is_inside=True), at
    signs = signs_in(trees, widths_mm(trees, view, theme) * dots_per_mm, view, dots_per_mm)
    if signs is not None:
        for style, places in signs_by_style(signs, theme, dots_per_mm):
            yield Look(style, dots_per_mm), places


def _near(at: Floats, view: View, dots_per_mm: float, reach: float) -> Floats:
    """Return the places that are no farther from the view than a symbol reaches."""
    far = np.array([view.width_mm, view.height_mm]) * dots_per_mm + reach
    return at[((at >= -reach) & (at <= far)).all(axis=1)]
