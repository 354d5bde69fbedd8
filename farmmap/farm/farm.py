"""The farm as a value: settings and one table a kind of thing, never changed in place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from farmmap.errors import BadInput
from farmmap.farm.grids import Grid, farm_grid
from farmmap.farm.schema import TABLES, Column, Geometry, Kind, Table

DTYPES: dict[Kind, str] = {
    Kind.TEXT: "str",
    Kind.WHOLE: "int64",
    Kind.NUMBER: "float64",
    Kind.DAY: "datetime64[s]",
    Kind.WHEN: "str",
}
"""pandas type of each kind of column."""

_DTYPES = {kind: pd.api.types.pandas_dtype(name) for kind, name in DTYPES.items()}

BREAST_HEIGHTS_M = (1.3, 1.4)


@dataclass(frozen=True)
class Settings:
    """What holds for the whole farm.

    Attributes
    ----------
    name : str
        Name of the farm.
    epsg : int
        EPSG code of its grid.
    breast_height_m : float
        Height above ground at which diameters are taken, 1.3 or 1.4. [m]
    margin_m : float
        Width of a creek margin where the creek gives none. [m]
    class_cm : float
        Width of a diameter class. [cm]
    """

    name: str
    epsg: int
    breast_height_m: float = 1.3
    margin_m: float = 10.0
    class_cm: float = 5.0

    def __post_init__(self) -> None:
        """Refuse settings that no figure could be worked out with."""
        farm_grid(self.epsg)
        if self.breast_height_m not in BREAST_HEIGHTS_M:
            raise BadInput(f"breast height is 1.3 or 1.4 m, not {self.breast_height_m}")
        if not 0 < self.margin_m <= 500:
            raise BadInput(f"a margin is more than 0 and up to 500 m wide, not {self.margin_m}")
        if not 0.1 <= self.class_cm <= 100:
            raise BadInput(f"a diameter class is 0.1 to 100 cm wide, not {self.class_cm}")


@dataclass(frozen=True, eq=False)
class Farm:
    """A farm at one moment: settings and tables, none of which is ever changed in place.

    Attributes
    ----------
    settings : Settings
        What holds for the whole farm.
    tables : mapping of str to DataFrame
        Every table of `farmmap.farm.schema.TABLES`, indexed by ``id``. Tables
        of polygons and lines are GeoDataFrames on the farm's grid; trees keep
        plain ``x`` and ``y``.

    Notes
    -----
    Two farms are the same only if they are the same object; a table that an
    edit left alone is shared between the farm before and the farm after.
    """

    settings: Settings
    tables: Mapping[str, pd.DataFrame] = field(repr=False)

    def __post_init__(self) -> None:
        """Fill in the tables that were not given."""
        grid = Grid(self.settings.epsg)
        unknown = set(self.tables) - set(TABLES)
        if unknown:
            raise BadInput(f"a farm has no table called {', '.join(sorted(unknown))}")
        complete = {name: self.tables[name] if name in self.tables else empty_table(name, grid) for name in TABLES}
        object.__setattr__(self, "tables", complete)

    @cached_property
    def grid(self) -> Grid:
        """The plane grid that all coordinates are on; a local one if they cannot lie on the grid that was named."""
        grid = _grid(self.settings.epsg)
        bounds = self.bounds()
        if bounds is not None and grid.looks_local(*bounds):
            return _grid(grid.epsg, local=True)
        return grid

    @property
    def boundary(self) -> gpd.GeoDataFrame:
        """The farm's outline, in as many parts as there are rows."""
        return self._shapes("boundary")

    @property
    def blocks(self) -> gpd.GeoDataFrame:
        """The blocks."""
        return self._shapes("blocks")

    @property
    def creeks(self) -> gpd.GeoDataFrame:
        """The creeks, one or more lines each."""
        return self._shapes("creeks")

    @property
    def fences(self) -> gpd.GeoDataFrame:
        """The fences."""
        return self._shapes("fences")

    @property
    def tracks(self) -> gpd.GeoDataFrame:
        """The tracks."""
        return self._shapes("tracks")

    @property
    def hazards(self) -> gpd.GeoDataFrame:
        """Power lines, buildings, pipelines and the like."""
        return self._shapes("hazards")

    @property
    def notes(self) -> gpd.GeoDataFrame:
        """What is to be remembered, where."""
        return self._shapes("notes")

    @property
    def trees(self) -> pd.DataFrame:
        """The trees, a row each, with ``x`` and ``y`` on the farm's grid."""
        return self.tables["trees"]

    @property
    def measurements(self) -> pd.DataFrame:
        """What the tape said, a row for each stem and day."""
        return self.tables["measurements"]

    @property
    def species(self) -> pd.DataFrame:
        """The species that the farm knows."""
        return self.tables["species"]

    @property
    def plots(self) -> pd.DataFrame:
        """The sample plots, a row each, with ``x`` and ``y`` of the middle (of a strip: of its beginning)."""
        return self.tables["plots"]

    @property
    def plot_trees(self) -> pd.DataFrame:
        """What was counted in the sample plots."""
        return self.tables["plot_trees"]

    def with_tables(self, **tables: pd.DataFrame) -> Farm:
        """Return a farm in which these tables stand in place of its own."""
        return self.with_known(tables, {})

    def with_known(self, tables: Mapping[str, pd.DataFrame], boxes: Mapping[str, np.ndarray]) -> Farm:
        """As `with_tables`, with the rectangles of those tables around which they are known, see `known_box`."""
        out = replace(self, tables={**self.tables, **tables})
        same = {name: box for name, box in list(self._boxes.items()) if name not in tables}
        out._boxes.update(same, **boxes)  # noqa: SLF001 - another farm
        return out

    def known_box(self, name: str) -> np.ndarray | None:
        """Return the rectangle around a table, as far as it was looked at: west, south, east, north. [m]."""
        return self._boxes.get(name)

    def bounds(self) -> tuple[float, float, float, float] | None:
        """Smallest rectangle around everything on the farm: x and y of its south-west and north-east corners.

        Returns
        -------
        tuple of float or None
            None if nothing is drawn yet. [m]
        """
        for name in self.tables:
            if name not in self._boxes:
                self._boxes[name] = self._box(name)
        boxes = [box for box in list(self._boxes.values()) if np.isfinite(box).all()]
        if not boxes:
            return None
        corners = np.array(boxes)
        return (
            float(corners[:, 0].min()),
            float(corners[:, 1].min()),
            float(corners[:, 2].max()),
            float(corners[:, 3].max()),
        )

    @cached_property
    def _boxes(self) -> dict[str, np.ndarray]:
        """Rectangles around the tables looked at so far, nan for nothing; a farm made of this one shares them."""
        return {}

    def _box(self, name: str) -> np.ndarray:
        frame = self.tables[name]
        if isinstance(frame, gpd.GeoDataFrame) and len(frame):
            return np.asarray(frame.geometry.total_bounds, np.float64)
        if TABLES[name].geometry is Geometry.POINT and len(frame):
            x, y = frame["x"].to_numpy(), frame["y"].to_numpy()
            return np.array([x.min(), y.min(), x.max(), y.max()])
        return np.full(4, np.nan)

    def _shapes(self, name: str) -> gpd.GeoDataFrame:
        frame = self.tables[name]
        assert isinstance(frame, gpd.GeoDataFrame)
        return frame


