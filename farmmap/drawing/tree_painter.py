"""Trees and crowns: laid down as stamps where dots are painted, as outlines where paper is."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath

from farmmap.drawing.crowd_painter import Pause, Runs, crowd, one_dot_each
from farmmap.drawing.hatch_painter import hatch_discs
from farmmap.drawing.pens import brush, pen
from farmmap.drawing.stamps import Canvas, Pixels, Stamp, make_stamp, tint, under_discs
from farmmap.drawing.symbol_painter import TreePaint, tree_paint
from farmmap.drawing.tree_signs import paint_signs, stamp_signs
from farmmap.scene.scene import GONE, PLANNED, STANDING, CrownLayer, Ints, TreeGroup, TreeLayer
from farmmap.scene.styles import Theme, mixed
from farmmap.scene.symbols import SpeciesSymbol
from farmmap.scene.view import Bounds, Floats, View

MOST_DOTS = (800_000.0, 280_000.0)
"""Trees are drawn smaller where they would cover more dots than this, overlaps counted, so that they are told apart
and painted in time: for `FINE_UP_TO` trees or fewer in view, and for `MANY` or more; in between it changes evenly."""

MANY = 80_000

FINE_UP_TO = 20_000
"""With no more trees than this in view, each stands within a quarter of a dot of its place."""

CROWDED = 0.2
"""With more trees than this to a dot of the picture, each is one dot. [1/dot]"""

MOST_OUTLINED = 2_500
"""With more crowns than this in view no line is drawn around them."""

LEAST_OUTLINED_MM = 2.0
"""Nor where most of them are smaller. [mm]"""

_OUTLINED_AT_ONCE = 8
_GREATEST_REACH = 1.0  # of a symbol from its place, in widths, ring and corners included
_PLAIN, _HARD = -1, -2  # phases of a stamp that stands in the middle of its dot; its edges soft, or hard
_LEAST_SHAPED_DOTS = 2.0
_LEAST_SMOOTH_DOTS = 3.5
_LEAST_SOFT_IN_CROWDS = 5.0
_KEPT_STAMPS = 4000
_FEW = 8_000  # trees in view: with no more each stamp stands at few places, and Qt lays it down sooner


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
        self._last: tuple[tuple[object, ...], list[TreePaint]] | None = None
        self._last_stamps: tuple[list[TreePaint], int, list[Stamp]] | None = None

    def stamp_trees(
        self,
        dots: Pixels,
        trees: TreeLayer,
        view: View,
        theme: Theme,
        dots_per_mm: float,
        pause: Pause,
        as_in: View | None = None,
    ) -> None:
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
        pause : callable
            Called between slices of work; may raise to stop.
        as_in : View, optional
            Trees are as large as they are in this view of the same scale, of which the image shows a part.
        """
        shown = trees.group_shown()
        sizes = self._sizes(trees, shown, as_in or view, theme, dots_per_mm)
        pause()
        margin_mm = _GREATEST_REACH * float(sizes.max(initial=0.0)) / dots_per_mm
        runs = trees.cells.slices(view.ground_bounds(margin_mm))
        if sizes.max(initial=0.0) < _LEAST_SHAPED_DOTS:
            colours = np.array([self._colour(trees, group, theme) for group in trees.groups], np.uint32)
            one_dot_each(dots, trees, runs, colours, shown, view, dots_per_mm, pause)
        else:
            self._stamp_shaped(dots, trees, sizes, runs, view, theme, dots_per_mm, pause, as_in or view)
        stamp_signs(dots, trees, sizes, view, theme, dots_per_mm, pause)

    def _stamp_shaped(
        self,
        dots: Pixels,
        trees: TreeLayer,
        sizes: Floats,
        runs: Runs,
        view: View,
        theme: Theme,
        dots_per_mm: float,
        pause: Pause,
        as_in: View,
    ) -> None:
        """Lay trees down that are large enough to have a shape."""
        many = _many(trees.cells.slices(as_in.ground_bounds()))
        pause()
        paints, canvas = self._paints_of(trees, sizes, theme, dots_per_mm), Canvas(dots, pause, few=many <= _FEW)
        pause()
        shown, margin_mm = trees.group_shown(), _GREATEST_REACH * float(sizes.max(initial=0.0)) / dots_per_mm
        if many <= FINE_UP_TO:
            found = seen(trees, view, dots_per_mm, margin_mm)
            pause()
            for group, phase, x, y in _sorted(found, shown):
                pause()
                canvas.lay_down(self._stamp(paints[group], phase), x, y)
        else:
            stamps = self._stamps_of(paints, _HARD if many >= MANY else _PLAIN, pause)
            self._stamp_crowd(canvas, trees, runs, stamps, view, dots_per_mm, pause)

    def _sizes(
        self, trees: TreeLayer, shown: NDArray[np.bool_], view: View, theme: Theme, dots_per_mm: float
    ) -> Floats:
        """Widths of the groups' symbols in a view, 1 for all where each tree is one dot. [dots]."""
        sizes = widths_mm(trees, view, theme) * dots_per_mm
        runs = trees.cells.slices(view.ground_bounds())
        area = view.width_mm * view.height_mm * dots_per_mm**2
        if _many(runs) * _share_shown(trees, shown) > CROWDED * area:
            return np.ones_like(sizes)
        counts = trees.counts_in(runs) * shown
        sizes *= _smaller(counts, sizes)
        drawn = sizes * (counts > 0)
        return sizes if drawn.max(initial=0.0) >= _LEAST_SHAPED_DOTS else np.ones_like(sizes)

    def _stamp_crowd(
        self,
        canvas: Canvas,
        trees: TreeLayer,
        runs: Runs,
        stamps: Sequence[Stamp],
        view: View,
        dots_per_mm: float,
        pause: Pause,
    ) -> None:
        """Lay down more trees than are worth a quarter of a dot."""
        reach = max(stamp.reach for stamp in stamps)
        size = (canvas.width, canvas.height)
        grouped = _many(runs) == len(trees.x)
        found = crowd(trees, runs, trees.group_shown(), view, dots_per_mm, size, reach, grouped=grouped)
        pause()
        order = slice(None) if grouped else np.argsort(found.group, kind="stable")
        starts = canvas.starts(found.x, found.y)[order]
        complete = len(found.x) == len(trees.x)
        counts = trees.counts() if complete else np.bincount(found.group, minlength=len(stamps))
        firsts = np.concatenate([[0], np.cumsum(counts)]).tolist()
        inside = found.inside(size, reach)
        if inside is None:
            for stamp, first, last in zip(stamps, firsts[:-1], firsts[1:], strict=True):
                if first < last:
                    pause()
                    canvas.lay_down_inside(stamp, starts[first:last])
            return
        inside, x, y = inside[order], found.x[order], found.y[order]
        for stamp, first, last in zip(stamps, firsts[:-1], firsts[1:], strict=True):
            if first < last:
                pause()
                fits = inside[first:last]
                canvas.lay_down_inside(stamp, starts[first:last][fits])
                canvas.lay_down_cut(stamp, x[first:last][~fits], y[first:last][~fits])

    def paint_trees(self, painter: QPainter, trees: TreeLayer, view: View, theme: Theme, dots_per_mm: float) -> None:
        """Paint trees as outlines, which stay sharp at any size; for paper."""
        for paint, x, y in outlined(trees, view, theme, dots_per_mm):
            places = list(zip(x.tolist(), y.tolist(), strict=True))
            path = paint.start(painter)
            for across, down in places:
                painter.drawPath(path.translated(across, down))
            if paint.is_finished:
                for across, down in places:
                    paint.finish(painter, across, down)
        paint_signs(painter, trees, widths_mm(trees, view, theme) * dots_per_mm, view, theme, dots_per_mm)

    def _paints_of(self, trees: TreeLayer, sizes: Floats, theme: Theme, dots_per_mm: float) -> list[TreePaint]:
        """How the groups are painted with dots, their sizes rounded so that few stamps serve."""
        rounded = np.maximum(np.round(sizes * 2) / 2, 1.0).tolist()
        key = (trees.groups, trees.symbols, theme, rounded, dots_per_mm)
        if self._last is None or any(a is not b and a != b for a, b in zip(self._last[0], key, strict=True)):
            paints = [
                self._paint_of(trees.symbols[group.species], group.drawn_as, size, theme, dots_per_mm)
                for group, size in zip(trees.groups, rounded, strict=True)
            ]
            self._last = (key, paints)
        return self._last[1]

    def _paint_of(
        self, symbol: SpeciesSymbol, drawn_as: int, size: float, theme: Theme, dots_per_mm: float
    ) -> TreePaint:
        if drawn_as in {STANDING, PLANNED} and size < _LEAST_SMOOTH_DOTS + 1.5:
            symbol = replace(symbol, colour=_small(symbol, theme))
        return tree_paint(symbol, drawn_as, size / dots_per_mm, theme, dots_per_mm)

    def _colour(self, trees: TreeLayer, group: TreeGroup, theme: Theme) -> int:
        """Colour of a group where each tree is one dot."""
        if group.drawn_as == GONE:
            return _dot(theme.gone)
        return _dot(_small(trees.symbols[group.species], theme))

    def _stamps_of(self, paints: list[TreePaint], phase: int, pause: Pause) -> list[Stamp]:
        if self._last_stamps is None or self._last_stamps[0] is not paints or self._last_stamps[1] != phase:
            stamps = []
            for paint in paints:
                pause()
                stamps.append(self._stamp(paint, phase))
            self._last_stamps = (paints, phase, stamps)
        return self._last_stamps[2]

    def _stamp(self, paint: TreePaint, phase: int) -> Stamp:
        made = self._stamps.get((paint, phase))
        if made is None:
            across, down = (phase % 2 / 2 - 0.25, phase // 2 / 2 - 0.25) if phase >= 0 else (0.0, 0.0)
            made = _made_stamp(paint, across, down)
            small = paint.size < _LEAST_SOFT_IN_CROWDS
            if (phase == _HARD or (phase == _PLAIN and small)) and paint.drawn_as in {STANDING, PLANNED}:
                made = made.hardened(_dot(paint.symbol.colour) if small else None)
            self._stamps[paint, phase] = made
            if len(self._stamps) > _KEPT_STAMPS:
                self._stamps.popitem(last=False)
        return made


def widths_mm(trees: TreeLayer, view: View, theme: Theme) -> Floats:
    """Widths of the groups' symbols in a view and look, shape (len(trees.groups),). [mm]."""
    widths = trees.sizes_mm(view.metres_per_mm)
    if not theme.least_symbol_mm:
        return widths
    return np.where(trees.group_kinds == STANDING, np.maximum(widths, theme.least_symbol_mm), widths)


def outlined(
    trees: TreeLayer, view: View, theme: Theme, dots_per_mm: float
) -> Iterator[tuple[TreePaint, Floats, Floats]]:
    """Each look of the trees in a view at its full size, and the places of its trees, in the order of painting.

    Parameters
    ----------
    trees, view, theme, dots_per_mm
        As for `TreePainter.paint_trees`.

    Yields
    ------
    tuple
        The look, and x and y of the trees from the upper left corner. [dots]
    """
    sizes = widths_mm(trees, view, theme)
    found = seen(trees, view, dots_per_mm, float(sizes.max(initial=0.0)))
    if not len(found.x):
        return
    shown = trees.group_shown()
    order = np.argsort(found.group, kind="stable")
    groups, firsts = np.unique(found.group[order], return_index=True)
    for group, first, last in zip(groups, firsts, [*firsts[1:], len(order)], strict=True):
        if shown[group]:
            kind, which = trees.groups[group], order[first:last]
            paint = tree_paint(trees.symbols[kind.species], kind.drawn_as, float(sizes[group]), theme, dots_per_mm)
            yield paint, found.x[which], found.y[which]


def stamp_crowns(dots: Pixels, crowns: CrownLayer, view: View, dots_per_mm: float, pause: Pause) -> None:
    """Tint an image that shows the whole view under the crowns of standing trees."""
    if view.metres_per_mm > crowns.farthest_m_per_mm:
        return
    x, y, diameter = crowns_in(crowns, view, dots_per_mm)
    if len(x):
        covered = under_discs(dots.shape[0], dots.shape[1], x, y, diameter, pause)
        tint(dots, covered, int(crowns.style.fill[1:], 16), crowns.style.opacity, pause)


def paint_crowns(painter: QPainter, crowns: CrownLayer, view: View, dots_per_mm: float) -> None:
    """Paint the crowns of standing trees as one area, for paper."""
    if view.metres_per_mm > crowns.farthest_m_per_mm:
        return
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.WindingFill)
    for x, y, diameter in zip(*(part.tolist() for part in crowns_in(crowns, view, dots_per_mm)), strict=True):
        path.addEllipse(QPointF(x, y), diameter / 2, diameter / 2)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(brush(crowns.style.fill, crowns.style.opacity))
    painter.drawPath(path)


