"""GeoPackage: a layer with the grid that it declares."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
import shapely
from pyproj.exceptions import CRSError

from farmmap.errors import BadInput
from farmmap.files.sources.source import Source, numbers_from_one


def read_geopackage(path: Path, layer: str | None = None, like: str = "") -> Source:
    """Read one layer.

    Parameters
    ----------
    path : Path
        The file.
    layer : str, optional
        Which layer. Left out, it is the one called as ``like``, or the only one.
    like : str
        Name of the table it is to go into.

    Raises
    ------
    BadInput
        It is damaged, has no layer of that name, or has several and none was named.
    """
    import pyogrio  # noqa: PLC0415 - heavy: a farm is opened before it is needed
    import pyogrio.raw  # noqa: PLC0415 - as above
    from pyogrio.errors import DataLayerError, DataSourceError  # noqa: PLC0415 - as above

    try:
        layers = [str(name) for name, _ in pyogrio.list_layers(path)]
    except (DataSourceError, DataLayerError, RuntimeError, ValueError) as error:
        raise BadInput(f"{path.name} is a damaged GeoPackage and cannot be opened") from error
    wanted = _layer(layers, layer, like, path)
    try:
        info = pyogrio.read_info(path, layer=wanted)
        meta, _, wkb, fields = pyogrio.raw.read(path, layer=wanted, force_2d=True, datetime_as_string=True)
    except (DataSourceError, DataLayerError, RuntimeError, ValueError, UnicodeDecodeError) as error:
        raise BadInput(f"layer '{wanted}' of {path.name} is damaged: {error}") from error
    columns = {str(name): values for name, values in zip(meta["fields"], fields, strict=True)}
    rows = pd.DataFrame({name: _column(values) for name, values in columns.items()})
    count = len(wkb) if wkb is not None else len(rows)
    if not count:
        raise BadInput(f"layer '{wanted}' of {path.name} is empty")
    if not len(rows.columns):
        rows = pd.DataFrame(index=range(count))
    shapes = None if wkb is None else shapely.from_wkb(wkb, on_invalid="ignore")
    said = [] if len(layers) == 1 or layer else [f"The layer '{wanted}' of {path.name} was taken."]
    return Source(
        path,
        "GeoPackage",
        rows,
        numbers_from_one(count),
        shapes,
        _epsg(info.get("crs")) if shapes is not None else None,
        layer=wanted,
        said=tuple(said),
    )


def _layer(layers: list[str], layer: str | None, like: str, path: Path) -> str:
    if not layers:
        raise BadInput(f"{path.name} holds no layer")
    if layer is not None:
        found = [name for name in layers if name.casefold() == layer.strip().casefold()]
        if not found:
            raise BadInput(f"{path.name} has no layer '{layer}'; it has {', '.join(layers)}")
        return found[0]
    if len(layers) == 1:
        return layers[0]
    found = [name for name in layers if name.casefold() == like.casefold()]
    if found:
        return found[0]
    raise BadInput(f"{path.name} has several layers; say which one with --layer: {', '.join(layers)}")


def _column(values: np.ndarray) -> pd.Series:
    if values.dtype == object:
        return pd.Series(pd.array(["" if value is None else str(value) for value in values], dtype="str"))
    return pd.Series(values)


def _epsg(crs: str | None) -> int | None:
    if not crs:
        return None
    try:
        found = pyproj.CRS.from_user_input(crs)
    except CRSError:
        return None
    return found.to_epsg(min_confidence=60)
