"""Headings of other people's tables: which of our columns one stands for, and in which unit."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache

from farmmap.farm.schema import TABLES, Column, Geometry, Kind
from farmmap.farm.species import plain

FOOT_M = 0.3048
"""International foot. [m]"""
INCH_CM = 2.54

IN_METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": FOOT_M, "in": INCH_CM / 100}
"""Length of each unit. [m]"""
UNIT_WORDS = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters", "mtr"), "m"),
    **dict.fromkeys(("cm", "cms", "centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("ft", "feet", "foot"), "ft"),
    **dict.fromkeys(("in", "inch", "inches", "ins"), "in"),
}
"""Units of length as people write them, to the five that are known."""
_GIRTH_HEADS = (
    "girth",
    "gbh",
    "cbh",
    "circumference",
    "circ",
    "circumference at breast height",
    "girth at breast height",
)
_X = "x, easting, eastings, east, e, x coord, xcoord, coord x, x coordinate, point x, gx, px, x local, local x"
_Y = "y, northing, northings, north, n, y coord, ycoord, coord y, y coordinate, point y, gy, py, y local, local y"
_PLACES: dict[str, tuple[str, ...]] = {
    "x": tuple(_X.split(", ")),
    "y": tuple(_Y.split(", ")),
    "lon": ("lon", "long", "longitude", "lng", "x lon", "gps lon", "gps longitude"),
    "lat": ("lat", "latitude", "y lat", "gps lat", "gps latitude"),
}
_MORE_HEADS = {
    "dbh_cm": ("diameter at breast height", "breast height diameter", "diameter bh", "stem diameter"),
    "height_m": ("tree height", "hgt", "tot ht", "total ht"),
    "crown_m": ("crown diam", "canopy diameter", "canopy width", "crown spread"),
    "species": ("species name", "tree species", "latin name", "botanical name", "scientific", "specie"),
    "tag": (
        "tree no",
        "tree number",
        "tree tag",
        "tree num",
        "tag number",
        "tag num",
        "stem id",
        "stemid",
        "nr",
        "num",
    ),
    "measured_on": ("date measured", "measure date", "measurement date", "exam date", "time", "measured at"),
    "name": ("id",),
    "note": ("description", "cmt"),
    "radius_m": ("plot radius",),
    "baf_m2": ("baf", "basal area factor", "factor"),
}


@dataclass(frozen=True)
class Target:
    """A column of ours, as a heading may ask for it.

    Attributes
    ----------
    ours : str
        Column of the schema, or ``x``, ``y``, ``lon``, ``lat``.
    unit : str
        Unit that the heading names, "" if none.
    girth : bool
        The heading says girth, so the diameter is the number over π.
    """

    ours: str
    unit: str = ""
    girth: bool = False

    @property
    def factor(self) -> float:
        """What the number is to be multiplied by."""
        factor = 1.0
        if self.unit:
            own = "cm" if self.ours == "dbh_cm" else "m"
            factor = IN_METRES[self.unit] / IN_METRES[own]
        return factor / math.pi if self.girth else factor

    @property
    def written_in(self) -> str:
        """Unit in which theirs is written: the one that the heading names, else ours; only lengths have one."""
        return self.unit or ("cm" if self.ours == "dbh_cm" else "m")

    @property
    def words(self) -> str:
        """How the number is turned into ours, "" if it is as it stands."""
        own = "cm" if self.ours == "dbh_cm" else "m"
        what = f"girth in {self.written_in}, divided by pi" if self.girth else ""
        if not what and self.unit and self.unit != own:
            what = f"from {self.unit} to {own}"
        return what


def split_head(head: str) -> tuple[str, str]:
    """Return a heading as it is compared, and the unit that it names: ``DBH (cm)`` is ``dbh``, ``cm``."""
    words = plain(re.sub(r"(?<=[a-z])(?=[A-Z])", " ", head)).split()
    if len(words) > 1 and words[-1] in UNIT_WORDS:
        return " ".join(words[:-1]), UNIT_WORDS[words[-1]]
    return " ".join(words), ""


def target_of(text: str, table: str) -> Target | None:
    """Return what one of our own names means, in any unit (``dbh_mm``, ``girth_in``, ``x_ft``); None if nothing."""
    name = "_".join(plain(text).split())
    columns = columns_of(table)
    if name in columns or name in _PLACES:
        return Target(name)
    base, unit = split_head(text)
    if base == "girth" and "dbh_cm" in columns:
        return Target("dbh_cm", unit, girth=True)
    for ours in [*columns, *_PLACES]:
        bare = ours.rpartition("_")[0] if ours.endswith(("_m", "_cm")) else ours
        if base == bare.replace("_", " ") and (not unit or ours.endswith(("_m", "_cm")) or ours in {"x", "y"}):
            return Target(ours, unit)
    return None


def candidates(head: str, table: str) -> list[tuple[int, Target]]:
    """Return what a heading may stand for, each with a rank; the lower, the surer."""
    whole = plain(head)
    base, unit = split_head(head)
    found: list[tuple[int, Target]] = []
    for name, rank in _dictionary(table).get(whole, ()):
        found.append((rank, Target(name)))
    for name, rank in _dictionary(table).get(base, ()):
        if takes_unit(name, table) or not unit:
            found.append((rank, Target(name, unit)))
    if "dbh_cm" in columns_of(table) and base in _GIRTH_HEADS:
        found.append((500, Target("dbh_cm", unit, girth=True)))
    return sorted(found, key=lambda pair: pair[0])


def takes_unit(name: str, table: str) -> bool:
    """Whether a column of ours is a length."""
    column = columns_of(table).get(name)
    return name in {"x", "y"} or (column is not None and column.unit in {"m", "cm"})


@cache
def columns_of(table: str) -> dict[str, Column]:
    """Return the columns that a source may fill: trees bring their measurement along, measurements go by tag.

    Plots come without a day: one with a day but no counts would say that no tree stood in it.
    """
    own = {column.name: column for column in TABLES[table].columns}
    measured = {c.name: c for c in TABLES["measurements"].columns if c.name not in {"tree", "note"}}
    if table == "trees":
        return {**own, **measured}
    if table == "measurements":
        return {"tag": TABLES["trees"].column("tag"), **measured, "note": own["note"]}
    if table == "plots":
        own.pop("measured_on")
    return own


def takes_places(table: str) -> bool:
    """Whether x and y, or longitude and latitude, mean something to a table."""
    return TABLES[table].geometry is not None or table == "measurements"


@cache
def _dictionary(table: str) -> dict[str, list[tuple[str, int]]]:
    """Return, for each heading as it is compared, which of our columns it may mean and how sure that is."""
    out: dict[str, list[tuple[str, int]]] = {}
    for order, column in enumerate(columns_of(table).values()):
        bare = column.name.rpartition("_")[0] if column.unit in {"m", "cm"} else column.name
        heads = [column.name, bare, *column.also, *_MORE_HEADS.get(column.name, ())]
        for rank, head in enumerate(dict.fromkeys(plain(head) for head in heads)):
            out.setdefault(head, []).append((column.name, rank * 20 + order))
    if takes_places(table):
        for name, places in _PLACES.items():
            for rank, head in enumerate(places):
                out.setdefault(head, []).append((name, rank))
    return out


def unit_of(target: Target, table: str) -> str:
    """Return the unit in which theirs is written, "" if it is no length."""
    return target.written_in if takes_unit(target.ours, table) else ""


def is_number(name: str, table: str) -> bool:
    """Whether a column of ours holds numbers."""
    column = columns_of(table).get(name)
    return name in _PLACES or (column is not None and column.kind in {Kind.NUMBER, Kind.WHOLE})


def is_heading(text: str) -> bool:
    """Whether text names a column of any table."""
    return any(candidates(text, table) for table in TABLES)


def is_line_or_outline(table: str) -> bool:
    """Whether rows of a table are lines or outlines, which single points can be joined to."""
    return TABLES[table].geometry in {Geometry.LINE, Geometry.POLYGON}