def outline_crowns(painter: QPainter, crowns: CrownLayer, view: View, dots_per_mm: float, pause: Pause) -> None:
    """Hatch what lies under crowns, and draw a line around each, as the layer's style has it.

    The lines are left out where crowns are too small or too many to see.
    """
    style = crowns.style
    if not (style.line or style.hatch) or view.metres_per_mm > crowns.farthest_m_per_mm:
        return
    x, y, diameter = crowns_in(crowns, view, dots_per_mm)
    if style.hatch:
        hatch_discs(painter, style.hatch, view, dots_per_mm, x, y, diameter)
    if not style.line or not len(x) or len(x) > MOST_OUTLINED or np.median(diameter) < LEAST_OUTLINED_MM * dots_per_mm:
        return
    painter.setPen(pen(style.line, style.line_mm, dots_per_mm, style.dash))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for number, (across, down, wide) in enumerate(zip(x.tolist(), y.tolist(), diameter.tolist(), strict=True)):
        if number % _OUTLINED_AT_ONCE == 0:
            pause()
        painter.drawEllipse(QPointF(across, down), wide / 2, wide / 2)


def crowns_in(crowns: CrownLayer, view: View, dots_per_mm: float) -> tuple[Floats, Floats, Floats]:
    """Right of and below the upper left corner, and diameter, of the crowns in a view. [dots]."""
    trees = crowns.trees
    largest_mm = float(trees.crown_m.max(initial=0.0)) / view.metres_per_mm / 2
    found = seen(trees, view, dots_per_mm, largest_mm)
    diameter = trees.crown_m[found.which].astype(np.float64) / view.metres_per_mm * dots_per_mm
    keep = (diameter > 0) & trees.group_shown()[found.group]
    return found.x[keep], found.y[keep], diameter[keep]


