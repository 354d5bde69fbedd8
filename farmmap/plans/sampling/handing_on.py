"""Where sample plots are, for a GPS or a list: GPX and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.sampling.counts import plot_counts, size_words
from farmmap.files.placing import part_file, put_in_place
from farmmap.files.waypoints import (
    DEGREE_PLACES,
    decimals,
    gpx,
    lon_lat,
    point_end,
    points,
    refuse_local,
    refuse_unplaced,
    route,
    xml_text,
)
from farmmap.plans.sampling.route import Leg, legs

Floats = NDArray[np.float64]

SIZE_COLUMNS = ("shape", "radius_m", "length_m", "width_m", "bearing_deg", "baf_m2", "slope_deg")
"""Of the table of plots, by which `farmmap bring` takes them in again."""

CSV_COLUMNS = ("plot", "block", "x", "y", "lat", "lon", "size", *SIZE_COLUMNS, "next_bearing_deg", "next_m", "from")


def write_plots(farm: Farm, blocks: Sequence[int], path: Path | str) -> int:
    """Write where the plots of some blocks are, in the order in which they are walked.

    Parameters
    ----------
    farm : Farm
        The farm.
    blocks : sequence of int
        Ids of the blocks.
    path : Path or str
        Ends in ``.gpx`` (points, and the way as a route) or ``.csv``.

    Returns
    -------
    int
        How many plots were written.

    Raises
    ------
    BadInput
        There is no plot, the ending is another, or it cannot be written there.
    """
    path = Path(path)
    each = [(str(farm.blocks["name"].loc[block]), legs(farm, block)) for block in blocks]
    each = [(name, found) for name, found in each if found]
    if not each:
        raise BadInput("no sample plots are laid out there, so there is nothing to write")
    writers: dict[str, Callable[[Farm, Sequence[tuple[str, tuple[Leg, ...]]]], str]] = {".gpx": _gpx, ".csv": _csv}
    writer = writers.get(path.suffix.casefold())
    if writer is None:
        raise BadInput(f"{path.name}: end its name in .gpx or .csv, so that it is known what to write")
    if path.suffix.casefold() == ".gpx":
        refuse_local(path.name, farm.grid)
    text = writer(farm, each)
    try:
        with part_file(path.resolve()) as part:
            part.write_text(text, encoding="utf-8-sig" if path.suffix.casefold() == ".csv" else "utf-8", newline="")
            put_in_place(part, path.resolve())
    except OSError as error:
        raise BadInput(f"{path} cannot be written: {error.strerror}. Choose a folder that may be written to") from error
    return sum(len(found) for _, found in each)


def _csv(farm: Farm, each: Sequence[tuple[str, tuple[Leg, ...]]]) -> str:
    counts = plot_counts(farm)
    shapes = dict(zip(counts.ids.tolist(), counts.shapes, strict=True))
    sizes = farm.plots[list(SIZE_COLUMNS)].astype(object).where(farm.plots[list(SIZE_COLUMNS)].notna(), "")
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(CSV_COLUMNS)
    for block, found in each:
        degrees = [decimals(values, DEGREE_PLACES) for values in reversed(_lon_lat(farm, found))]
        for leg, lat, lon in zip(found, *degrees, strict=True):
            way = f"{leg.bearing_deg:.1f}", f"{leg.distance_m:.1f}"
            measures = [kept if isinstance(kept, str) else f"{kept:g}" for kept in sizes.loc[leg.plot]]
            size = size_words(shapes[leg.plot], leg.runs_deg)
            writer.writerow(
                [leg.name, block, f"{leg.x:.2f}", f"{leg.y:.2f}", lat, lon, size, *measures, *way, leg.from_words]
            )
    return out.getvalue()


def _gpx(farm: Farm, each: Sequence[tuple[str, tuple[Leg, ...]]]) -> str:
    placed = [(block, found, *_lon_lat(farm, found)) for block, found in each]
    for _, _, lon, _ in placed:
        refuse_unplaced(lon, "some of the plots lie")
    end = point_end("sample plot")
    every = [
        point
        for block, found, lon, lat in placed
        for point in points(lon, lat, [xml_text(f"{block} {leg.name}") for leg in found], [end] * len(found))
    ]
    ways = [route(lon, lat, block, "way from plot to plot") for block, _, lon, lat in placed]
    return gpx(f"Sample plots of {farm.settings.name}", [*every, *ways])


def _lon_lat(farm: Farm, found: Sequence[Leg]) -> tuple[Floats, Floats]:
    return lon_lat(farm.grid, *np.array([(leg.x, leg.y) for leg in found]).T)
