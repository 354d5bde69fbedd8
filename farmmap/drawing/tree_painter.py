"""Trees and crowns: laid down as stamps where dots are painted, as outlines where paper is."""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath

from farmmap.drawing.pens import brush
from farmmap.drawing.stamps import Canvas, Pixels, Stamp, make_stamp, tint, under_discs
from farmmap.drawing.symbol_painter import TreePaint, tree_paint
from farmmap.scene.scene import GONE, PLANNED, STANDING, CrownLayer, Ints, TreeGroup, TreeLayer
from farmmap.scene.styles import Theme, mixed
from farmmap.scene.view import Bounds, Floats, View

DOTS_A_FRAME = 2_000_000
"""Trees are drawn smaller where they would cover more dots than this, overlaps counted, so that a frame is in time."""

FINE_UP_TO = 20_000
"""With no more trees than this in view, each stands within a quarter of a dot of its place."""

CROWDED = 0.2
"""With more trees than this to a dot of the picture, each is one dot. [1/dot]"""

_LEAST_SHAPED_DOTS = 2.0
_LEAST_SMOOTH_DOTS = 3.5
_KEPT_STAMPS = 4000


@dataclass(frozen=True, eq=False)
class Seen:
    """Trees in a view.

    Attributes
    ----------
    x, y : ndarray, shape (n,)
        Right of and below the upper left corner. [dots]
    group : ndarray of int16, shape (n,)
        Kind of look of each.
    which : slice or ndarray of int64
        Places in the layer.
    """

    x: Floats
    y: Floats
    group: NDArray[np.int16]
    which: slice | Ints


def seen(trees: TreeLayer, view: View, dots_per_mm: float, margin_mm: float) -> Seen:
    """Return the trees in a view, with some that lie up to a margin outside it."""
    bounds = view.ground_bounds(margin_mm)
    runs = trees.cells.slices(bounds)
    which: slice | Ints = slice(0, 0)
    if len(runs) == 1:
        which = slice(*runs[0])
    elif runs:
        which = np.concatenate([np.arange(first, last) for first, last in runs])
    x, y = view.to_dots(trees.x[which], trees.y[which], dots_per_mm)
    found = Seen(x, y, trees.group[which], which)
    return found if len(x) > FINE_UP_TO else _cut_to(found, trees, bounds)


def _cut_to(found: Seen, trees: TreeLayer, bounds: Bounds) -> Seen:
    west, south, east, north = bounds
    east_of, north_of = trees.x[found.which], trees.y[found.which]
    keep = (east_of >= west) & (east_of <= east) & (north_of >= south) & (north_of <= north)
    places = np.arange(*found.which.indices(len(trees.x))) if isinstance(found.which, slice) else found.which
    return Seen(found.x[keep], found.y[keep], found.group[keep], places[keep])


