"""Pictures under the map as plain data, and what a painter needs of whoever reads them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from farmmap.files.rasters import RasterFile
from farmmap.scene.view import Bounds, View

Dots = NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Patch:
    """A picture of some ground.

    Attributes
    ----------
    dots : ndarray of uint8, shape (rows, columns, 4)
        Red, green, blue and alpha, north first, the colours multiplied by alpha.
    bounds : tuple of float
        Ground that it covers. [m]
    """

    dots: Dots
    bounds: Bounds


@dataclass(frozen=True, eq=False)
class RasterLayer:
    """One picture under the map.

    Attributes
    ----------
    name : str
        ``backdrops`` or ``relief``.
    opacity : float
        0 to 1.
    bounds : tuple of float
        Smallest rectangle around it. [m]
    file : RasterFile or None
        Where it is read from, as a view needs it; None if it is held.
    epsg : int
        The farm's grid.
    held : tuple of Patch
        The same picture at several resolutions, each half of the one before; empty if it is read from a file.
    is_grey : bool
        Whether it is shown without its colours.
    """

    name: str
    opacity: float
    bounds: Bounds
    file: RasterFile | None
    epsg: int
    held: tuple[Patch, ...] = ()
    is_grey: bool = False


class TileSource(Protocol):
    """Whoever reads pictures for a painter."""

    def fetch(self, layer: RasterLayer, view: View, dots_per_mm: float) -> Patch | None:
        """Return the picture of a layer in a view, None if nothing of it is at hand.

        It may cover more ground than the view, at about the resolution that is asked for.
        """
        ...
