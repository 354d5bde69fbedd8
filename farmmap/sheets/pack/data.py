"""What of a pack is handed on as data: layers of the farm and its plans, and every table of the pack."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from decimal import Decimal

import numpy as np
import pandas as pd
import shapely

from farmmap.farm.columns import Geometry, Kind
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.farm.schema import TABLES
from farmmap.figures.areas import polygons_only
from farmmap.figures.banks import SIDES
from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.margins import margins
from farmmap.figures.trees import tree_figures
from farmmap.files.data_folder import DataLayer, DataTable, Field, FolderOfData
from farmmap.plans.planting.fences.crossings import bank_of_fence
from farmmap.plans.planting.keeping.pegging import pegging
from farmmap.plans.planting.outcome.order import strainers_of
from farmmap.scene.page_plan import zone_letter
from farmmap.sheets.pack.context import PackContext, PlanOfPack
from farmmap.sheets.pack.farm_tables import MARGIN_FIGURES
from farmmap.sheets.pack.pack_table import PackTable
from farmmap.sheets.page_words import CHECK_FIRST, NOT_A_SURVEY

FARM_LAYERS = ("boundary", "blocks", "creeks", "fences", "tracks", "hazards", "photo_points", "notes")
_SQL = {Kind.TEXT: "TEXT", Kind.WHOLE: "INTEGER", Kind.NUMBER: "DOUBLE", Kind.DAY: "TEXT", Kind.WHEN: "TEXT"}
_SHAPES = {Geometry.POINT: "POINT", Geometry.LINE: "GEOMETRY", Geometry.POLYGON: "GEOMETRY", Geometry.ANY: "GEOMETRY"}


def data_of(pack: PackContext, tables: Sequence[PackTable]) -> FolderOfData:
    """Gather what is handed on.

    Parameters
    ----------
    pack : PackContext
        What the pack draws from.
    tables : sequence of PackTable
        Every table in the pack.
    """
    farm = pack.farm
    layers = [*_of_farm(farm), *_trees(farm, pack.day), *_margins(pack)]
    for place, one in enumerate(pack.plans, 1):
        layers += _of_plan(one, f"_{place}" if len(pack.plans) > 1 else "")
    about = (
        f"Data of {farm.settings.name} for {pack.options.pack}, figures of {in_words(pack.day)}.",
        f"Written {in_words(pack.printed)}.",
        f"Coordinates: {farm.grid.name} ({farm.grid.label}), metres.",
        "CSV files are in UTF-8, columns parted by commas; names of columns end in their unit; empty: not known.",
        "Rows of different files belong together by their names: of block, zone, species, fence or photo point.",
        f"{NOT_A_SURVEY} {CHECK_FIRST}",
    )
    return FolderOfData(about, farm.grid.epsg, farm.grid.local, tuple(layers), tuple(_tables(tables)))


def _tables(tables: Sequence[PackTable]) -> Iterator[DataTable]:
    """Yield every table once; those of one name that differ are numbered."""
    seen: dict[str, list[tuple[tuple[object, ...], ...]]] = {}
    for table in tables:
        earlier = seen.setdefault(table.key, [])
        if not table.rows or table.rows in earlier:
            continue
        earlier.append(table.rows)
        name = table.key if len(earlier) == 1 else f"{table.key}_{len(earlier)}"
        fields = tuple(Field(column.key, "TEXT", column.about) for column in table.columns)
        rows = [[float(value) if isinstance(value, Decimal) else value for value in row] for row in table.rows]
        yield DataTable(name, table.title or table.columns[0].head[0] or table.key, fields, rows)


def _of_farm(farm: Farm) -> Iterator[DataLayer]:
    for name in FARM_LAYERS:
        table, frame = TABLES[name], farm.tables[name]
        if frame.empty or table.geometry is None:
            continue
        columns = [column for column in table.columns if not column.by_program]
        fields = tuple(Field(column.name, _SQL[column.kind], column.words) for column in columns)
        rows = list(zip(*(_plain(frame[column.name]) for column in columns), strict=True))
        shapes = frame["geometry"].to_numpy() if "geometry" in frame else shapely.points(frame["x"], frame["y"])
        yield DataLayer(name, table.words, _SHAPES[table.geometry], fields, rows, shapes)


def _plain(column: pd.Series) -> list[object]:
    if column.dtype.kind == "M":
        return [None if pd.isna(day) else day.date().isoformat() for day in column]
    return [None if isinstance(value, float) and np.isnan(value) else value for value in column.tolist()]


def _trees(farm: Farm, day: dt.date) -> Iterator[DataLayer]:
    """Yield the trees that stand, with their figures."""
    figures = tree_figures(farm, day)
    if not len(figures.rows):
        return
    names = [name for name in figures.columns if name not in {"x", "y"}]
    fields = tuple(
        Field(name, "TEXT" if CATALOGUE[name].places is None else "DOUBLE", CATALOGUE[name].title) for name in names
    )
    rows = list(zip(*(figures.column(name) for name in names), strict=True))
    shapes = shapely.points(np.array(figures.column("x"), float), np.array(figures.column("y"), float))
    yield DataLayer("trees", f"Living trees on {in_words(day)}", "POINT", fields, rows, shapes)


def _margins(pack: PackContext) -> Iterator[DataLayer]:
    found = margins(pack.farm)
    if not found or not pack.margins.rows:
        return
    fields = tuple(
        Field(name, "TEXT" if CATALOGUE[name].places is None else "DOUBLE", CATALOGUE[name].title)
        for name in MARGIN_FIGURES
    )
    rows = list(zip(*(pack.margins.column(name) for name in MARGIN_FIGURES), strict=True))
    shapes = _array([found[place].polygon for place in pack.margins.ids])
    yield DataLayer("margins", f"Creek margins on {in_words(pack.day)}", "GEOMETRY", fields, rows, shapes)


def _of_plan(one: PlanOfPack, ending: str) -> Iterator[DataLayer]:
    """Yield plants, zones and fences of a plan."""
    plan = one.plan
    pegs = pegging(plan, one.farm)
    if len(pegs):
        lots = [(lot.bank, lot.zone, lot.code, lot.name, lot.stock) for lot in pegs.lots]
        places = enumerate(zip(pegs.row.tolist(), pegs.lot.tolist(), strict=True), 1)
        plants = [(place, row or None, *lots[lot]) for place, (row, lot) in places]
        shapes = shapely.points(pegs.x, pegs.y)
        yield DataLayer(f"planned_plants{ending}", f"Plants of {plan.name}", "POINT", PLANT_FIELDS, plants, shapes)
    strips = [strip for strip in plan.strips if not strip.outline.is_empty]
    if strips:
        named = [(zone_letter(strip.zone), plan.recipe.zones[strip.zone], strip) for strip in strips]
        zones = [(at, zone.name, SIDES[s.side], zone.reason, s.area_m2, s.clear_m2) for at, zone, s in named]
        shapes = _array([shapely.multipolygons(shapely.get_parts(polygons_only(s.outline))) for s in strips])
        yield DataLayer(f"planned_zones{ending}", f"Zones of {plan.name}", "MULTIPOLYGON", ZONE_FIELDS, zones, shapes)
    if plan.fences:
        fences = [
            (f"F{place}", bank_of_fence(plan, fence), fence.length_m, strainers_of(fence), fence.posts, fence.battens,
             fence.wire_m, fence.flooded_m)
            for place, fence in enumerate(plan.fences, 1)
        ]  # fmt: skip
        shapes = _array([fence.line for fence in plan.fences])
        yield DataLayer(f"planned_fences{ending}", f"Fences of {plan.name}", "LINESTRING", FENCE_FIELDS, fences, shapes)


PLANT_FIELDS = (
    Field("number", "INTEGER", "in walking order"),
    Field("row", "INTEGER", "row within zone and bank"),
    Field("bank", "TEXT", "looking downstream"),
    Field("zone", "TEXT", "name of the zone"),
    Field("species", "TEXT", "code"),
    Field("name", "TEXT", "what it is called"),
    Field("stock", "TEXT", "kind of stock"),
)
ZONE_FIELDS = (
    Field("zone", "TEXT", "its letter on the map"),
    Field("name", "TEXT", "name of the zone"),
    Field("bank", "TEXT", "looking downstream"),
    Field("reason", "TEXT", "why it is there"),
    Field("area_m2", "DOUBLE", "all of its ground"),
    Field("planted_m2", "DOUBLE", "its ground without the set-backs"),
)
FENCE_FIELDS = (
    Field("fence", "TEXT", "its number"),
    Field("bank", "TEXT", "that it serves"),
    Field("length_m", "DOUBLE", "gates included"),
    Field("strainers", "INTEGER", "strainer posts"),
    Field("posts", "INTEGER", "between the strainers"),
    Field("battens", "INTEGER", "between posts"),
    Field("wire_m", "DOUBLE", "all wires together"),
    Field("in_flood_m", "DOUBLE", "length a flood may reach"),
)


def _array(shapes: Sequence[shapely.Geometry]) -> np.ndarray:
    out = np.empty(len(shapes), object)
    out[:] = list(shapes)
    return out