class TreePainter:
    """Paints trees; keeps the stamps that it has made."""

    def __init__(self) -> None:
        self._stamps: OrderedDict[tuple[TreePaint, int], Stamp] = OrderedDict()

    def stamp_trees(self, dots: Pixels, trees: TreeLayer, view: View, theme: Theme, dots_per_mm: float) -> None:
        """Lay trees down on an image that shows the whole view.

        Parameters
        ----------
        dots : ndarray of uint32, shape (height, width)
            The image, changed in place.
        trees : TreeLayer
            The trees.
        view : View
            What the image shows.
        theme : Theme
            The look.
        dots_per_mm : float
            Resolution of the image.
        """
        sizes = trees.sizes_mm(view.metres_per_mm)
        found = seen(trees, view, dots_per_mm, float(sizes.max(initial=0.0)))
        counts = np.bincount(found.group, minlength=len(trees.groups)) * trees.group_shown()
        smaller = min(1.0, math.sqrt(DOTS_A_FRAME / max(float(counts @ (sizes * dots_per_mm) ** 2), 1.0)))
        largest = float(np.max(sizes * (counts > 0), initial=0.0)) * dots_per_mm * smaller
        if largest < _LEAST_SHAPED_DOTS or counts.sum() > CROWDED * dots.size:
            self._one_dot_each(dots, found, trees, theme)
            return
        fine = 2 if len(found.x) <= FINE_UP_TO else 1
        paints = [
            _painted(trees, group, size * smaller, theme, dots_per_mm)
            for group, size in zip(trees.groups, sizes, strict=True)
        ]
        canvas = Canvas(dots)
        for group, phase, x, y in _sorted(found, trees.group_shown(), fine):
            canvas.lay_down(self._stamp(paints[group], phase), x, y)

    def paint_trees(self, painter: QPainter, trees: TreeLayer, view: View, theme: Theme, dots_per_mm: float) -> None:
        """Paint trees as outlines, which stay sharp at any size; for paper."""
        sizes = trees.sizes_mm(view.metres_per_mm)
        found = seen(trees, view, dots_per_mm, float(sizes.max(initial=0.0)))
        shown = trees.group_shown()
        order = np.argsort(found.group, kind="stable")
        groups, firsts = np.unique(found.group[order], return_index=True)
        for group, first, last in zip(groups, firsts, [*firsts[1:], len(order)], strict=True):
            if not shown[group]:
                continue
            kind = trees.groups[group]
            paint = tree_paint(trees.symbols[kind.species], kind.drawn_as, float(sizes[group]), theme, dots_per_mm)
            which = order[first:last]
            places = list(zip(found.x[which].tolist(), found.y[which].tolist(), strict=True))
            path = paint.start(painter)
            for x, y in places:
                painter.drawPath(path.translated(x, y))
            if paint.lettered or paint.symbol.mark:
                for x, y in places:
                    paint.finish(painter, x, y)

    def _one_dot_each(self, dots: Pixels, found: Seen, trees: TreeLayer, theme: Theme) -> None:
        height, width = dots.shape
        shown = trees.group_shown()
        colours = np.array(
            [_strong(trees, group, theme) if seen_ else 0 for group, seen_ in zip(trees.groups, shown, strict=True)],
            np.uint32,
        )
        x, y = found.x.astype(np.int32), found.y.astype(np.int32)
        inside = (found.x >= 0) & (x < width) & (found.y >= 0) & (y < height)
        if not shown.all():
            inside &= shown[found.group]
        dots[y[inside], x[inside]] = colours[found.group[inside]]

    def _stamp(self, paint: TreePaint, phase: int) -> Stamp:
        made = self._stamps.get((paint, phase))
        if made is None:
            across, down = (phase % 2) / 2 - 0.25 * (phase >= 0), (phase // 2) / 2 - 0.25 * (phase >= 0)
            made = _made_stamp(paint, across if phase >= 0 else 0.0, down if phase >= 0 else 0.0)
            self._stamps[paint, phase] = made
            if len(self._stamps) > _KEPT_STAMPS:
                self._stamps.popitem(last=False)
        return made


def stamp_crowns(dots: Pixels, crowns: CrownLayer, view: View, dots_per_mm: float) -> None:
    """Tint an image that shows the whole view under the crowns of standing trees."""
    if view.metres_per_mm > crowns.farthest_m_per_mm:
        return
    x, y, diameter = _crowns(crowns, view, dots_per_mm)
    if len(x):
        covered = under_discs(dots.shape[0], dots.shape[1], x, y, diameter)
        tint(dots, covered, int(crowns.style.fill[1:], 16), crowns.style.opacity)


def paint_crowns(painter: QPainter, crowns: CrownLayer, view: View, dots_per_mm: float) -> None:
    """Paint the crowns of standing trees as one area, for paper."""
    if view.metres_per_mm > crowns.farthest_m_per_mm:
        return
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.WindingFill)
    for x, y, diameter in zip(*(part.tolist() for part in _crowns(crowns, view, dots_per_mm)), strict=True):
        path.addEllipse(QPointF(x, y), diameter / 2, diameter / 2)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(brush(crowns.style.fill, crowns.style.opacity))
    painter.drawPath(path)