@lru_cache(maxsize=16)
def _grid(epsg: int, local: bool = False) -> Grid:
    """Return the one grid of that kind, as making its projection takes longer than using it."""
    return Grid(epsg, local=True) if local else farm_grid(epsg)


def new_farm(name: str, grid: str | int) -> Farm:
    """Return an empty farm.

    Parameters
    ----------
    name : str
        Name of the farm.
    grid : str or int
        Its grid, such as ``"EPSG:2193"``. New Zealand's grids set breast
        height to 1.4 m, all others to 1.3 m (the usual heights of the trade).

    Raises
    ------
    GridError
        The grid is not one that a farm can be kept on.
    BadInput
        The name is empty.
    """
    if not name.strip():
        raise BadInput("a farm needs a name")
    found = farm_grid(grid)
    in_new_zealand = "New Zealand" in found.name or found.name.startswith(("NZGD2000", "NZGD49"))
    return Farm(Settings(name.strip(), found.epsg, 1.4 if in_new_zealand else 1.3), {})


def empty_table(name: str, grid: Grid) -> pd.DataFrame:
    """Return a table of that name without rows, typed as the schema says."""
    return shaped(TABLES[name], {}, np.empty(0, np.int64), grid)


def shaped(table: Table, values: Mapping[str, Any], ids: np.ndarray, grid: Grid) -> pd.DataFrame:
    """Return rows of a table, typed as the schema says, with defaults for columns not given.

    Parameters
    ----------
    table : Table
        Which table.
    values : mapping of str to array, shape (n,)
        Columns; ``x`` and ``y`` for points, ``geometry`` for other shapes.
    ids : ndarray of int64, shape (n,)
        Ids of the rows, unique.
    grid : Grid
        The farm's grid.

    Raises
    ------
    BadInput
        A needed column is missing, or values do not fit their column.
    """
    rows = len(ids)
    columns: dict[str, Any] = {}
    for column in table.columns:
        given = values.get(column.name)
        if given is None:
            if column.needed and rows:
                raise BadInput(f"{table.words}: {column.words} ({column.name}) is missing")
            columns[column.name] = _all_the_same(_default(column), column, rows)
            continue
        try:
            columns[column.name] = pd.array(given, dtype=_DTYPES[column.kind]) if len(given) else _none(column)
        except (TypeError, ValueError) as error:
            raise BadInput(f"{table.words}: {column.name} holds something that is no {column.kind}: {error}") from error
    index = pd.Index(np.asarray(ids, np.int64), name="id")
    if table.geometry is Geometry.POINT:
        for axis in "xy":
            columns[axis] = np.asarray(values.get(axis, np.empty(0)), np.float64)
        return pd.DataFrame(columns, index=index, copy=False)
    if table.geometry is None:
        return pd.DataFrame(columns, index=index, copy=False)
    shapes = values.get("geometry")
    columns["geometry"] = gpd.GeoSeries(
        np.empty(0, object) if shapes is None else np.asarray(shapes, object), index=index, crs=grid.crs
    )
    return gpd.GeoDataFrame(columns, index=index, geometry="geometry", crs=grid.crs)


