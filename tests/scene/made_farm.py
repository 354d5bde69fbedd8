"""A small invented farm with one of everything, for tests of drawing."""

import numpy as np
import pandas as pd
import shapely

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES

EAST, NORTH = 1_810_000.0, 5_480_000.0
SPECIES = (
    ("PRAD", "radiata pine", "Pinus radiata", "introduced"),
    ("SSEM", "redwood", "Sequoia sempervirens", "introduced"),
    ("PTOT", "totara", "Podocarpus totara", "native"),
    ("CAUS", "cabbage tree", "Cordyline australis", "native"),
    ("POPL", "poplar", "Populus deltoides × nigra", "introduced"),
    ("LSCO", "mānuka", "Leptospermum scoparium", "native"),
)


def made_farm(blocks: int = 12, trees: int = 1500, *, creek: bool = True, names: str = "Block") -> Farm:
    """A farm 1,200 m by 900 m with so many blocks in rows and so many trees."""
    farm = new_farm("Pipit Downs", "EPSG:2193")

    def table(kind, /, **values):
        rows = len(next(iter(values.values())))
        return shaped(TABLES[kind], values, np.arange(1, rows + 1), farm.grid)

    outline = shapely.Polygon(
        _at([(0, 0), (700, -60), (1250, 40), (1210, 500), (1240, 880), (500, 930), (-40, 860), (30, 400)])
    )
    tables = {"boundary": table("boundary", geometry=[outline], name=["Pipit Downs"])}
    tables["species"] = table(
        "species", **dict(zip(("code", "name", "scientific", "origin"), zip(*SPECIES, strict=True), strict=True))
    )
    shapes = _blocks(blocks)
    if blocks:
        tables["blocks"] = table(
            "blocks",
            geometry=shapes,
            name=[f"{names} {number}" for number in range(1, blocks + 1)],
            stage=["planned" if number % 6 == 5 else "existing" for number in range(blocks)],
        )
    if creek:
        tables |= _lines(table)
    if trees:
        tables |= _trees(table, shapes, trees)
    return farm.with_tables(**tables)


def _at(points):
    return [(EAST + x, NORTH + y) for x, y in points]


def _blocks(count):
    columns = max(int(np.ceil(np.sqrt(count * 1.4))), 1)
    rows = int(np.ceil(count / columns)) if count else 1
    wide, high = 1080 / columns, 360 / rows
    made = []
    for number in range(count):
        row, column = divmod(number, columns)
        x, y = 70 + column * wide, (40 + row * high) if row % 2 == 0 else (520 + (row - 1) * high)
        hump = 8 * np.sin(number)
        ring = _at(
            [
                (x, y),
                (x + wide * 0.5, y + hump - 6),
                (x + wide - 14, y + 4),
                (x + wide - 18, y + high - 14),
                (x + 6, y + high - 20 + hump),
            ]
        )
        hole = [
            _at(
                [(x + wide * 0.4, y + high * 0.4), (x + wide * 0.5, y + high * 0.4), (x + wide * 0.45, y + high * 0.55)]
            )
        ]
        made.append(shapely.Polygon(ring, hole if number == 3 else None))
    return made


def _lines(table):
    across = np.linspace(0, 1220, 60)
    sedge = shapely.LineString(_at(np.column_stack([across, 445 + 34 * np.sin(across / 95) + across * 0.02])))
    tributary = shapely.LineString(_at([(610, 905), (640, 780), (600, 640), (660, 540), (668, 482)]))
    fence = shapely.LineString(_at(np.column_stack([across[2:40], 475 + 34 * np.sin(across[2:40] / 95)])))
    return {
        "creeks": table(
            "creeks", geometry=[sedge, tributary], name=["Sedge Creek", "Rush Gully"], channel_m=[4.0, 1.5]
        ),
        "fences": table(
            "fences",
            geometry=[fence, shapely.LineString(_at([(700, 20), (820, 380), (1180, 420)]))],
            name=["", ""],
            stage=["existing", "planned"],
        ),
        "tracks": table(
            "tracks",
            geometry=[shapely.LineString(_at([(0, 60), (300, 390), (620, 400), (1200, 380)]))],
            name=["Ridge track"],
        ),
        "hazards": table(
            "hazards",
            geometry=[
                shapely.LineString(_at([(150, 880), (980, -10)])),
                shapely.box(EAST + 400, NORTH + 850, EAST + 425, NORTH + 866),
                shapely.Point(EAST + 1000, NORTH + 450),
            ],
            kind=["power line", "building", "other"],
            name=["Power line", "Woolshed", "Old well"],
            clear_m=[12.0, 0.0, 0.0],
        ),
        "notes": table("notes", geometry=[shapely.Point(EAST + 200, NORTH + 600)], heading=["Wet ground"]),
    }


def _trees(table, blocks, count):
    rng = np.random.default_rng(20)
    area = shapely.union_all(blocks) if blocks else shapely.box(EAST + 50, NORTH + 50, EAST + 1150, NORTH + 850)
    west, south, east, north = area.bounds
    x, y = rng.uniform(west, east, count * 3), rng.uniform(south, north, count * 3)
    inside = np.flatnonzero(shapely.contains_xy(area, x, y))[:count]
    x, y = x[inside], y[inside]
    rows = len(x)
    kinds = ((x - EAST) // 240).astype(int) % len(SPECIES)
    species = np.array([code for code, *_ in SPECIES])[kinds]
    status = np.where(np.arange(rows) % 31 == 7, "dead", "alive")
    stage = np.where(np.arange(rows) % 23 == 3, "planned", "existing")
    trees = table(
        "trees",
        x=x,
        y=y,
        tag=[str(number) for number in range(1, rows + 1)],
        species=species,
        planted=["2004"] * rows,
        status=status,
        stage=stage,
    )
    measured = np.flatnonzero((np.arange(rows) % 11 != 5) & (stage == "existing"))
    dbh = np.clip(
        rng.gamma(6.0, 5.0, len(measured)) * np.array([1.2, 1.6, 0.5, 0.4, 1.0, 0.35])[kinds[measured]], 1.5, 130
    )
    measurements = table(
        "measurements",
        tree=measured + 1,
        measured_on=pd.array(["2024-05-20"] * len(measured), dtype="datetime64[s]"),
        dbh_cm=dbh,
    )
    return {"trees": trees, "measurements": measurements}
