"""Farms that nobody drew with care, each as it may come out of an old file, and values that nobody should type."""

from __future__ import annotations

import datetime as dt

import numpy as np
import shapely

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from tests.editing.made_farms import area, at, line, put
from tests.place import EAST, NORTH

NUMBERS = (0, -1, 1e-12, 0.0004, 7.5, 1e18, -1e18, 1e308, float("nan"), float("inf"), -float("inf"), 2**63, 2**70)
"""Numbers that a slip of the finger or of a device may give."""

WORDS = (
    "",
    " ",
    "abc",
    "12",
    "1,5",
    "31.5 cm",
    "-",
    "1e9",
    "٣١",
    "½",
    "\x00",
    "\ud800",
    "9" * 5000,
    "tōtara 🌲",
    "'; --",
)
"""Texts as they may be typed or pasted."""

DAYS = ("2020-02-30", "2020", "20200501", "٢٠٢٠-٠٥-٠١", "0001-01-01", "9999-12-31", dt.date.max, np.datetime64("NaT"))
"""Days that are none, or hardly one."""

THINGS = (
    None,
    True,
    [],
    (1, 2),
    {},
    b"7",
    1j,
    object,
    np.array([1.0, 2.0]),
    np.datetime64("2020-05-01"),
    dt.date(2020, 5, 1),
)
"""What is neither a number nor a text."""

with np.errstate(invalid="ignore"):
    _without_place = shapely.LineString([(0, 0), (float("nan"), 1)])
    _without_height = shapely.LineString([(EAST, NORTH, 5), (EAST + 100, NORTH + 100, float("nan"))])

SHAPES = (
    None,
    "POLYGON ((0 0, 1 0, 1 1, 0 0))",
    shapely.Polygon(),
    shapely.Point(EAST + 50, NORTH + 50),
    shapely.LineString([(EAST, NORTH), (EAST, NORTH)]),
    line((-50, 50), (250, 50)),
    line((50, -50), (50, 50), (150, 50), (150, 150)),
    line((-50, 20), (250, 80), (-50, 80), (250, 20)),
    area((20, 20), (80, 80), (80, 20), (20, 80)),
    area((40, 40), (60, 40), (60, 60), (40, 60)),
    area((-500, -500), (500, -500), (500, 500), (-500, 500)),
    area((10, 10), (10.0001, 10), (10, 10.0001)),
    shapely.box(EAST, NORTH, EAST + 1e18, NORTH + 1e18),
    _without_place,
    _without_height,
    shapely.MultiPolygon([area((0, 0), (30, 0), (30, 30)), area((60, 60), (90, 60), (90, 90))]),
    shapely.MultiPolygon([area((0, 0), (30, 0), (30, 30)), area((10, 5), (90, 5), (90, 90))]),
    shapely.GeometryCollection([shapely.Point(EAST, NORTH), line((0, 0), (100, 100))]),
    shapely.LinearRing(at((0, 0), (100, 0), (100, 100))),
    shapely.MultiLineString([at((-10, 50), (110, 50)), at((-10, 70), (110, 70))]),
)
"""What may be handed over as drawn."""

TABLE_NAMES = (*TABLES, "farm", "Blocks", "", None, 3, ["blocks"])
"""Tables, and what is none."""

ROWS = (0, -1, 1, 2, 3, 7, 900_000, 2**63, 1.5, "1", "abc", None, float("nan"), float("inf"), [], [1, 2])
"""Ids, and what is none."""


def one_tree() -> Farm:
    """One tree, and nothing else."""
    return put(new_farm("One tree", "EPSG:2193"), trees={"tag": ["1"], "x": [EAST], "y": [NORTH]})


