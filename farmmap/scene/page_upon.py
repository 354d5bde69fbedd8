"""Where a page draws something upon a map, so that no name of the map is written below it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np

from farmmap.scene.page_items import Disc, Item, Picture, Sampled, Shape, Symbol, Text, Type
from farmmap.scene.scene import LabelLayer, Scene
from farmmap.scene.view import View

Box_ = tuple[float, float, float, float]
SIZE_MM = 0.8
"""Places nearer to each other than this are taken as one. [mm]"""


def names_clear_of(scene: Scene, items: Iterable[Item], view: View, type_: Type) -> Scene:
    """Return a map whose names are written clear of what a page draws upon it.

    Parameters
    ----------
    scene : Scene
        The map.
    items : iterable of Item
        What is drawn upon it, in millimetres from its upper left corner.
    view : View
        What the map shows.
    type_ : Type
        Sizes of type.
    """
    found = {tuple(round(value / SIZE_MM) for value in box): box for item in items for box in _boxes(item, type_)}
    if not found:
        return scene
    left, top, right, bottom = np.array(list(found.values())).T
    corners = [view.to_ground(x, y) for x in (left, right) for y in (top, bottom)]
    across, down = (np.stack(values) for values in zip(*corners, strict=True))
    ground = np.column_stack([across.min(axis=0), down.min(axis=0), across.max(axis=0), down.max(axis=0)])
    layers = (replace(one, clear_of=ground) if isinstance(one, LabelLayer) else one for one in scene.layers)
    return replace(scene, layers=tuple(layers))


def _boxes(item: Item, type_: Type) -> Iterator[Box_]:
    """Left, top, right and bottom of what an item covers; of a line, those of each of its stretches. [mm]."""
    match item:
        case Text(x, y, text, style, align):
            wide = type_.width(text, style)
            left = x - {"left": 0.0, "middle": wide / 2, "right": wide}[align]
            yield left, y - style.size_mm, left + wide, y + 0.3 * style.size_mm
        case Shape(points, closed, _, thick, fill):
            ring = (*points, points[0]) if closed else points
            for stretch in (ring,) if fill else pairwise(ring):
                (left, *_, right), (top, *_, bottom) = (sorted(values) for values in zip(*stretch, strict=True))
                yield left - thick / 2, top - thick / 2, right + thick / 2, bottom + thick / 2
        case Disc(x, y, size) | Symbol(x, y, size):
            yield x - size / 2, y - size / 2, x + size / 2, y + size / 2
        case Sampled(x, y, wide, high) | Picture(x, y, wide, high):
            yield x, y, x + wide, y + high
