"""A planting handed on: pegging list as GPX, GeoJSON, CSV and GeoPackage, and the order as CSV.

A file is made beside its place and put there once it is whole.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.figures.areas import polygons_only
from farmmap.figures.banks import SIDES
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
    track,
    xml_text,
)
from farmmap.plans.planting.fences.crossings import bank_of_fence, bank_words
from farmmap.plans.planting.keeping.handed_geopackage import must_be_handed_on, write_geopackage
from farmmap.plans.planting.keeping.pegging import pegging
from farmmap.plans.planting.outcome.order import bought, order_lines, price_of
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.kinds import plant_kinds

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm

Floats = NDArray[np.float64]

METRE_PLACES = 3

PEGGING_COLUMNS = ("number", "bank", "zone", "row", "species", "name", "stock", "x", "y", "lat", "lon")
ORDER_COLUMNS = (
    "zone",
    "species",
    "name",
    "stock",
    "plants",
    "lost_percent",
    "to_order",
    "pack",
    "packs",
    "price",
)


def write_pegging(plan: PlantingPlan, farm: Farm, path: str | Path) -> None:
    """Write a planting for those who peg it out, plant and fence it.

    Parameters
    ----------
    plan : PlantingPlan
        The planting.
    farm : Farm
        The farm it lies on.
    path : str or Path
        Ends in ``.gpx`` (for a GPS: plants as points, the fence as tracks), ``.geojson`` (RFC 7946), ``.csv`` (the
        plants only) or ``.gpkg`` (layers plants, zones, fence and gates on the farm's grid).

    Raises
    ------
    BadInput
        It has another ending, there are no longitudes and latitudes for what needs them, the file is there and holds
        something else (a farm), or it cannot be written. What was there is as it was.
    """
    path = Path(path)
    writers: dict[str, Callable[[PlantingPlan, Farm, Path], None]] = {
        ".gpx": _write_gpx,
        ".geojson": _write_geojson,
        ".csv": _write_csv,
        ".gpkg": write_geopackage,
    }
    writer = writers.get(path.suffix.casefold())
    if writer is None:
        raise BadInput(f"{path.name}: end its name in .gpx, .geojson, .csv or .gpkg, so that it is known what to write")
    if path.suffix.casefold() in {".gpx", ".geojson"}:
        refuse_local(path.name, farm.grid, "a .csv or a .gpkg")
    _put(path, lambda part: writer(plan, farm, part))


def write_order(plan: PlantingPlan, path: str | Path, farm: Farm | None = None) -> None:
    """Write what is to be ordered as CSV, a row for each zone, species and stock.

    ``packs`` are parts of packs; those of a species and stock add up to whole
    ones over the zones. A farm gives names for the species of its own list.

    Raises
    ------
    BadInput
        It cannot be written there, or losses or packs cannot be.
    """
    kinds = plant_kinds(farm, plan.recipe)
    lines = order_lines(plan)
    packed = {(one.species.casefold(), one.stock): one for one in bought(plan.recipe, lines)}
    rows: list[list[object]] = []
    for line in lines:
        kind, one = kinds.find(line.species), packed[line.species.casefold(), line.stock]
        code, name = (line.species, "") if kind is None else (kind.code, kind.name)
        price = price_of(plan.recipe, line.species, line.stock) or 0.0
        packs = round(line.to_order / one.pack, 4)
        said = [code, name, line.stock, line.plants, f"{one.lost_percent:g}", line.to_order, one.pack, f"{packs:g}"]
        rows.append([line.zone_name, *said, f"{price:g}"])
    _put(Path(path), lambda part: _write_rows(part, ORDER_COLUMNS, rows))


def _put(path: Path, write: Callable[[Path], None]) -> None:
    path = path.resolve()
    if path.is_dir():
        raise BadInput(f"{path} is a folder; name a file in it")
    try:
        if path.exists() and path.stat().st_size:
            with path.open("rb") as file:
                database = file.read(15) == b"SQLite format 3"
            if database or path.suffix.casefold() == ".gpkg":
                must_be_handed_on(path)
        with part_file(path) as part:
            write(part)
            put_in_place(part, path)
    except OSError as error:
        raise BadInput(f"{path} cannot be written: {error.strerror}. Choose a folder that may be written to") from error


def _write_rows(
    part: Path, heads: Sequence[str], rows: Sequence[Sequence[object]] | Iterator[tuple[object, ...]]
) -> None:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows(rows)
    part.write_text(out.getvalue(), encoding="utf-8-sig", newline="")


def _write_csv(plan: PlantingPlan, farm: Farm, part: Path) -> None:
    pegs = pegging(plan, farm)
    lots = pegs.lots

    def column(name: str) -> list[str]:
        words = [str(getattr(lot, name)) for lot in lots]
        return [words[lot] for lot in pegs.lot.tolist()]

    rows = zip(
        range(1, len(pegs) + 1),
        column("bank"),
        column("zone"),
        [row or "" for row in pegs.row.tolist()],
        column("code"),
        column("name"),
        column("stock"),
        decimals(pegs.x, METRE_PLACES),
        decimals(pegs.y, METRE_PLACES),
        decimals(pegs.lat, DEGREE_PLACES),
        decimals(pegs.lon, DEGREE_PLACES),
        strict=True,
    )
    _write_rows(part, PEGGING_COLUMNS, rows)


def _known(lon: Floats) -> None:
    refuse_unplaced(lon, "some of the planting lies")


def _write_gpx(plan: PlantingPlan, farm: Farm, part: Path) -> None:
    """Write plants, gates and the like as points, the fence as tracks."""
    pegs = pegging(plan, farm)
    _known(pegs.lon)
    codes = [xml_text(lot.code) for lot in pegs.lots]
    ends = [point_end("plant", _described(lot.bank, lot.zone, lot.name, lot.stock)) for lot in pegs.lots]
    heads = [f"{row}/" if row else "" for row in range(int(pegs.row.max()) + 1)] if len(pegs) else []
    lots = pegs.lot.tolist()
    names = (
        f"{heads[row]}{number} {codes[lot]}"
        for number, (row, lot) in enumerate(zip(pegs.row.tolist(), lots, strict=True), start=1)
    )
    parts = points(pegs.lon, pegs.lat, names, (ends[lot] for lot in lots))
    for word, name, places in _marks(plan):
        lon, lat = lon_lat(farm.grid, places[:, 0], places[:, 1])
        _known(lon)
        parts += points(lon, lat, (f"{name} {at}" for at in range(1, len(lon) + 1)), [point_end(word)] * len(lon))
    for at, fence in enumerate(plan.fences, start=1):
        corners = shapely.get_coordinates(fence.line)
        lon, lat = lon_lat(farm.grid, corners[:, 0], corners[:, 1])
        _known(lon)
        name = f"Fence {at}, {bank_words(bank_of_fence(plan, fence))}"
        parts.append(track(lon, lat, name, "fence", f"{fence.length_m:.0f} m"))
    part.write_text(gpx(plan.name, parts), encoding="utf-8", newline="")


def _described(bank: str, zone: str, name: str, stock: str) -> str:
    return ", ".join(word for word in (bank_words(bank), zone, name, stock) if word)


def _marks(plan: PlantingPlan) -> list[tuple[str, str, Floats]]:
    """Gates, floodgates and troughs: a word for machines, one for people, and their places."""
    kinds = (("gate", "Gate", "gates"), ("floodgate", "Floodgate", "floodgates"), ("trough", "Trough", "troughs"))
    found: list[tuple[str, str, Floats]] = []
    for word, name, attribute in kinds:
        places = [np.asarray(getattr(fence, attribute), np.float64).reshape(-1, 2) for fence in plan.fences]
        found.append((word, name, np.vstack([np.zeros((0, 2)), *places])))
    return found


def _write_geojson(plan: PlantingPlan, farm: Farm, part: Path) -> None:
    """Write a FeatureCollection (RFC 7946): zones, fences, gates and the like, and plants."""
    pegs = pegging(plan, farm)
    _known(pegs.lon)
    features: list[str] = []

    def add(shape: shapely.Geometry, properties: dict[str, object]) -> None:
        geometry = _on_earth(shape, farm)
        if geometry is not None:
            features.append(_json({"type": "Feature", "properties": properties, "geometry": geometry}))

    for strip in plan.strips:
        zone = plan.recipe.zones[strip.zone]
        properties = {"kind": "zone", "name": zone.name, "bank": SIDES[strip.side], "reason": zone.reason}
        add(strip.outline, properties | {"area_m2": round(strip.area_m2, 1), "planted_m2": round(strip.clear_m2, 1)})
    for at, fence in enumerate(plan.fences, start=1):
        add(
            fence.line,
            {
                "kind": "fence",
                "number": at,
                "bank": bank_of_fence(plan, fence),
                "length_m": round(fence.length_m, 2),
                "strainers": len(fence.angles_deg) - int(fence.line.is_closed),
                "posts": fence.posts,
                "wire_m": round(fence.wire_m, 1),
            },
        )
    for word, _, places in _marks(plan):
        for at, place in enumerate(places, start=1):
            add(shapely.Point(place), {"kind": word, "number": at})
    ends = [
        _json({"bank": lot.bank, "zone": lot.zone, "species": lot.code, "name": lot.name, "stock": lot.stock})[1:]
        for lot in pegs.lots
    ]
    rows = [f'"row":{row},' if row else "" for row in range(int(pegs.row.max()) + 1)] if len(pegs) else []
    features += [
        f'{{"type":"Feature","geometry":{{"type":"Point","coordinates":[{lon:.8f},{lat:.8f}]}},'
        f'"properties":{{"kind":"plant","number":{number},{rows[row]}{ends[lot]}}}'
        for number, (lon, lat, row, lot) in enumerate(
            zip(pegs.lon.tolist(), pegs.lat.tolist(), pegs.row.tolist(), pegs.lot.tolist(), strict=True), start=1
        )
    ]
    whole = ",\n".join(features)
    part.write_text(f'{{"type":"FeatureCollection","features":[\n{whole}\n]}}\n', encoding="utf-8", newline="")


def _on_earth(shape: shapely.Geometry, farm: Farm) -> dict[str, object] | None:
    """GeoJSON geometry of a shape, outer rings turning left, sound even when rounded; None if nothing is left."""

    def placed(corners: Floats) -> Floats:
        lon, lat = lon_lat(farm.grid, corners[:, 0], corners[:, 1])
        _known(lon)
        return np.column_stack([lon, lat])

    flat = shapely.transform(shapely.force_2d(shape), placed)
    turned = shapely.orient_polygons(_rounded(flat))
    if not shapely.is_valid(turned):  # edges that all but touch may cross once rounded
        sound = polygons_only(shapely.make_valid(flat))
        turned = shapely.orient_polygons(_rounded(polygons_only(shapely.set_precision(sound, 10.0**-DEGREE_PLACES))))
    if turned.is_empty:
        return None
    geometry: dict[str, object] = json.loads(shapely.to_geojson(turned))
    return geometry


def _rounded(shape: shapely.Geometry) -> shapely.Geometry:
    return shapely.transform(shape, lambda corners: np.round(corners, DEGREE_PLACES))


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
