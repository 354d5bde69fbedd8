"""Farms made for tests of figures, at a place where a grid metre is a metre of ground."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import affinity

from farmmap.farm.farm import Farm, Settings, shaped
from farmmap.farm.grids import Grid
from farmmap.farm.schema import TABLES

MADE = Callable[..., Farm]


@pytest.fixture(scope="session")
def farm_with() -> MADE:
    """Make a farm from columns by table: ``farm_with(trees={"x": ..., "y": ...})``."""

    def make(epsg: int = 2193, settings: dict[str, Any] | None = None, **tables: dict[str, Any]) -> Farm:
        grid = Grid(epsg)
        frames = {}
        for name, given in tables.items():
            values = dict(given)
            count = len(next(iter(values.values())))
            ids = np.asarray(values.pop("id", np.arange(1, count + 1)))
            if "measured_on" in values:
                values["measured_on"] = np.array(values["measured_on"], "datetime64[s]")
            if "status_on" in values:
                values["status_on"] = np.array([day or "NaT" for day in values["status_on"]], "datetime64[s]")
            frames[name] = shaped(TABLES[name], values, ids, grid)
        return Farm(Settings(**({"name": "Pipit Test", "epsg": epsg} | (settings or {}))), frames)

    return make


@pytest.fixture(scope="session")
def level() -> tuple[float, float]:
    """Return a place on EPSG:2193 where the grid's scale is 1 to 1e-9."""
    grid = Grid(2193)
    low, high, north = 1_700_000.0, 1_850_000.0, 5_500_000.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if grid.scale(middle, north) < 1 else (low, middle)
    return low, north


@pytest.fixture
def at(level: tuple[float, float]) -> Callable[[shapely.Geometry], shapely.Geometry]:
    """Move a shape drawn around 0, 0 to the place where the scale is 1."""
    return lambda shape: affinity.translate(shape, *level)