def _made_stamp(paint: TreePaint, across: float, down: float) -> Stamp:
    def draw(painter: QPainter, middle: float) -> None:
        path = paint.start(painter)
        painter.drawPath(path.translated(middle + across, middle + down))
        paint.finish(painter, middle + across, middle + down)

    if _side(paint):
        return make_stamp(2, lambda painter, middle: _square(painter, middle, paint), smooth=False)
    return make_stamp(paint.size * (1.0 if paint.staked else 0.8) + paint.outline + 1, draw, smooth=True)


def _square(painter: QPainter, middle: float, paint: TreePaint) -> None:
    """Paint a square of whole dots, for what is too small to have a shape."""
    side = _side(paint)
    corner = int(middle) - side // 2
    painter.fillRect(corner, corner, side, side, QColor(paint.symbol.colour))


def _sorted(found: Seen, shown: NDArray[np.bool_]) -> list[tuple[int, int, NDArray[np.int32], NDArray[np.int32]]]:
    """Trees by group in the order of painting, and by the quarter of its dot each stands in: group, phase, x, y."""
    x, y = np.floor(found.x).astype(np.int32), np.floor(found.y).astype(np.int32)
    phase = ((found.x - x) * 2).astype(np.int32) + 2 * ((found.y - y) * 2).astype(np.int32)
    key = found.group.astype(np.int32) * 4 + phase
    order = np.argsort(key, kind="stable")
    counts = np.bincount(key)
    keys = np.flatnonzero(counts)
    ends = np.cumsum(counts)
    out: list[tuple[int, int, NDArray[np.int32], NDArray[np.int32]]] = []
    for one, first, last in zip(keys.tolist(), (ends - counts)[keys].tolist(), ends[keys].tolist(), strict=True):
        group, at = divmod(one, 4)
        if shown[group]:
            out.append((group, at, x[order[first:last]], y[order[first:last]]))
    return out


