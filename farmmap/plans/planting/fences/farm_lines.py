"""What of the farm its planned fences go by: tracks they meet, and the boundary they stay within."""

from __future__ import annotations

import shapely

from farmmap.farm.farm import Farm
from farmmap.figures.prepared import prepared
from farmmap.figures.remembered import Remembered
from farmmap.figures.united import united

_TRACKS: Remembered[shapely.Geometry] = Remembered(2)
_BOUNDARY: Remembered[shapely.Geometry] = Remembered(2)


def farm_tracks(farm: Farm) -> shapely.Geometry | None:
    """Return the middle lines of the tracks of a farm, prepared, for the caller alone; None if it has none."""
    if not len(farm.tracks):
        return None
    return prepared(_TRACKS.get((farm.tracks,), (), lambda: shapely.union_all(farm.tracks.geometry.to_numpy())))


def farm_boundary(farm: Farm) -> shapely.Geometry | None:
    """Return the ground of a farm, prepared, for the caller alone; None if its boundary is not drawn."""
    if not len(farm.boundary):
        return None
    return prepared(_BOUNDARY.get((farm.boundary,), (), lambda: united(farm.boundary.geometry.to_numpy())))
