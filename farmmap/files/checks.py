"""What is wrong with a farm file, said so that it can be put right."""

from __future__ import annotations

import contextlib
import datetime as dt
import sqlite3
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import shapely

from farmmap.errors import FarmFileError
from farmmap.farm.dates import is_when, middles_of
from farmmap.farm.farm import Farm
from farmmap.farm.schema import TABLES, Column, Kind, Table
from farmmap.files.farm_file import read_farm
from farmmap.files.flow import meeting_head_on
from farmmap.files.geopackage import register_functions
from farmmap.files.photos import photos_of
from farmmap.files.rows import GEOMETRY

OVERLAP_M2 = 0.01
"""Two blocks may share this much ground before it is called an overlap, as corners are rounded. [m²]"""

FAR_M = 20_000.0
"""A thing this far from the middle of everything else lies in the wrong place. [m]"""

SHOWN = 5
"""How many rows of one kind are named before the rest are only counted."""


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong.

    Attributes
    ----------
    table : str
        Table it is in, "" for the file as a whole.
    where : str
        Which row or rows, for people.
    what : str
        What is wrong, and what to do.
    """

    table: str
    where: str
    what: str

    def __str__(self) -> str:
        """Return the finding as one line."""
        place = " ".join(part for part in (self.table, self.where) if part)
        return f"{place}: {self.what}" if place else self.what


def check_farm(path: str | Path) -> list[Finding]:
    """List what is wrong with a farm file; the file is left as it is.

    Parameters
    ----------
    path : str or Path
        The farm file.

    Returns
    -------
    list of Finding
        Empty if all is well. A file that cannot be read gives a single finding.
    """
    path = Path(path)
    try:
        farm = read_farm(path)
    except FarmFileError as error:
        return [Finding("", "", str(error))]
    return [*_file_findings(path), *farm_findings(farm), *_photo_findings(farm, path.parent)]


def farm_findings(farm: Farm) -> list[Finding]:
    """List what is wrong with a farm in memory."""
    findings: list[Finding] = []
    for table in TABLES.values():
        frame = farm.tables[table.name]
        for column in table.columns:
            findings += _column_findings(table, frame, column, farm)
        if table.geometry:
            findings += _shape_findings(table, frame)
    looks = (
        _block_findings,
        _creek_findings,
        _far_findings,
        _tree_findings,
        _measurement_findings,
        _plan_findings,
        _point_findings,
    )
    for look in looks:
        findings += look(farm)
    return findings


def _file_findings(path: Path) -> Iterator[Finding]:
    """Damage below the tables: pages, spatial indexes, and rows that only another program could have written."""
    with contextlib.closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
        register_functions(connection)
        for (line,) in connection.execute("PRAGMA integrity_check"):
            if line != "ok":
                yield Finding("", "", f"the file is damaged: {line}; go back to an earlier copy")
        there = {name for (name,) in connection.execute("SELECT table_name FROM gpkg_geometry_columns")}
        for table in TABLES.values():
            if not table.geometry or table.name not in there:  # an older file lacks what came later
                continue
            index = f"rtree_{table.name}_{GEOMETRY}"
            try:
                (said,) = connection.execute("SELECT rtreecheck(?)", (index,)).fetchone()
                rows, indexed = connection.execute(
                    f"SELECT (SELECT count(*) FROM {table.name} WHERE NOT coalesce(ST_IsEmpty({GEOMETRY}), 1)), "
                    f"(SELECT count(*) FROM {index})"
                ).fetchone()
            except sqlite3.Error as error:
                yield Finding(
                    table.name, "", f"its spatial index cannot be used ({error}); copy the farm to a new file"
                )
                continue
            if said != "ok" or rows != indexed:
                yield Finding(table.name, "", "its spatial index does not fit its rows; copy the farm to a new file")


def _rows(frame: pd.DataFrame, wrong: np.ndarray, name: Callable[[pd.DataFrame], pd.Series] | None = None) -> str:
    """Name the rows that are wrong: by tag or name where they have one, else by id."""
    rows = frame[wrong]
    for column in ("tag", "name", "code", "heading"):
        if name is None and column in rows.columns and (rows[column] != "").all():
            words = rows[column].tolist()
            break
    else:
        words = [f"row {i}" for i in rows.index] if name is None else name(rows).tolist()
    more = len(words) - SHOWN
    return ", ".join(words[:SHOWN]) + (f" and {more} more" if more > 0 else "")


def _column_findings(table: Table, frame: pd.DataFrame, column: Column, farm: Farm) -> Iterator[Finding]:
    values = frame[column.name]
    match column.kind:
        case Kind.TEXT:
            if column.needed and (wrong := (values == "").to_numpy()).any():
                yield Finding(table.name, _rows(frame, wrong), f"{column.name} is empty; give the {column.words}")
            if column.allowed and (wrong := ~values.isin(column.allowed).to_numpy()).any():
                allowed = ", ".join(value for value in column.allowed if value)
                found = ", ".join(sorted(set(values[wrong]))[:SHOWN]) or "nothing"
                yield Finding(table.name, _rows(frame, wrong), f"{column.name} is {found}; it can be {allowed}")
        case Kind.WHEN:
            known = values.unique()
            odd = [text for text in known if not is_when(text)]
            if odd:
                wrong = values.isin(odd).to_numpy()
                words = f"{column.name} is {odd[0]}; write a year, or a day such as 2004-07-15"
                yield Finding(table.name, _rows(frame, wrong), words)
        case Kind.NUMBER | Kind.WHOLE:
            yield from _number_findings(table, frame, column, farm)
        case Kind.DAY:
            if column.needed and (wrong := values.isna().to_numpy()).any():
                yield Finding(table.name, _rows(frame, wrong), f"{column.name} is empty; give the {column.words}")


def _number_findings(table: Table, frame: pd.DataFrame, column: Column, farm: Farm) -> Iterator[Finding]:
    numbers = frame[column.name].to_numpy(np.float64)
    low = numbers < (-np.inf if column.least is None else column.least)
    high = numbers > (np.inf if column.most is None else column.most)
    if (wrong := low | high | np.isinf(numbers)).any():
        span = f"{column.least:g} to {column.most:g} {column.unit}".rstrip()
        words = f"{column.name} is {numbers[wrong][0]:g}; {span} is believable"
        yield Finding(table.name, _rows(frame, wrong), words)
    if column.points_to:
        there = frame[column.name].isin(farm.tables[column.points_to].index).to_numpy()
        if not column.needed:
            there = there | (frame[column.name] == 0).to_numpy()
        if (~there).any():
            yield Finding(table.name, _rows(frame, ~there), f"{column.name} is not among the {column.points_to}")


def _shape_findings(table: Table, frame: pd.DataFrame) -> Iterator[Finding]:
    if "x" in frame.columns:
        wrong = ~np.isfinite(frame[["x", "y"]].to_numpy()).all(axis=1)
        if wrong.any():
            yield Finding(table.name, _rows(frame, wrong), "stands nowhere; give its place")
        return
    shapes = frame["geometry"].to_numpy()
    void = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    if void.any():
        yield Finding(table.name, _rows(frame, void), "has no shape; draw it or take it away")
    bad = ~void & ~shapely.is_valid(shapes)
    for at in np.flatnonzero(bad)[:SHOWN]:
        reason = shapely.is_valid_reason(shapes[at])
        yield Finding(table.name, _rows(frame, np.arange(len(frame)) == at), f"its outline is not sound: {reason}")


def _block_findings(farm: Farm) -> Iterator[Finding]:
    blocks = farm.blocks
    names = blocks["name"]
    twice = names[names.duplicated() & (names != "")].unique()
    for name in twice[:SHOWN]:
        yield Finding("blocks", name, "more than one block has this name; give each its own")
    existing = blocks[(blocks["stage"] == "existing").to_numpy() & blocks.geometry.is_valid.to_numpy()]
    shapes = existing.geometry.to_numpy()
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    pairs = first < second
    first, second = first[pairs], second[pairs]
    shared = shapely.area(shapely.intersection(shapes[first], shapes[second]))
    for at in np.flatnonzero(shared > OVERLAP_M2):
        words = f"overlap by {shared[at]:.1f} m²; their trees count in one of them only"
        pair = f"{existing['name'].iloc[first[at]]} and {existing['name'].iloc[second[at]]}"
        yield Finding("blocks", pair, words)


def _creek_findings(farm: Farm) -> Iterator[Finding]:
    for name, one, other in meeting_head_on(farm.creeks):
        words = "run against each other, so left and right are mixed; set flows to the other way for one of them"
        yield Finding("creeks", f"{name}, rows {one} and {other}", words)


def _far_findings(farm: Farm) -> Iterator[Finding]:
    """Things that lie far from the farm: a wrong grid, or easting and northing changed round."""
    centres: list[tuple[str, pd.DataFrame, np.ndarray]] = []
    for table in TABLES.values():
        frame = farm.tables[table.name]
        if table.geometry and len(frame):
            if "x" in frame.columns:
                places = frame[["x", "y"]].to_numpy()
            else:
                boxes = frame["geometry"].bounds.to_numpy()
                places = (boxes[:, :2] + boxes[:, 2:]) / 2
            centres.append((table.name, frame, places))
    if not centres:
        return
    middle = np.nanmedian(np.concatenate([places for _, _, places in centres]), axis=0)
    for name, frame, places in centres:
        wrong = np.hypot(*(places - middle).T) > FAR_M
        if wrong.any():
            words = "lies more than 20 km from the rest of the farm; was it brought in on another grid?"
            yield Finding(name, _rows(frame, wrong), words)


def _tree_findings(farm: Farm) -> Iterator[Finding]:
    trees = farm.trees
    unknown = ~trees["species"].isin(["", *farm.species["code"]]).to_numpy()
    if unknown.any():
        codes = ", ".join(sorted(set(trees["species"][unknown]))[:SHOWN])
        yield Finding("trees", _rows(trees, unknown), f"species {codes} is not in the farm's list of species")
    codes = farm.species["code"]
    for code in codes[codes.duplicated()].unique()[:SHOWN]:
        yield Finding("species", code, "is in the list more than once")


def _measurement_findings(farm: Farm) -> Iterator[Finding]:
    taken, trees = farm.measurements, farm.trees
    if not len(taken) or not len(trees):
        return
    today = np.datetime64(dt.datetime.now().astimezone().date(), "s")
    future = taken["measured_on"].to_numpy("datetime64[s]") > today
    again = taken.duplicated(["tree", "measured_on", "stem"]).to_numpy()

    def tags(rows: pd.DataFrame) -> pd.Series:
        return "tree " + trees["tag"].reindex(rows["tree"]).fillna("?")

    if future.any():
        yield Finding(
            "measurements", _rows(taken, future, tags), "measured on a day that is still to come; mend the date"
        )
    if again.any():
        yield Finding("measurements", _rows(taken, again, tags), "the same stem was measured twice on one day")
    at = trees.index.get_indexer(taken["tree"])
    known = at >= 0
    planted = middles_of(trees["planted"])[at]
    early = known & (taken["measured_on"].to_numpy("datetime64[D]") < planted - np.timedelta64(366, "D"))
    if early.any():
        yield Finding(
            "measurements", _rows(taken, early, tags), "measured before it was planted; mend one of the dates"
        )
    bare = (taken[["dbh_cm", "height_m", "crown_m", "pruned_m"]].isna().all(axis=1)).to_numpy()
    if bare.any():
        yield Finding("measurements", _rows(taken, bare, tags), "holds no figure; fill it in or take it away")


def _point_findings(farm: Farm) -> Iterator[Finding]:
    names = farm.tables["photo_points"]["name"]
    for name in names[names.duplicated() & (names != "")].unique()[:SHOWN]:
        yield Finding("photo_points", name, "more than one photo point has this name; give each its own")


def _photo_findings(farm: Farm, folder: Path) -> Iterator[Finding]:
    """Photographs whose files are not there, or cannot be read."""
    for photo in photos_of(farm, folder):
        if photo.trouble:
            yield Finding("photos", f"row {photo.id}", photo.trouble)


def _plan_findings(farm: Farm) -> Iterator[Finding]:
    plans = farm.tables["plans"]
    names = plans["name"]
    for name in names[names.duplicated() & (names != "")].unique()[:SHOWN]:
        yield Finding("plans", name, "more than one plan has this name; give each its own")
    lost = ~plans["creek"].isin(["", *farm.creeks["name"]]).to_numpy(bool)
    if lost.any():
        words = f"lies along {plans['creek'][lost].iloc[0]}, which is no creek of the farm; draw it, or drop the plan"
        yield Finding("plans", _rows(plans, lost), words)
    turned = (plans["from_m"] >= plans["to_m"]).to_numpy(bool)
    if turned.any():
        yield Finding("plans", _rows(plans, turned), "ends before it begins; make it again")
    for name, recipe in zip(names, plans["recipe"], strict=True):
        try:
            tomllib.loads(recipe)
        except tomllib.TOMLDecodeError as error:
            yield Finding("plans", name, f"its recipe cannot be read ({error}); make it again")
    for table in TABLES.values():
        if "plan" in table.column_names:
            frame = farm.tables[table.name]
            astray = ~frame["plan"].isin(["", *names]).to_numpy(bool)
            if astray.any():
                words = f"belongs to plan {frame['plan'][astray].iloc[0]}, which the farm does not have"
                yield Finding(table.name, _rows(frame, astray), words)
