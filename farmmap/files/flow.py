"""Which way the water runs: stretches of one creek that were drawn against each other."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely

MEETING_M = 0.5
"""Ends this close are taken to meet. [m]"""


def meeting_head_on(creeks: gpd.GeoDataFrame) -> list[tuple[str, int, int]]:
    """Find stretches of one creek that meet with their ends, or with their starts, where nothing else joins.

    Left and right of such a creek change sides half-way along it. At a fork,
    where a third stretch joins, two ends may well meet.

    Parameters
    ----------
    creeks : GeoDataFrame
        The farm's creeks; on its grid. [m]

    Returns
    -------
    list of (str, int, int)
        Name of the creek and the ids of the two stretches.
    """
    lines, owner = shapely.get_parts(creeks.geometry.to_numpy(), return_index=True)
    lined = (shapely.get_type_id(lines) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(lines)
    lines, owner = lines[lined], owner[lined]
    if not len(lines):
        return []
    against = (creeks["flows"] == "against").to_numpy()[owner]
    firsts, lasts = shapely.get_point(lines, 0), shapely.get_point(lines, -1)
    ends = np.concatenate([np.where(against, lasts, firsts), np.where(against, firsts, lasts)])
    is_mouth = np.repeat([False, True], len(lines))
    part = np.tile(np.arange(len(lines)), 2)
    one, other = shapely.STRtree(ends).query(ends, predicate="dwithin", distance=MEETING_M)
    met = np.bincount(one, minlength=len(ends))  # itself included
    names, ids = creeks["name"].to_numpy()[owner], creeks.index.to_numpy()[owner]
    found = [
        (str(names[part[a]]), int(ids[part[a]]), int(ids[part[b]]))
        for a, b in zip(one.tolist(), other.tolist(), strict=True)
        if a < b
        and part[a] != part[b]
        and met[a] == 2
        and met[b] == 2
        and is_mouth[a] == is_mouth[b]
        and names[part[a]] == names[part[b]]
    ]
    return sorted(set(found))
