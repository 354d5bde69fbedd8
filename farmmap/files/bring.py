"""Bringing data in: a file of somebody's to an edit of the farm, nothing lost and nothing taken for granted unsaid."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import shapely

from farmmap.errors import BadInput
from farmmap.farm.edits import Change, Edit
from farmmap.farm.farm import Farm
from farmmap.farm.grids import parse_grid
from farmmap.farm.schema import TABLES
from farmmap.files.bringing.columns import values_of
from farmmap.files.bringing.drawn import drawn, point_places
from farmmap.files.bringing.measurement_rows import measurement_changes
from farmmap.files.bringing.photo_rows import photo_point_changes
from farmmap.files.bringing.plan import Plan, guess_plan
from farmmap.files.bringing.plot_rows import plot_changes
from farmmap.files.bringing.readings import Day
from farmmap.files.bringing.set_aside import write_rows
from farmmap.files.bringing.shape_rows import shape_changes
from farmmap.files.bringing.sieve import Sieve
from farmmap.files.bringing.tree_rows import tree_changes
from farmmap.files.sources.reading import read_source
from farmmap.files.sources.source import BadRow, Source
from farmmap.progress import SILENT, Progress

__all__ = [
    "MAY_BE_BROUGHT",
    "BadRow",
    "Brought",
    "Plan",
    "Source",
    "bring",
    "guess_plan",
    "read_source",
    "write_set_aside",
]

MAY_BE_BROUGHT = (
    "boundary", "blocks", "creeks", "fences", "tracks", "hazards", "trees", "measurements", "plots", "photo_points",
)  # fmt: skip
"""Tables that a file can be brought into."""


@dataclass(frozen=True, eq=False)
class Brought:
    """What a file would bring.

    Attributes
    ----------
    edit : Edit or None
        Puts the good rows into the farm; None if there is nothing to put in.
    read : int
        Rows that the file holds. Always ``came_in + len(bad)``.
    came_in : int
        Good rows.
    bad : list of BadRow
        The others, with row number and reason.
    said : list of str
        What was taken for granted, matched, mended or added.
    plan : Plan
        Which column filled which.
    """

    edit: Edit | None
    read: int
    came_in: int
    bad: list[BadRow]
    said: list[str]
    plan: Plan = field(repr=False)


def bring(
    farm: Farm,
    source: Source | Path | str,
    table: str,
    *,
    grid: str | int | None = None,
    columns: Mapping[str, str] | None = None,
    plan: Plan | None = None,
    measured_on: dt.date | None = None,
    today: dt.date | None = None,
    origin: tuple[float, float] | None = None,
    anyway: bool = False,
    progress: Progress = SILENT,
) -> Brought:
    """Work out what a file brings to a farm; nothing is written.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    source : Source, Path or str
        What to bring, read already or not.
    table : str
        One of `MAY_BE_BROUGHT`.
    grid : str or int, optional
        Grid of the coordinates, such as ``"EPSG:27200"``; wins over what the file declares.
    columns : mapping of str to str, optional
        Ours to theirs, over the guess: ``{"dbh_mm": "D", "tag": "No"}``.
    plan : Plan, optional
        A plan made before; else one is guessed.
    measured_on : date, optional
        Day of readings that carry none.
    today : date, optional
        Today, which such readings get if no day is given.
    origin : tuple of float, optional
        Where on the farm's grid the file's 0, 0 lies. [m]
    anyway : bool
        Bring it in however far off it lies, and untagged trees once more.
    progress : Progress
        Is told how far it is, and may stop it.

    Raises
    ------
    BadInput
        The file cannot be used, or lies where it cannot be meant to lie. Nothing was changed.
    GridError
        The grid is unknown.
    Stopped
        The person pressed stop.
    """
    if table not in MAY_BE_BROUGHT:
        raise BadInput(f"nothing can be brought in as '{table}'; choose one of {', '.join(MAY_BE_BROUGHT)}")
    if not isinstance(source, Source):
        source = read_source(source, like=table, progress=progress)
    progress.step(1, 4, "finding the columns")
    plan = plan or guess_plan(source, table)
    for ours, theirs in (columns or {}).items():
        plan = plan.with_column(ours, theirs)
    said: list[str] = [*source.said, *plan.said]
    sieve = Sieve(source)
    values = values_of(plan, sieve, said)
    progress.step(2, 4, "finding the places")
    chosen = None if grid is None else parse_grid(grid)
    shapes = drawn(farm, plan, sieve, chosen, said, origin=origin, anyway=anyway)
    progress.step(3, 4, f"bringing in {TABLES[table].words.lower()}")
    day = Day(measured_on, today or dt.datetime.now().astimezone().date())
    changes: dict[str, Change]
    if table == "trees":
        x, y = point_places(shapes, plan, sieve)
        changes = tree_changes(farm, values, x, y, sieve, day, said, anyway=anyway)
    elif table == "plots":
        changes = plot_changes(farm, values, *point_places(shapes, plan, sieve), sieve, said)
    elif table == "photo_points":
        changes = photo_point_changes(farm, values, *point_places(shapes, plan, sieve), sieve, said)
    elif table == "measurements":
        changes = measurement_changes(farm, values, shapes if isinstance(shapes, tuple) else None, sieve, day, said)
    else:
        if isinstance(shapes, tuple):
            points = np.full(len(sieve.good), None, object)
            known = np.isfinite(shapes[0])
            points[known] = shapely.points(shapes[0][known], shapes[1][known])
            shapes = points
        assert shapes is not None
        changes = shape_changes(farm, plan, values, shapes, sieve, said)
    progress.step(4, 4, f"bringing in {TABLES[table].words.lower()}")
    edit = Edit(f"Bring in {TABLES[table].words.lower()} from {source.path.name}", changes) if changes else None
    return Brought(edit, source.read, int(sieve.good.sum()), sieve.bad_rows(), said, plan)


def write_set_aside(brought: Brought, source: Source | None = None) -> Path | None:
    """Write the bad rows beside their source as ``<name>-set-aside.csv``, never over an earlier one.

    Returns
    -------
    Path or None
        The file; None if there is no bad row.

    Raises
    ------
    BadInput
        It cannot be written there.
    """
    return write_rows(brought.bad, source or brought.plan.source)
