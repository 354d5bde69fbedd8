"""Ground where the map looks different after an edit."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.figures.margins import Margin
from farmmap.figures.tree_index import places_among
from farmmap.scene.plot_signs import plot_boxes
from farmmap.scene.scene import Ints
from farmmap.scene.view import Bounds

MOST_GROUNDS = 12
"""More rectangles than this are taken together into one."""

_REACH = {"tracks": ("width_m", 0.5), "creeks": ("channel_m", 0.5), "hazards": ("clear_m", 1.0)}
"""Column and part of it by which a row reaches beyond its shape."""


def edited_grounds(
    before: Farm, after: Farm, edit: Edit, trees: Ints, old: Sequence[Margin], new: Sequence[Margin]
) -> list[Bounds]:
    """Return rectangles around all that an edit changed on the map. [m].

    Parameters
    ----------
    before, after : Farm
        The farm before and after the edit.
    edit : Edit
        What was changed.
    trees : ndarray of int64
        Ids of the trees that it touched.
    old, new : sequence of Margin
        Creek margins before and after.
    """
    boxes = [_tree_boxes(farm, trees) for farm in (before, after)]
    for name, change in edit.changes.items():
        if name in {"trees", "measurements"}:
            continue
        for rows in (change.before, change.after):
            if name == "plots" and len(rows):
                boxes.append(plot_boxes(rows))
            if name == "photo_points" and len(rows):
                boxes.append(np.column_stack([rows[axis].to_numpy(np.float64) for axis in "xyxy"]))
            if "geometry" not in rows.columns or not len(rows):
                continue
            box = shapely.bounds(rows["geometry"].to_numpy()).reshape(-1, 4)
            column, part = _REACH.get(name, ("", 0.0))
            if column in rows.columns:
                far = np.nan_to_num(rows[column].to_numpy(np.float64)) * part
                box = box + far[:, None] * (-1, -1, 1, 1)
            boxes.append(box)
    boxes.append(_margin_boxes(old, new))
    found = np.concatenate([box for box in boxes if len(box)] or [np.empty((0, 4))])
    found = found[np.isfinite(found).all(axis=1)]
    if len(found) > MOST_GROUNDS:
        found = np.concatenate([found[:, :2].min(axis=0), found[:, 2:].max(axis=0)])[None]
    return [_bounds(box) for box in _joined(found)]


def _tree_boxes(farm: Farm, ids: Ints) -> np.ndarray:
    rows = places_among(farm.trees.index.to_numpy(np.int64), ids)
    x, y = (farm.trees[axis].to_numpy(np.float64)[rows] for axis in "xy")
    return np.column_stack([x, y, x, y])


def _margin_boxes(old: Sequence[Margin], new: Sequence[Margin]) -> np.ndarray:
    """Boxes of margins that are not in both, by the shape itself or one that is equal to it."""
    before, after = ({shapely.to_wkb(margin.polygon) for margin in some} for some in (old, new))
    if before == after:
        return np.empty((0, 4))
    return shapely.bounds(shapely.from_wkb(np.array(sorted(before ^ after), object))).reshape(-1, 4)


def _joined(boxes: np.ndarray) -> np.ndarray:
    """Boxes, those that overlap joined into one, so that no ground is painted twice."""
    out: list[np.ndarray] = []
    for box in boxes:
        grown, again = box, True
        while again:
            touching = [other for other in out if _overlap(other, grown)]
            again = bool(touching)
            out = [other for other in out if not _overlap(other, grown)]
            for other in touching:
                grown = np.concatenate([np.minimum(grown[:2], other[:2]), np.maximum(grown[2:], other[2:])])
        out.append(grown)
    return np.array(out).reshape(-1, 4)


def _overlap(one: np.ndarray, other: np.ndarray) -> bool:
    return bool((one[:2] <= other[2:]).all() and (other[:2] <= one[2:]).all())


def _bounds(box: np.ndarray) -> Bounds:
    west, south, east, north = box.tolist()
    return west, south, east, north
