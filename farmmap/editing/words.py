"""How things, places, days and amounts are written in the names of edits and in what is said about them."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import shapely
from numpy.typing import ArrayLike

from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.farm.grids import Grid
from farmmap.farm.schema import TABLES, Table
from farmmap.figures.areas import M2_PER_HA, areas_m2

NAMED_BY = {"trees": "tag", "notes": "heading", "species": "code"}
"""Column by which rows of a table are known; ``name`` for all others."""

LONGEST_QUOTED = 40
"""More letters of what was written than this are not said back."""

FARTHEST_M = 1e8
"""No place on any grid lies farther from its zero than this. [m]"""

_UNITS = ("_m", "_per_cm", "_cm", "_on", "_percent", "_deg")
_LABELS = {
    "status_on": "day of status",
    "channel_m": "channel width",
    "clear_m": "clearance",
    "dbh_cm": "diameter",
    "crown_m": "crown diameter",
    "pruned_m": "pruned height",
    "dos_cm": "diameter over stubs",
    "width_m": "width",
    "measured_on": "day of measurement",
    "written_on": "day",
    "taken_on": "day",
    "breast_height_m": "breast height",
}


def table_of(name: object) -> Table:
    """Return the description of a table.

    Raises
    ------
    BadInput
        A farm has no such table.
    """
    if not isinstance(name, str) or name not in TABLES:
        raise BadInput(f"a farm has no table called {name}; it has {', '.join(TABLES)}")
    return TABLES[name]


def column_label(name: str) -> str:
    """Return how a column is called in the name of an edit: ``channel_m`` is ``channel width``."""
    if name in _LABELS:
        return _LABELS[name]
    for unit in _UNITS:
        name = name.removesuffix(unit)
    return name.replace("_", " ")


def own_name(farm: Farm, table: str, row: int) -> str:
    """Return what a row is called by itself: ``North Terrace``, ``tree 113``, or ``fence 3`` where it has no name."""
    one, frame = table_of(table).one, farm.tables[table]
    column = NAMED_BY.get(table, "name")
    called = (
        str(frame[column].array[frame.index.get_loc(row)]) if row in frame.index and column in frame.columns else ""
    )
    if table == "trees":
        return f"tree {called}" if called else "a tree without a tag"
    return called or f"{one} {row}"


def with_kind(farm: Farm, table: str, row: int) -> str:
    """Return what kind of thing a row is and its name: ``block North Terrace``, ``Block 7``."""
    one, called = table_of(table).one, own_name(farm, table, row)
    kinds = [one, str(farm.hazards["kind"].get(row, one))] if table == "hazards" else [one]
    told = table == "trees" or any(begins_with(called, kind) for kind in kinds)
    return called if told else f"{one} {called}"


def begins_with(name: str, kind: str) -> bool:
    """Whether a name begins with the kind of thing that it is of, as ``Block 7`` does."""
    return bool(kind) and f"{name} ".casefold().startswith(f"{kind} ".casefold())


def counted(farm: Farm, table: str, ids: ArrayLike) -> str:
    """Return ``tree 113`` for one row and ``12 trees`` for several."""
    wanted = np.atleast_1d(np.asarray(ids, np.int64))
    if len(wanted) == 1:
        return with_kind(farm, table, int(wanted[0]))
    return f"{len(wanted)} {TABLES[table].words.lower()}"


def listed(words: list[str], most: int = 5) -> str:
    """Return words in a row: ``a, b and c``."""
    if len(words) > most:
        return ", ".join(words[:most]) + f" and {len(words) - most} more"
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def quoted(value: object) -> str:
    """Return what was written in quotation marks, cut off if it is long."""
    words = str(value).encode("utf-8", "replace").decode("utf-8")
    return f"'{words}'" if len(words) <= LONGEST_QUOTED else f"'{words[: LONGEST_QUOTED - 1]}…'"


def place_words(x: float, y: float) -> str:
    """Return grid coordinates as they are written on a map: ``E 1 812 340 N 5 478 020``."""
    return f"E {_spaced(x)} N {_spaced(y)}"


def day_words(day: dt.date | np.datetime64 | pd.Timestamp) -> str:
    """Return a day as ``3 May 2023``."""
    return in_words(pd.Timestamp(day))


def ground_words(shape: shapely.Geometry, grid: Grid) -> str:
    """Return the ground of an area: ``0.12 ha``, or ``35 m²`` if it is small."""
    return area_words(float(areas_m2(shape, grid)[0]))


def area_words(area_m2: float) -> str:
    """Return an area as ``0.12 ha``, or ``35 m²`` if it is small."""
    if area_m2 >= 1000:
        return f"{area_m2 / M2_PER_HA:.2f} ha"
    return f"{area_m2:.0f} m²" if area_m2 >= 10 else f"{area_m2:.2g} m²"


def _spaced(metres: float) -> str:
    return f"{round(metres):,}".replace(",", " ") if abs(metres) < FARTHEST_M else f"{metres:.3g}"