def _side(paint: TreePaint) -> int:
    """Side of the square that stands for what is too small to have a shape, 0 for what has one. [dots]."""
    too_small = paint.size < _LEAST_SMOOTH_DOTS and paint.drawn_as in {STANDING, PLANNED}
    return round(paint.size) if too_small else 0


def _smaller(counts: Ints, sizes: Floats) -> float:
    """How many times as small trees are drawn so that they do not cover too much; 1 at most."""
    most = float(np.interp(counts.sum(), (FINE_UP_TO, MANY), MOST_DOTS))
    return min(1.0, math.sqrt(most / max(float(counts @ sizes**2), 1.0)))


def _many(runs: Runs) -> int:
    return sum(last - first for first, last in runs)


def _share_shown(trees: TreeLayer, shown: NDArray[np.bool_]) -> float:
    """Share of all trees that are shown."""
    return 1.0 if shown.all() else float(trees.counts()[shown].sum()) / max(len(trees.x), 1)


def _dot(name: str) -> int:
    return 0xFF000000 | int(name[1:], 16)


def _small(symbol: SpeciesSymbol, theme: Theme) -> str:
    """Colour of a symbol that is too small to have a ring."""
    return theme.small or _strengthened(symbol.colour, theme.ink)


@lru_cache(maxsize=512)
def _strengthened(name: str, ink: str) -> str:
    """Return a colour drawn towards the ink, as small things have no ring to set them off."""
    return mixed(name, 0.8, ink)