def parts_and_holes() -> Farm:
    """A block of two parts, one with a hole that another block fills, the other with an empty one; undated readings."""
    ground = new_farm("Parts and holes", "EPSG:2193")
    whole = shapely.MultiPolygon(
        [
            shapely.Polygon(at((0, 0), (100, 0), (100, 100), (0, 100)), [at((40, 40), (60, 40), (60, 60), (40, 60))]),
            shapely.Polygon(at((120, 0), (200, 0), (200, 100), (120, 100)), [at((150, 40), (160, 40), (160, 50))]),
        ]
    )
    return put(
        ground,
        blocks={
            "name": ["Whole", "Whole", 'Ōtū \'n "Co" 🌲'],
            "geometry": [
                whole,
                area((40, 40), (60, 40), (60, 60), (40, 60)),
                area((100, 0), (120, 0), (120, 100), (100, 100)),
            ],
        },
        trees={
            "tag": ["7", "7", "", "A-07b", "9" * 400],
            "species": ["TOTA", "", "gone", "TOTA", "TOTA"],
            "planted": ["", "2004", "2004-07", "9999", ""],
            "x": EAST + np.array([5.0, 5.0, 50, 130, 500]),
            "y": NORTH + np.array([5.0, 5.0, 50, 30, 500]),
        },
        species={"code": ["TOTA", "tota"], "name": ["tōtara", ""]},
        measurements={
            "tree": [1, 1, 1, 77],
            "measured_on": np.array(["NaT", "2020-05-01", "2020-05-01", "2020-05-01"], "datetime64[s]"),
            "dbh_cm": [10.0, np.nan, 11.0, 5.0],
        },
    )


def touching() -> Farm:
    """Two blocks that touch in a point, a planned one over both, gaps in the ids, and a creek that crosses itself."""
    farm = put(
        new_farm("Touching", "EPSG:2193"),
        creeks={"name": ["Loop"], "geometry": [line((-10, -10), (90, 110), (90, -10), (-10, 110))]},
        tracks={"name": [""], "geometry": [line((0, 50), (200, 50))]},
        notes={"heading": ["\u202e odd"], "geometry": [shapely.MultiPoint(at((5, 5), (6, 6)))]},
        hazards={"name": [""], "kind": ["power line"], "geometry": [line((150, -60), (150, 120))]},
    )
    rows = {
        "name": ["South", "North", "Planned"],
        "stage": ["existing", "existing", "planned"],
        "geometry": [
            area((0, 0), (100, 0), (100, 100), (0, 100)),
            area((100, 100), (200, 100), (200, 200), (100, 200)),
            area((50, 50), (150, 50), (150, 150), (50, 150)),
        ],
    }
    return farm.with_tables(blocks=shaped(TABLES["blocks"], rows, np.array([3, 7, 900_000]), farm.grid))


def from_a_post() -> Farm:
    """Coordinates measured from a corner post; blocks of 1 m²."""
    return put(
        new_farm("From a post", "EPSG:2193"),
        blocks={"name": ["A", "B"], "geometry": [shapely.box(0, 0, 1, 1), shapely.box(1, 0, 2, 1)]},
        trees={"tag": ["1", "2"], "x": [0.5, 1.5], "y": [0.5, 0.5]},
    )


def in_degrees() -> Farm:
    """Longitudes and latitudes that somebody took for metres."""
    return put(
        new_farm("In degrees", "EPSG:2193"),
        blocks={"name": ["A"], "geometry": [shapely.box(174.7, -41.3, 174.702, -41.298)]},
        trees={"tag": ["1"], "x": [174.701], "y": [-41.299]},
    )


def vast() -> Farm:
    """Two blocks of 10,000 ha each, and one of 1 m² in their corner."""
    return put(
        new_farm("Vast", "EPSG:32760"),
        blocks={
            "name": ["West", "East", "Crumb"],
            "geometry": [
                shapely.box(400_000, 5_400_000, 410_000, 5_410_000),
                shapely.box(410_000, 5_400_000, 420_000, 5_410_000),
                shapely.box(420_000, 5_400_000, 420_001, 5_400_001),
            ],
        },
    )


def unsound() -> Farm:
    """A block that crosses itself, one without a shape, and two that lie over each other."""
    return put(
        new_farm("Unsound", "EPSG:2193"),
        blocks={
            "name": ["Bow", "None", "Over", "Under"],
            "geometry": [
                area((0, 0), (100, 100), (100, 0), (0, 100)),
                None,
                area((200, 0), (300, 0), (300, 100), (200, 100)),
                area((250, 0), (350, 0), (350, 100), (250, 100)),
            ],
        },
    )


FARMS = {
    "empty": lambda: new_farm("Empty", "EPSG:2193"),
    "one tree": one_tree,
    "parts and holes": parts_and_holes,
    "touching": touching,
    "from a post": from_a_post,
    "in degrees": in_degrees,
    "vast": vast,
    "unsound": unsound,
}
"""Farms by what is odd about them."""
