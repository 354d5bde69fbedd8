"""Shapes made ready to be asked about many points or boxes."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray

Shaped = TypeVar("Shaped", shapely.Geometry, NDArray[np.object_])


def prepared(shapes: Shaped) -> Shaped:
    """Return a shape, or an array of them, prepared and for the caller alone.

    Shapes of a farm are shared by all that work on it, and two threads that
    ask the same prepared shape at once bring GEOS down.
    """
    own = shapely.force_2d(shapes)
    shapely.prepare(own)
    return own
