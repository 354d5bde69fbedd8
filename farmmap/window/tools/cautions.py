"""What has to be known before or after work: a power line near by, and what stays of a block that is taken away."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    import pandas as pd

    from farmmap.farm.edits import Change, Edit
    from farmmap.farm.farm import Farm
    from farmmap.figures.standing import Standing
    from farmmap.window.tools.picks import Row

NEAR_M = 40.0
"""How near a power line is told of: about as far as a tall tree falls. Our own choice, no rule. [m on the ground]"""


def touches_power_line(farm: Farm, edit: Edit) -> bool:
    """Whether an edit plans planting, or fells trees, near a power line.

    Parameters
    ----------
    farm : Farm
        The farm after the edit.
    edit : Edit
        What was done.
    """
    import numpy as np
    import shapely

    hazards = farm.hazards
    lines = hazards.geometry.to_numpy()[(hazards["kind"] == "power line").to_numpy()]
    shapes = _work(edit)
    if not len(lines) or not len(shapes):
        return False
    middle = shapely.get_coordinates(shapely.centroid(shapes[0]))[0]
    near_m = NEAR_M * farm.grid.scale(*middle)
    return bool(np.any([shapely.dwithin(shapes, line, near_m).any() for line in lines]))


def what_stays(farm: Farm, standing: Standing, rows: Sequence[Row]) -> str:
    """Say how much ground blocks are that are to be taken away, and that their trees stay; "" if no blocks go alone.

    Parameters
    ----------
    farm : Farm
        The farm.
    standing : Standing
        Its trees that count on the day that is shown.
    rows : sequence of (str, int)
        What is to be taken away, as table and id.
    """
    blocks = [row for table, row in rows if table == "blocks"]
    if not blocks or any(table == "trees" for table, _ in rows):
        return ""
    import shapely

    from farmmap.editing.words import area_words
    from farmmap.figures.areas import areas_m2
    from farmmap.figures.prepared import prepared
    from farmmap.figures.united import united

    shapes = farm.blocks.geometry.loc[blocks].to_numpy()
    ground = prepared(united(shapes))
    west, south, east, north = ground.bounds
    x, y = standing.x, standing.y
    near = (x >= west) & (x <= east) & (y >= south) & (y <= north)
    count = int(shapely.intersects_xy(ground, x[near], y[near]).sum())
    they_are, them = ("It is", "it") if len(blocks) == 1 else ("They are", "them")
    trees = f"the {count} trees in {them} stay" if count > 1 else f"the tree in {them} stays"
    stays = f"{trees}, without a block" if count else f"no tree stands in {them}"
    return f"{they_are} {area_words(float(areas_m2(shapes, farm.grid).sum()))}; {stays}."


def _work(edit: Edit) -> np.ndarray:
    """Return the shapes of blocks that are planned and of trees that are planned or felled by an edit."""
    import numpy as np
    import shapely

    shapes: list[np.ndarray] = []
    blocks = edit.changes.get("blocks")
    if blocks is not None:
        after: gpd.GeoDataFrame = blocks.after
        shapes.append(after.geometry.to_numpy()[(after["stage"] == "planned").to_numpy()])
    trees = edit.changes.get("trees")
    if trees is not None:
        rows = _dangerous_trees(trees)
        shapes.append(shapely.points(rows["x"].to_numpy(), rows["y"].to_numpy()))
    return np.concatenate(shapes) if shapes else np.empty(0, object)


def _dangerous_trees(change: Change) -> pd.DataFrame:
    after = change.after
    was = change.before["status"].reindex(after.index)
    felled = (after["status"] == "felled") & (was != "felled")
    return after[(felled | ((after["stage"] == "planned") & (after["status"] == "alive"))).to_numpy(bool)]