def _crowns(crowns: CrownLayer, view: View, dots_per_mm: float) -> tuple[Floats, Floats, Floats]:
    trees = crowns.trees
    largest_mm = float(trees.crown_m.max(initial=0.0)) / view.metres_per_mm / 2
    found = seen(trees, view, dots_per_mm, largest_mm)
    diameter = trees.crown_m[found.which].astype(np.float64) / view.metres_per_mm * dots_per_mm
    keep = (diameter > 0) & trees.group_shown()[found.group]
    return found.x[keep], found.y[keep], diameter[keep]


def _painted(trees: TreeLayer, group: TreeGroup, size_mm: float, theme: Theme, dots_per_mm: float) -> TreePaint:
    """How a group is painted with dots, its size rounded so that few stamps serve."""
    symbol = trees.symbols[group.species]
    paint = tree_paint(symbol, group.drawn_as, size_mm, theme, dots_per_mm)
    size = max(round(paint.size * 2) / 2, 1.0)
    if group.drawn_as in {STANDING, PLANNED} and size < _LEAST_SMOOTH_DOTS + 1.5:
        symbol = replace(symbol, colour=_strengthened(symbol.colour, theme))
    return replace(paint, size=size, symbol=symbol)


def _made_stamp(paint: TreePaint, across: float, down: float) -> Stamp:
    def draw(painter: QPainter, middle: float) -> None:
        path = paint.start(painter)
        painter.drawPath(path.translated(middle + across, middle + down))
        paint.finish(painter, middle + across, middle + down)

    if paint.size < _LEAST_SMOOTH_DOTS and paint.drawn_as in {STANDING, PLANNED}:
        return make_stamp(2, lambda painter, middle: _square(painter, middle, paint), smooth=False)
    return make_stamp(paint.size * 0.8 + paint.outline + 1, draw, smooth=True)


def _square(painter: QPainter, middle: float, paint: TreePaint) -> None:
    """Paint a square of whole dots, for what is too small to have a shape."""
    side = round(paint.size)
    corner = int(middle) - side // 2
    painter.fillRect(corner, corner, side, side, QColor(paint.symbol.colour))


def _sorted(
    found: Seen, shown: NDArray[np.bool_], fine: int
) -> list[tuple[int, int, NDArray[np.int32], NDArray[np.int32]]]:
    """Trees by group in the order of painting, and by where in its dot each stands: group, phase, x, y."""
    x, y = np.floor(found.x).astype(np.int32), np.floor(found.y).astype(np.int32)
    key = found.group
    if fine > 1:
        phase = ((found.x - x) * 2).astype(np.int32) + 2 * ((found.y - y) * 2).astype(np.int32)
        key = found.group.astype(np.int32) * 4 + phase
    order = np.argsort(key, kind="stable")
    counts = np.bincount(key)
    keys = np.flatnonzero(counts)
    firsts = (np.cumsum(counts) - counts)[keys]
    out: list[tuple[int, int, NDArray[np.int32], NDArray[np.int32]]] = []
    for one, first, last in zip(keys.tolist(), firsts, [*firsts[1:], len(order)], strict=True):
        group, at = divmod(one, 4) if fine > 1 else (one, -1)
        if shown[group]:
            out.append((group, at, x[order[first:last]], y[order[first:last]]))
    return out


def _strong(trees: TreeLayer, group: TreeGroup, theme: Theme) -> int:
    name = theme.gone if group.drawn_as == GONE else _strengthened(trees.symbols[group.species].colour, theme)
    return 0xFF000000 | int(name[1:], 16)


def _strengthened(name: str, theme: Theme) -> str:
    """Return a colour drawn towards the ink, as small things have no ring to set them off."""
    return mixed(name, 0.8, theme.ink)
