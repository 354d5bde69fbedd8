"""Trees in crowds: so many in view that each is one dot or a small symbol, laid into an image with NumPy.

Places are worked out in single precision from the corner of the layer, a
stretch of trees at a time, so that everything stays in the processor's caches.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.drawing.stamps import Canvas, Pixels
from farmmap.scene.scene import TreeLayer
from farmmap.scene.view import View

Runs = Sequence[tuple[int, int]]
Pause = Callable[[], None]

STRETCH = 65_536
"""Trees whose places are worked out at once."""

_LEAST_STRETCH = 16_384  # shorter runs of trees are gathered until they are worth a call


@dataclass(frozen=True, eq=False)
class Crowd:
    """Trees whose places lie on a picture or a little beside it.

    Attributes
    ----------
    x, y : ndarray of int32, shape (n,)
        Dot that each stands on, right of and below the upper left corner.
    group : ndarray of int16, shape (n,)
        Kind of look of each.
    """

    x: NDArray[np.int32]
    y: NDArray[np.int32]
    group: NDArray[np.int16]

    def inside(self, size: tuple[int, int], reach: int) -> NDArray[np.bool_] | None:
        """Which trees stand at least a reach inside a picture, shape (n,); None if all do. [dots]."""
        x, y = self.x, self.y
        wide, high = size[0] - reach, size[1] - reach
        if len(x) and x.min() >= reach and y.min() >= reach and x.max() < wide and y.max() < high:
            return None
        return (x >= reach) & (x < wide) & (y >= reach) & (y < high)


def one_dot_each(
    dots: Pixels,
    trees: TreeLayer,
    runs: Runs,
    colours: NDArray[np.uint32],
    shown: NDArray[np.bool_],
    view: View,
    dots_per_mm: float,
    pause: Pause,
) -> None:
    """Give each tree one dot; where several fall on the same dot, the one painted last in its cell stays.

    Parameters
    ----------
    dots : ndarray of uint32, shape (height, width)
        The image, changed in place.
    trees : TreeLayer
        The trees.
    runs : sequence of tuple
        First and last-plus-one places of those that may be in view.
    colours : ndarray of uint32, shape (groups,)
        Colour of each group.
    shown : ndarray of bool, shape (groups,)
        Which groups are shown.
    view : View
        What the image shows.
    dots_per_mm : float
        Resolution of the image.
    pause : callable
        Called between stretches.
    """
    canvas = Canvas(dots)
    where = np.empty(STRETCH, np.intp)
    for x, y, group in _stretches(trees, runs, view, dots_per_mm):
        pause()
        keep = _inside(x, y, canvas.width, canvas.height)
        if not shown.all():
            keep = shown[group] if keep is None else keep & shown[group]
        left, down = x.astype(np.int32), y.astype(np.int32)
        if keep is not None:
            left, down, group = left[keep], down[keep], group[keep]  # noqa: PLW2901 - only these are laid down
        at = where[: len(left)]
        np.multiply(down, canvas.stride, out=at)
        at += left
        canvas.flat[at] = colours.take(group)


def crowd(
    trees: TreeLayer,
    runs: Runs,
    shown: NDArray[np.bool_],
    view: View,
    dots_per_mm: float,
    size: tuple[int, int],
    reach: int,
    *,
    grouped: bool = False,
) -> Crowd:
    """Return the trees that stand on a picture or within a reach of it.

    Parameters
    ----------
    trees, runs, shown, view, dots_per_mm
        As for `one_dot_each`.
    size : tuple of int
        Width and height of the picture. [dots]
    reach : int
        How far beyond the edges trees are wanted. [dots]
    grouped : bool
        Take them group by group; ``runs`` must hold all trees then.
    """
    found: list[tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int16]]] = []
    for x, y, group in _stretches(trees, runs, view, dots_per_mm, reach, grouped=grouped):
        keep = _inside(x, y, size[0] + 2 * reach, size[1] + 2 * reach)
        if not shown.all():
            keep = shown[group] if keep is None else keep & shown[group]
        left, down = x.astype(np.int32), y.astype(np.int32)
        left -= reach
        down -= reach
        found.append((left, down, group) if keep is None else (left[keep], down[keep], group[keep]))
    if not found:
        return Crowd(np.zeros(0, np.int32), np.zeros(0, np.int32), np.zeros(0, np.int16))
    x_all, y_all, groups = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return Crowd(x_all, y_all, groups)


def _inside(x: NDArray[np.float32], y: NDArray[np.float32], width: int, height: int) -> NDArray[np.bool_] | None:
    """Which places lie on a picture; None if all do."""
    if len(x) and x.min() >= 0 and y.min() >= 0 and x.max() < width and y.max() < height:
        return None
    return (x >= 0) & (x < width) & (y >= 0) & (y < height)


def _stretches(
    trees: TreeLayer, runs: Runs, view: View, dots_per_mm: float, shift: float = 0.0, *, grouped: bool = False
) -> Iterator[tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.int16]]]:
    """Places, shifted right and down, and groups of the trees in some runs, a stretch at a time.

    The arrays of places are used again for the next stretch.
    """
    across, down = np.empty(STRETCH, np.float32), np.empty(STRETCH, np.float32)
    a_metre = np.float32(dots_per_mm / view.metres_per_mm)
    corner_x, corner_y = (float(v) for v in view.to_dots(trees.cells.west, trees.cells.south, dots_per_mm))
    all_east, all_north, group = trees.grouped if grouped else (trees.x_near, trees.y_near, trees.group)
    for which in _pieces(runs):
        if view.rotation:
            those = trees.by_group[which] if grouped else which
            x, y = view.to_dots(trees.x[those], trees.y[those], dots_per_mm)
            yield (x + shift).astype(np.float32), (y + shift).astype(np.float32), trees.group[those]
            continue
        east, north = all_east[which], all_north[which]
        x32, y32 = across[: len(east)], down[: len(east)]
        np.multiply(east, a_metre, out=x32)
        x32 += np.float32(corner_x + shift)
        np.multiply(north, -a_metre, out=y32)
        y32 += np.float32(corner_y + shift)
        yield x32, y32, group[which]


def _pieces(runs: Runs) -> Iterator[slice | NDArray[np.int64]]:
    """Cut runs to stretches; gather short ones."""
    short: list[NDArray[np.int64]] = []
    many = 0
    for first, last in runs:
        for start in range(first, last, STRETCH):
            end = min(start + STRETCH, last)
            if end - start >= _LEAST_STRETCH and not short:
                yield slice(start, end)
                continue
            if many + end - start > STRETCH:
                yield np.concatenate(short)
                short, many = [], 0
            short.append(np.arange(start, end))
            many += end - start
    if short:
        yield np.concatenate(short)
