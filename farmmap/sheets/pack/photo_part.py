"""The part with the photo points: where they stand, and what was taken from them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.files.photos import Photo, photos_of
from farmmap.scene.page_flow import Flowing
from farmmap.scene.page_flow_map import Pictures, Shot
from farmmap.scene.page_flow_text import Heading, Paragraph
from farmmap.sheets.pack.context import PackContext
from farmmap.sheets.pack.pack_table import DASH, Column, PackTable, whole

HOW = (
    "Photographs are taken again from the same places every year, in the same season and with the same zoom, with the "
    "sun behind the camera; the last one is carried along to frame the next by."
)
NONE_YET = "No photo points yet: choose places that show the work, mark each with a post, and write them down here."
BLANK_ROWS = 6


def photos_intro(pack: PackContext) -> str:
    """Say how photographs are taken, and that there are no points where there are none."""
    return HOW if len(pack.farm.tables["photo_points"]) else f"{NONE_YET}\n\n{HOW}"


def photos(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Photo points as a table, and photographs with their captions."""
    points = point_table(pack.farm)
    yield points or _blank(points)
    shots: list[Photo] = [one for one in photos_of(pack.farm, pack.options.folder) if one.file is not None]
    if shots:
        yield Heading("Photographs", 2, needs_mm=70.0)
        yield Pictures(tuple(_shot(one, pack.farm) for one in shots))
    missing = [one for one in photos_of(pack.farm, pack.options.folder) if one.file is None]
    if missing:
        yield Paragraph("Not shown: " + " ".join(f"{one.trouble.rstrip('.')}." for one in missing), note=True)


def point_table(farm: Farm) -> PackTable:
    """Return the photo points: where they are, and which way the camera looks."""
    rows = farm.tables["photo_points"]
    x, y = rows["x"].tolist(), rows["y"].tolist()
    counts = farm.tables["photos"]["photo_point"].value_counts()
    values, cells = [], []
    for at, row in enumerate(rows.itertuples()):
        bearing, high = float(row.bearing_deg), float(row.height_m)
        taken = int(counts.get(row.Index, 0))
        values.append((row.name, x[at], y[at], _known(bearing), _known(high), taken, row.note))
        cells.append(
            (str(row.name), whole(x[at]), whole(y[at]), DASH if np.isnan(bearing) else f"{bearing:.0f}",
             DASH if np.isnan(high) else f"{high:.1f}", str(taken), str(row.note))
        )  # fmt: skip
    columns = (
        Column("name", ("Photo point",), words=True, about="Its name."),
        Column("easting_m", ("E", "m"), about="On the farm's grid."),
        Column("northing_m", ("N", "m"), about="On the farm's grid."),
        Column("bearing_deg", ("Looks", "°"), about="Which way the camera looks, from grid north."),
        Column("height_m", ("Height", "m"), about="Of the camera above the ground."),
        Column("photos", ("Photos",), about="Photographs kept from it."),
        Column("note", ("Note",), words=True, about="What was written beside it."),
    )
    return PackTable("photo_points", "Photo points", columns, tuple(values), tuple(cells))


def _blank(table: PackTable) -> PackTable:
    cells = tuple((str(number), *[""] * (len(table.columns) - 1)) for number in range(1, BLANK_ROWS + 1))
    return PackTable("photo_points", table.title, table.columns, (), cells, written_on=True)


def _shot(one: Photo, farm: Farm) -> Shot:
    assert one.file is not None
    points = farm.tables["photo_points"]["name"]
    name = f"Photo point {points[one.point]}" if one.point in points.index else ""
    day = in_words(one.taken_on) if one.taken_on else "day not known"
    caption = ", ".join(part for part in (name, day) if part)
    return Shot(str(one.path), one.file.width, one.file.height, f"{caption}. {one.caption}".strip())


def _known(value: float) -> float | None:
    return None if np.isnan(value) else value
