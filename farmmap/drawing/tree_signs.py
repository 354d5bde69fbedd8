"""Rings and crosses over the trees that are marked: those that are kept to the end, and those that are to go."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QPainter

from farmmap.drawing.marks import EDGING_MM, paint_mark
from farmmap.drawing.stamps import Canvas, Pixels, Stamp, make_stamp
from farmmap.scene.scene import CROP, TAKE, Ints, TreeLayer
from farmmap.scene.sizes import sign_mm
from farmmap.scene.styles import MarkStyle, Theme
from farmmap.scene.view import Floats, View

LEAST_DOTS = 3.0
"""Smaller signs are not painted on a screen, where they could not be told apart. [dots]"""

_STYLES = {CROP: "crop", TAKE: "take"}
_LINE = 0.22  # of a sign's width
_A_FRACTION = 2  # places in a dot that are told apart, each way


@dataclass(frozen=True, eq=False)
class Signs:
    """Signs in a view.

    Attributes
    ----------
    x, y : ndarray, shape (n,)
        Right of and below the upper left corner. [dots]
    mark : ndarray of int8, shape (n,)
        `CROP` or `TAKE`.
    size : ndarray, shape (n,)
        Widths, rounded so that few pictures serve. [dots]
    """

    x: Floats
    y: Floats
    mark: NDArray[np.int8]
    size: Floats


def signs_in(trees: TreeLayer, sizes: Floats, view: View, dots_per_mm: float, least_dots: float = 0.0) -> Signs | None:
    """Return the signs in a view and a little beyond it, None if there are none.

    Parameters
    ----------
    trees : TreeLayer
        The trees.
    sizes : ndarray, shape (len(trees.groups),)
        Width of each group's symbol. [dots]
    view : View
        What is seen.
    dots_per_mm : float
        Resolution.
    least_dots : float
        Smaller ones are left out. [dots]
    """
    if not len(trees.marked):
        return None
    widths = sign_mm(sizes / dots_per_mm, view.metres_per_mm)
    seen = trees.group_shown() & (widths * dots_per_mm >= least_dots)
    runs = trees.cells.slices(view.ground_bounds(float(widths.max())))
    which: Ints = trees.marked_in(runs)
    which = which[seen[trees.group[which]]]
    if not len(which):
        return None
    x, y = view.to_dots(trees.x[which], trees.y[which], dots_per_mm)
    rounded = np.maximum(np.round(widths * dots_per_mm * 2) / 2, 1.0)
    return Signs(x, y, trees.marks[which], rounded[trees.group[which]])


def stamp_signs(
    dots: Pixels,
    trees: TreeLayer,
    sizes: Floats,
    view: View,
    theme: Theme,
    dots_per_mm: float,
    pause: Callable[[], None],
) -> None:
    """Lay signs down on an image that shows the whole view.

    Parameters
    ----------
    dots : ndarray of uint32, shape (height, width)
        The image, changed in place.
    trees, sizes, view, dots_per_mm
        As for `signs_in`.
    theme : Theme
        The look.
    pause : callable
        Called between slices of work; may raise to stop.
    """
    found = signs_in(trees, sizes, view, dots_per_mm, LEAST_DOTS)
    if found is None:
        return
    canvas = Canvas(dots, pause)
    x, y = np.floor(found.x).astype(np.int32), np.floor(found.y).astype(np.int32)
    across, down = ((found.x - x) * _A_FRACTION).astype(np.int64), ((found.y - y) * _A_FRACTION).astype(np.int64)
    key = (((found.size * 2).astype(np.int64) * 4 + found.mark) * _A_FRACTION + down) * _A_FRACTION + across
    order = np.argsort(key, kind="stable")
    alike, firsts = np.unique(key[order], return_index=True)
    for one, first, last in zip(alike.tolist(), firsts.tolist(), [*firsts[1:].tolist(), len(order)], strict=True):
        pause()
        rest, right = divmod(one, _A_FRACTION)
        rest, below = divmod(rest, _A_FRACTION)
        size, mark = divmod(rest, 4)
        style = sign_style(theme, mark, size / 2 / dots_per_mm)
        which = order[first:last]
        canvas.lay_down(_stamp(style, dots_per_mm, right, below), x[which], y[which])


def paint_signs(
    painter: QPainter, trees: TreeLayer, sizes: Floats, view: View, theme: Theme, dots_per_mm: float
) -> None:
    """Paint signs as outlines, which stay sharp at any size; for paper. Arguments as for `stamp_signs`."""
    found = signs_in(trees, sizes, view, dots_per_mm)
    if found is not None:
        for style, places in signs_by_style(found, theme, dots_per_mm):
            for x, y in places.tolist():
                paint_mark(painter, x, y, style, dots_per_mm)


def signs_by_style(found: Signs, theme: Theme, dots_per_mm: float) -> Iterator[tuple[MarkStyle, Floats]]:
    """Return each style that signs have, the small first, with the places where it stands, shape (n, 2). [dots]."""
    kinds, kind = np.unique(np.column_stack([found.size, found.mark]), axis=0, return_inverse=True)
    places = np.column_stack([found.x, found.y])
    for number, (size, mark) in enumerate(kinds.tolist()):
        yield sign_style(theme, int(mark), size / dots_per_mm), places[kind.reshape(-1) == number]


def sign_style(theme: Theme, mark: int, width_mm: float) -> MarkStyle:
    """Return the style of a sign, `CROP` or `TAKE`, of a width, its lines and edging inside that width."""
    style = theme.marks[_STYLES[mark]]
    line = min(style.line_mm, width_mm * _LINE)
    return replace(style, size_mm=width_mm - line, line_mm=line)


@lru_cache(maxsize=1000)
def _stamp(style: MarkStyle, dots_per_mm: float, right: int, below: int) -> Stamp:
    """Return the picture of a sign that stands in one of the quarters of its dot."""
    across, down = ((2 * part + 1) / (2 * _A_FRACTION) - 0.5 for part in (right, below))
    reach = (style.size_mm / 2 + style.line_mm + EDGING_MM) * dots_per_mm + 1

    def draw(painter: QPainter, middle: float) -> None:
        paint_mark(painter, middle + across, middle + down, style, dots_per_mm)

    return make_stamp(reach, draw, smooth=True)
