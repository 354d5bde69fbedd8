"""The existing creeks of a farm as stretches that run downstream."""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely

from farmmap.farm.farm import Farm
from farmmap.figures.areas import ground_scale
from farmmap.figures.banks import Reach, downstream


@dataclass(frozen=True)
class Creek:
    """All rows of one name.

    Attributes
    ----------
    name : str
        Name of the creek.
    ids : tuple of int
        Rows of ``farm.creeks``.
    reaches : tuple of Reach
        Its stretches, on the farm's grid.
    scale : float
        Grid metres for a metre of ground at its middle.
    """

    name: str
    ids: tuple[int, ...]
    reaches: tuple[Reach, ...]
    scale: float


def creeks_of(farm: Farm) -> list[Creek]:
    """Existing creeks by name, in the order of their lowest id."""
    rows = farm.creeks[farm.creeks["stage"] == "existing"]
    found: list[Creek] = []
    for name in rows["name"].unique():
        own = rows[rows["name"] == name]
        shapes = own.geometry.to_numpy()
        scale = ground_scale(shapely.union_all(shapes), farm.grid)
        reaches: list[Reach] = []
        for shape, drawn_as, flows, wide, left, right in zip(
            shapes,
            own["drawn_as"],
            own["flows"],
            own["channel_m"],
            own["left_margin_m"],
            own["right_margin_m"],
            strict=True,
        ):
            if shape is None or shape.is_empty:
                continue
            widths = [farm.settings.margin_m if math.isnan(width) else width for width in (left, right)]
            if drawn_as != "centre line":
                widths[1 if drawn_as == "left bank" else 0] = 0.0
            half = 0.0 if drawn_as != "centre line" or math.isnan(wide) else max(wide, 0.0) / 2
            both = (max(widths[0], 0.0) * scale, max(widths[1], 0.0) * scale)
            reaches += [Reach(line, half * scale, both) for line in downstream(shape, flows == "against")]
        if reaches:
            found.append(Creek(str(name), tuple(map(int, own.index)), run_together(reaches), scale))
    return found


def run_together(reaches: list[Reach]) -> tuple[Reach, ...]:
    """Join stretches of the same widths that meet end to beginning, so that no notch is left between them."""
    kinds: dict[tuple[float, tuple[float, float]], list[shapely.LineString]] = {}
    for reach in reaches:
        kinds.setdefault((reach.half, reach.widths), []).append(reach.line)
    out: list[Reach] = []
    for (half, widths), lines in kinds.items():
        merged = shapely.line_merge(shapely.MultiLineString(lines), directed=True)
        out += [Reach(shapely.remove_repeated_points(line), half, widths) for line in shapely.get_parts(merged)]
    return tuple(out)
