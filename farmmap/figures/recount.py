"""Trees counted again after outlines of blocks changed: only those between the old and the new outline."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.grounds import Grounds
from farmmap.figures.members import Members, Moved
from farmmap.figures.membership import EDGE_M, trees_placed_again
from farmmap.figures.tree_index import Bounds, TreeIndex

Ints = NDArray[np.int64]

ONE_RING = [int(shapely.GeometryType.POLYGON)] * 2


def members_between(
    members: Members, index: TreeIndex, ground: tuple[Grounds, Grounds], blocks: Ints
) -> tuple[Members, list[Moved]]:
    """Return the trees of each block after outlines changed, and the trees that blocks lost and won, step by step.

    Parameters
    ----------
    members : Members
        The trees of each block before.
    index : TreeIndex
        All trees.
    ground : tuple of Grounds
        The blocks before and after.
    blocks : ndarray of int64
        Ids of blocks that were put in, taken away or altered.
    """
    before, after = ground
    bounds = after.bounds if after.existing.all() else np.where(after.existing[:, None], after.bounds, np.nan)
    between = [_between(before.outline_of(block), after.outline_of(block)) for block in blocks.tolist()]
    boxes = [box for box in between if box is not None]
    steps = []
    for box in _together(boxes) if len(boxes) > 1 else boxes:
        rows, found = trees_placed_again(index, after.ids, after.outlines, bounds, _wider(box))
        members, moved = members.moved(rows, found)
        steps.append(moved)
    return members, steps


def _wider(box: Bounds) -> Bounds:
    """Return a rectangle with as much around it as a tree may stand off an edge."""
    west, south, east, north = box
    return west - 2 * EDGE_M, south - 2 * EDGE_M, east + 2 * EDGE_M, north + 2 * EDGE_M


def _together(boxes: list[Bounds]) -> list[Bounds]:
    """Return rectangles with those that meet made one, such as the two sides of a shared edge."""
    out: list[Bounds] = []
    for box in boxes:
        west, south, east, north = box
        for number, (left, low, right, top) in enumerate(out):
            if west <= right and east >= left and south <= top and north >= low:
                out[number] = min(west, left), min(south, low), max(east, right), max(north, top)
                break
        else:
            out.append(box)
    return out


def _between(old: shapely.Geometry | None, new: shapely.Geometry | None) -> Bounds | None:
    """Rectangle around the sides of an outline that were there before or after, but not both; None if there are none.

    What lies inside one outline and outside the other is bounded by these
    sides, so that no tree elsewhere changes its block.
    """
    if old is None or new is None:
        one = new if old is None else old
        return None if one is None or one.is_empty else one.bounds
    both = np.array([old, new], object)
    if not _same_rings(both):
        return _between_sides(old, new)
    numbers = shapely.get_coordinates(both).reshape(2, -1)
    other = ((numbers[0] != numbers[1]).nonzero()[0] // 2).tolist()
    if not other:
        return None
    corners = numbers.reshape(2, -1, 2)
    if other[0] > 0:
        near = corners[:, other[0] - 1 : other[-1] + 2]
    else:
        far = corners.shape[1] - 1
        near = corners[:, [*(max(one - 1, 0) for one in other), *other, *(min(one + 1, far) for one in other)]]
    x, y = near[:, :, 0].ravel().tolist(), near[:, :, 1].ravel().tolist()
    return min(x), min(y), max(x), max(y)


def _same_rings(both: NDArray[np.object_]) -> bool:
    """Whether corner after corner of two outlines belongs to the same ring."""
    first, second = shapely.get_num_coordinates(both).tolist()
    if first != second:
        return False
    if shapely.get_type_id(both).tolist() == ONE_RING and shapely.get_num_interior_rings(both).tolist() == [0, 0]:
        return True
    each = [shapely.get_num_coordinates(shapely.get_rings(shapely.get_parts(outline))).tolist() for outline in both]
    return bool(each[0] == each[1])


def _between_sides(old: shapely.Geometry, new: shapely.Geometry) -> Bounds | None:
    corners = [corner for side in _sides(old) ^ _sides(new) for corner in side]
    if not corners:
        return None
    x, y = zip(*corners, strict=True)
    return min(x), min(y), max(x), max(y)


def _sides(outline: shapely.Geometry) -> set[tuple[tuple[float, float], tuple[float, float]]]:
    """Sides of an outline, each with its lesser end first."""
    corners, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(outline)), return_index=True)
    points = list(map(tuple, corners.tolist()))
    same = (ring[1:] == ring[:-1]).tolist()
    return {(a, b) if a <= b else (b, a) for a, b, joined in zip(points[:-1], points[1:], same, strict=True) if joined}