def _default(column: Column) -> str | int | float | np.datetime64:
    if column.default is not None:
        return column.default
    match column.kind:
        case Kind.TEXT | Kind.WHEN:
            return ""
        case Kind.WHOLE:
            return 0
        case Kind.NUMBER:
            return float("nan")
        case Kind.DAY:
            return np.datetime64("NaT", "s")


def _all_the_same(value: str | float | np.datetime64, column: Column, rows: int) -> pd.api.extensions.ExtensionArray:
    """Return a column that holds one value only; spreading it out takes a fraction of reading it row by row."""
    return pd.array([value], dtype=_DTYPES[column.kind]).take(np.zeros(rows, np.intp))


def _none(column: Column) -> pd.api.extensions.ExtensionArray:
    return pd.array([], dtype=_DTYPES[column.kind])


def next_ids(frame: pd.DataFrame, count: int) -> np.ndarray:
    """Return ``count`` ids that the table does not use yet, int64, shape (count,)."""
    first = int(frame.index.max()) + 1 if len(frame) else 1
    return np.arange(first, first + count, dtype=np.int64)


def places_of(index: pd.Index, ids: np.ndarray) -> np.ndarray:
    """Return the places of ids in an index, -1 for those that are not there, shape (n,).

    Quick also in a long index that was never looked into: pandas would go through all of it first.
    """
    if not index.is_monotonic_increasing:
        return index.get_indexer(ids)
    held = index.to_numpy()
    places = np.searchsorted(held, ids)
    inside = np.minimum(places, max(len(held) - 1, 0))
    return np.where(held[inside] == ids, inside, -1) if len(held) else np.full(len(ids), -1)
