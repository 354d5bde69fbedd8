"""Cells of the places in and about the middles of many areas, worked out together, as most find no room there."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from farmmap.scene.label_places import ABOUT, DOWN_BY, Measure, is_strip, sizes_about
from farmmap.scene.label_room import Cells, LabelRoom
from farmmap.scene.scene import Wording

_ACROSS = np.array([across for _, across in ABOUT], np.float64)[:, None]
_DOWN = np.array([down for down, _ in ABOUT], np.float64)[:, None]


def cells_about(
    named: Sequence[tuple[Wording, float, float]],
    metres_per_mm: float,
    measure: Measure,
    room: LabelRoom,
    gap_mm: float,
) -> list[Cells | None]:
    """Return the cells of each name's places in turn, as `label_places.places` gives them.

    Parameters
    ----------
    named : sequence of tuple
        What is to be named, and where its first point lies. [mm]
    metres_per_mm : float
        Scale of the picture.
    measure : callable
        Gives a text's width and height. [mm]
    room : LabelRoom
        Whose cells.
    gap_mm : float
        Left free between names. [mm]

    Returns
    -------
    list
        None for what is named along a line, beside a mark or beside a strip.
    """
    found: list[Cells | None] = [None] * len(named)
    by_forms: dict[int, list[tuple[int, float, float, list[tuple[float, float]]]]] = {}
    for number, (wording, x_mm, y_mm) in enumerate(named):
        if wording.along or wording.room_m == math.inf or is_strip(wording, metres_per_mm):
            continue
        forms = [(width, height) for _, width, height in sizes_about(wording, metres_per_mm, measure)]
        by_forms.setdefault(len(forms), []).append((number, x_mm, y_mm, forms))
    for many, alike in by_forms.items():
        each = np.array([(x_mm, y_mm) for _, x_mm, y_mm, _ in alike])
        sizes = np.array([forms for *_, forms in alike]).reshape(len(alike), many, 2)
        width, height = sizes[:, None, :, 0], sizes[:, None, :, 1]
        x = each[:, 0, None, None] + _ACROSS * width
        y = each[:, 1, None, None] + _DOWN * DOWN_BY * height
        boxes = np.broadcast_arrays(x, y, width + gap_mm, height + gap_mm)
        cells = room.cells_of(*(side.reshape(len(alike), -1) for side in boxes))
        for (number, *_), one in zip(alike, cells.tolist(), strict=True):
            found[number] = one
    return found
