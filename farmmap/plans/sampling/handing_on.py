"""Where sample plots are, for a GPS or a list: GPX and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.grids import LON_LAT, transform
from farmmap.figures.sampling.counts import plot_counts, size_words
from farmmap.files.placing import part_file, put_in_place
from farmmap.plans.sampling.route import Leg, legs

DEGREE_PLACES = 8
CSV_COLUMNS = ("plot", "block", "x", "y", "lat", "lon", "size", "next_bearing_deg", "next_m", "from")


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
    if path.suffix.casefold() == ".gpx" and farm.grid.local:
        raise BadInput(f"{path.name} needs longitudes and latitudes, and this farm is measured from a corner post; "
                       "write a .csv")  # fmt: skip
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
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(CSV_COLUMNS)
    for block, found in each:
        for leg in found:
            lat, lon = ("", "") if farm.grid.local else _degrees(farm, leg)
            way = f"{leg.bearing_deg:.1f}", f"{leg.distance_m:.1f}"
            size = size_words(shapes[leg.plot], leg.runs_deg)
            writer.writerow([leg.name, block, f"{leg.x:.2f}", f"{leg.y:.2f}", lat, lon, size, *way, leg.from_words])
    return out.getvalue()


def _gpx(farm: Farm, each: Sequence[tuple[str, tuple[Leg, ...]]]) -> str:
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="farmmap" xmlns="http://www.topografix.com/GPX/1/1">',
    ]
    for block, found in each:
        lines += [f"  <wpt {_at(farm, leg)}><name>{escape(f'{block} {leg.name}')}</name></wpt>" for leg in found]
    for block, found in each:
        lines += [f"  <rte><name>{escape(block)}</name>", *(f"    <rtept {_at(farm, leg)}></rtept>" for leg in found)]
        lines.append("  </rte>")
    return "\n".join([*lines, "</gpx>", ""])


def _at(farm: Farm, leg: Leg) -> str:
    lat, lon = _degrees(farm, leg)
    return f'lat="{lat}" lon="{lon}"'


def _degrees(farm: Farm, leg: Leg) -> tuple[str, str]:
    lon, lat = transform([leg.x], [leg.y], farm.grid.epsg, LON_LAT)
    return f"{float(lat[0]):.{DEGREE_PLACES}f}", f"{float(lon[0]):.{DEGREE_PLACES}f}"
