"""What a file draws, brought onto the farm's grid: its shapes, or the places in its columns."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.grids import LON_LAT, Grid
from farmmap.files.bringing.heads import is_heading, unit_of
from farmmap.files.bringing.places import Declared, Places, placed
from farmmap.files.bringing.plan import Plan
from farmmap.files.bringing.sieve import Sieve
from farmmap.files.bringing.strays import refuse_strays, well_away
from farmmap.files.bringing.values import numbers_of, say_other_units

XY = tuple[np.ndarray, np.ndarray]


def drawn(
    farm: Farm,
    plan: Plan,
    sieve: Sieve,
    chosen: int | None,
    said: list[str],
    *,
    origin: tuple[float, float] | None,
    anyway: bool,
) -> np.ndarray | XY | None:
    """Return what the file draws, on the farm's grid.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    plan : Plan
        What fills what.
    sieve : Sieve
        Rows whose places do not fit are refused there.
    chosen : int or None
        EPSG code of the grid that the person named.
    said : list of str
        What was taken for granted is added.
    origin : tuple of float or None
        Where on the farm's grid the file's 0, 0 lies. [m]
    anyway : bool
        Bring it in however far off it lies.

    Returns
    -------
    ndarray of object, shape (n,), or pair of ndarray, shape (n,), or None
        Shapes, or x and y (nan where a row has none); None where measurements have no places. [m]

    Raises
    ------
    BadInput
        No column holds places, or they lie where they cannot be meant to lie.
    """
    source = plan.source
    if source.geometry is not None:
        return _carried_shapes(farm, plan, sieve, chosen, said, origin=origin, anyway=anyway)
    axes = [pair for pair in (("x", "y"), ("lon", "lat")) if set(pair) <= set(plan.fillings)]
    if not axes:
        if plan.table == "measurements":
            return None
        has = ", ".join(str(name) for name in source.rows.columns)
        if source.kind == "CSV" and not any(is_heading(str(name)) for name in source.rows.columns):
            has += " (the first line of the file must be the heading, with the names of the columns)"
        more = " To add readings to trees by their tag, bring it as measurements." if plan.table == "trees" else ""
        raise BadInput(
            f"no columns of {source.path.name} hold places; it has {has}. "
            f"Say which do, with --column x=THEIRS --column y=THEIRS, or lon and lat.{more}"
        )
    xy: list[np.ndarray] = []
    stands = np.ones(len(sieve.good), bool)
    for axis in axes[0]:
        filling = plan.fillings[axis]
        theirs = source.column(filling.theirs)
        unit = unit_of(filling.target, plan.table)
        numbers, odd = numbers_of(theirs, decimal_comma=source.decimal_comma, unit=unit)
        say_other_units(theirs, filling.theirs, unit, said)

        def said_of(row: int, theirs: pd.Series = theirs, head: str = filling.theirs) -> str:
            return f"'{str(theirs.iloc[row])[:40]}' in '{head}' is no number"

        sieve.refuse(odd, said_of)
        xy.append(numbers * filling.target.factor)
        stands &= np.isfinite(numbers)
    if plan.table != "measurements":
        sieve.refuse(~stands, f"has no {axes[0][0]} and {axes[0][1]}")
    first, second = axes[0]
    swap = f"--column {first}={plan.fillings[second].theirs} --column {second}={plan.fillings[first].theirs}"
    declared = Declared(source.epsg, source.by_standard, chosen, first == "lon", swap)
    used = stands & sieve.good
    places = placed(farm, xy[0][used], xy[1][used], declared, origin=origin, anyway=anyway)
    said += places.said
    x, y = (np.full(len(stands), np.nan) for _ in range(2))
    x[stands], y[stands] = places.carried(xy[0][stands], xy[1][stands])
    if not anyway and plan.table != "measurements":
        rows = np.flatnonzero(used)
        refuse_strays(places, (xy[0][rows], xy[1][rows]), (x[rows], y[rows]), rows, sieve)
        said += well_away(places, (x[rows], y[rows]), rows, sieve)
    _refuse_outside(places, stands & ~(np.isfinite(x) & np.isfinite(y)), sieve)
    return x, y


def _carried_shapes(
    farm: Farm,
    plan: Plan,
    sieve: Sieve,
    chosen: int | None,
    said: list[str],
    *,
    origin: tuple[float, float] | None,
    anyway: bool,
) -> np.ndarray:
    source = plan.source
    assert source.geometry is not None
    shapes = shapely.force_2d(source.geometry)
    corners, rows = shapely.get_coordinates(shapes, return_index=True)
    if plan.swapped:
        corners = corners[:, ::-1]
    odd = ~np.isfinite(corners).all(axis=1)
    if odd.any():
        sieve.refuse_at(rows[odd], "has coordinates that are no numbers")
    used = sieve.good[rows]
    lon_lat = source.epsg == LON_LAT or (source.epsg is not None and Grid(source.epsg).crs.is_geographic)
    swap = "--column lon=lat --column lat=lon" if lon_lat else "--column x=y --column y=x"
    declared = Declared(source.epsg, source.by_standard, chosen, lon_lat=False, swap=swap)
    places = placed(farm, corners[used, 0], corners[used, 1], declared, origin=origin, anyway=anyway)
    said += places.said
    x, y = places.carried(corners[:, 0], corners[:, 1])
    if not anyway:
        kept = np.flatnonzero(used)
        refuse_strays(places, (corners[kept, 0], corners[kept, 1]), (x[kept], y[kept]), rows[kept], sieve)
        said += well_away(places, (x[kept], y[kept]), rows[kept], sieve)
    outside = ~(np.isfinite(x) & np.isfinite(y))
    if outside.any():
        lost = np.zeros(len(shapes), bool)
        lost[rows[outside]] = True
        _refuse_outside(places, lost, sieve)
    return shapely.set_coordinates(shapes.copy(), np.column_stack([x, y]))


def _refuse_outside(places: Places, rows: np.ndarray, sieve: Sieve) -> None:
    sieve.refuse(rows, f"lies where the farm's grid, {places.farm.grid.label}, does not reach")


def point_places(shapes: np.ndarray | XY | None, plan: Plan, sieve: Sieve) -> XY:
    """Return x and y of trees or plots; a shape that is not a point is refused."""
    if isinstance(shapes, tuple):
        return shapes
    assert shapes is not None
    points = shapes.copy()
    kinds = shapely.get_type_id(points)
    single = (kinds == 4) & (shapely.get_num_geometries(points) == 1)
    points[single] = shapely.get_geometry(points[single], 0)
    kinds = shapely.get_type_id(points)
    empty = (kinds == -1) | shapely.is_empty(points)
    sieve.refuse(empty, "has no shape")
    sieve.refuse(~empty & (kinds != 0), f"is no point, as {plan.table} must be")
    points[~sieve.good] = None
    return shapely.get_x(points), shapely.get_y(points)
