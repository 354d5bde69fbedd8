"""Photo points and photographs: put in, moved, turned, and told which belongs to which."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from farmmap.editing.ground import grid_bearing_deg
from farmmap.editing.guard import guarded
from farmmap.editing.proposed import Proposed, added_change, edit_of, ids_of, removed_change, rows_of
from farmmap.editing.sound import far_note, refuse_off_grid
from farmmap.editing.values import day_done, typed_values
from farmmap.editing.words import counted, day_words, listed
from farmmap.errors import BadInput, GridError
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.grids import transform
from farmmap.farm.schema import PHOTO_POINTS, PHOTOS
from farmmap.figures.magnetic import declination
from farmmap.files.photos import PhotoFile, look_at_photo
from farmmap.files.raster_backdrops import path_of, path_text

SAME_POINT_M = 15.0
"""A photograph taken this near to a photo point, looking the same way, is taken to be from it. [m]"""

SAME_WAY_DEG = 40.0
"""Directions that differ less than this look the same way. [degrees]"""

WGS84 = 4326


@guarded
def photo_point_placed(
    farm: Farm,
    x: float,
    y: float,
    towards: tuple[float, float] | None = None,
    values: Mapping[str, object] | None = None,
) -> Proposed:
    """Propose a new photo point.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    x, y : float
        Where the camera stands, on the farm's grid. [m]
    towards : tuple of float, optional
        A place that the camera looks at; its bearing is left open without one. [m]
    values : mapping of str to object, optional
        Its fields, typed or as text from a form; without a name it gets the next free one, such as ``P4``.

    Raises
    ------
    BadInput
        The place or a value cannot be kept.
    """
    given = dict(values or {})
    if not str(given.get("name") or "").strip():
        given["name"] = _free_name(farm.tables["photo_points"]["name"])
    if towards is not None and given.get("bearing_deg") in (None, ""):
        given["bearing_deg"] = round(grid_bearing_deg((x, y), towards), 1)
    fields = typed_values(PHOTO_POINTS, given)
    what = f"photo point {fields['name']}"
    refuse_off_grid(farm, [(x, y)], what)
    said = list(far_note(farm, (x, y), what))
    if fields["name"] in set(farm.tables["photo_points"]["name"]):
        said.append(f"there is a photo point {fields['name']} already; give each its own name")
    columns: dict[str, Any] = {name: [value] for name, value in fields.items()}
    ids = next_ids(farm.tables["photo_points"], 1)
    row = shaped(PHOTO_POINTS, columns | {"x": [float(x)], "y": [float(y)]}, ids, farm.grid)
    return Proposed(edit_of(f"Draw {what}", {"photo_points": added_change(farm, "photo_points", row)}), tuple(said))


@guarded
def photo_points_moved(farm: Farm, ids: ArrayLike, dx_m: float, dy_m: float) -> Proposed:
    """Propose to move photo points; they go on looking the same way.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    ids : array_like of int, shape (n,)
        Which.
    dx_m, dy_m : float
        How far to the east and north, on the farm's grid. [m]

    Raises
    ------
    BadInput
        One is not there, or would stand off the grid.
    """
    wanted = ids_of(ids)
    before = rows_of(farm, "photo_points", wanted)
    after = before.copy()
    after["x"] += float(dx_m)
    after["y"] += float(dy_m)
    what, places = counted(farm, "photo_points", wanted), after[["x", "y"]].to_numpy(np.float64)
    refuse_off_grid(farm, places, what)
    changed = (before[["x", "y"]].to_numpy() != places).any(axis=1)
    change = Change(before[changed], after[changed])
    return Proposed(edit_of(f"Move {what}", {"photo_points": change}), tuple(far_note(farm, places, what)))


def photos_added(
    farm: Farm,
    paths: Sequence[Path],
    folder: Path | None,
    *,
    point: int = 0,
    caption: str = "",
    taken_on: object = None,
    own_points: bool = True,
) -> Proposed:
    """Propose to add photographs; their files stay where they are.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    paths : sequence of Path
        JPEG or PNG files.
    folder : Path or None
        Folder of the farm file; a path inside it is kept from there.
    point : int
        Id of the photo point that they were taken from; 0 to go by what the camera wrote.
    caption : str
        What they show.
    taken_on : object
        Day on which they were taken, None for the day that the camera wrote.
    own_points : bool
        Whether one that says where it was taken gets a photo point there, if none is near that looks the same way.

    Raises
    ------
    BadInput
        There are none, one cannot be used, or all are among the farm's photographs already.
    """
    if not paths:
        raise BadInput("no photographs were chosen; choose one or more files")
    if point and point not in farm.tables["photo_points"].index:
        raise BadInput("that photo point is not there any more; choose another")
    there = {path_of(text, folder) for text in farm.tables["photos"]["path"]}
    points, added, said = farm.tables["photo_points"], list[dict[str, Any]](), list[str]()
    for path in paths:
        kept = path_text(path, folder)
        if path_of(kept, folder) in there:
            said.append(f"{path.name} is among the photographs already")
            continue
        there.add(path_of(kept, folder))
        file = look_at_photo(path, whole=True)
        own = point
        if not own and own_points and file.place is not None:
            points, own, words = _point_of(farm, points, file)
            said += words
        day, of_day = _day_of(file, taken_on)
        said += of_day
        added.append({"photo_point": own, "path": kept, "taken_on": day, "caption": caption.strip()})
    if not added:
        raise BadInput(f"{paths[0].name if len(paths) == 1 else 'each of them'} is among the photographs already")
    ids = next_ids(farm.tables["photos"], len(added))
    rows = shaped(PHOTOS, {name: [one[name] for one in added] for name in added[0]}, ids, farm.grid)
    changes = {"photos": added_change(farm, "photos", rows)}
    new = points.iloc[len(farm.tables["photo_points"]) :]
    if len(new):
        changes["photo_points"] = added_change(farm, "photo_points", new)
    return Proposed(edit_of(f"Add {_called(rows)}", changes), tuple(said))


def photos_removed(farm: Farm, ids: ArrayLike) -> Proposed:
    """Propose to take photographs out of the farm; their files stay where they are."""
    rows = rows_of(farm, "photos", ids_of(ids))
    return Proposed(edit_of(f"Take out {_called(rows)}", {"photos": removed_change(farm, "photos", rows.index)}))


def photo_found(farm: Farm, photo: int, path: Path, folder: Path | None) -> Proposed:
    """Propose another place for the file of a photograph, which was moved or given another name.

    Raises
    ------
    BadInput
        The photograph is not there any more, or the file cannot be used or is that of another photograph.
    """
    rows = farm.tables["photos"]
    others = rows["path"][rows.index != photo]
    kept = path_text(path, folder)
    if path_of(kept, folder) in {path_of(text, folder) for text in others}:
        raise BadInput(f"{path.name} is among the photographs already")
    look_at_photo(path, whole=True)
    return photo_changed(farm, photo, {"path": kept})


def photo_changed(farm: Farm, photo: int, values: Mapping[str, object]) -> Proposed:
    """Propose other values for one photograph.

    Raises
    ------
    BadInput
        It is not there any more, a value does not fit, or nothing would change.
    """
    before = rows_of(farm, "photos", photo)
    fields = typed_values(PHOTOS, values)
    if "taken_on" in fields:
        fields["taken_on"] = day_done(PHOTOS, "taken_on", fields["taken_on"])
    if fields.get("photo_point") and fields["photo_point"] not in farm.tables["photo_points"].index:
        raise BadInput("that photo point is not there any more; choose another")
    after = before.assign(**{name: [value] for name, value in fields.items()}).astype(before.dtypes)
    name = f"Change {_called(before)}"
    if after.equals(before):
        raise BadInput(f"{name}: nothing changes")
    return Proposed(edit_of(name, {"photos": Change(before, after)}))


def point_named(farm: Farm, name: str) -> int:
    """Return the id of the photo point of a name.

    Raises
    ------
    BadInput
        There is none, or more than one.
    """
    names = farm.tables["photo_points"]["name"]
    found = names.index[[str(one).casefold() == name.strip().casefold() for one in names]]
    if len(found) == 1:
        return int(found[0])
    if len(found):
        raise BadInput(f"more than one photo point is called {name}; give each its own name first")
    known = listed([str(one) for one in names]) if len(names) else "none yet"
    raise BadInput(f"there is no photo point {name}; there are {known}")


def _called(rows: pd.DataFrame) -> str:
    """Return what some photographs are called in the name of an edit."""
    return f"photograph {Path(str(rows['path'].iloc[0])).name}" if len(rows) == 1 else f"{len(rows)} photographs"


def _day_of(file: PhotoFile, given: object) -> tuple[np.datetime64, tuple[str, ...]]:
    """Return the day of a photograph, NaT where none is known, and what is to be said of it.

    Raises
    ------
    BadInput
        The day that was given does not fit, or has not come yet.
    """
    if given:
        return day_done(PHOTOS, "taken_on", given), ()
    unknown = day_done(PHOTOS, "taken_on", None)
    if file.taken_on is None:
        return unknown, (f"{file.path.name} does not say on which day it was taken; fill it in",)
    try:
        return day_done(PHOTOS, "taken_on", file.taken_on), ()
    except BadInput:  # the clock of the camera was wrong
        day = day_words(file.taken_on)
        return unknown, (f"{file.path.name} was not taken on {day}, as its camera says; fill in the right day",)


@dataclass(frozen=True)
class _Taken:
    """Where a photograph was taken and which way it looks, on the farm's grid."""

    x: float
    y: float
    bearing_deg: float
    said: tuple[str, ...]


def _point_of(farm: Farm, points: pd.DataFrame, file: PhotoFile) -> tuple[pd.DataFrame, int, list[str]]:
    """Return photo points with that of a photograph, its id (0 for none), and what is to be said of it."""
    taken = _taken(farm, file)
    if taken is None:
        return points, 0, [f"{file.path.name} was not taken on this farm by what it says, so it gets no photo point"]
    said = list(taken.said)
    away = np.hypot(points["x"] - taken.x, points["y"] - taken.y).to_numpy(np.float64) / farm.grid.scale(
        taken.x, taken.y
    )
    turned = np.abs((points["bearing_deg"].to_numpy(np.float64) - taken.bearing_deg + 180) % 360 - 180)
    fits = (away <= SAME_POINT_M) & ~(turned > SAME_WAY_DEG)
    if fits.any():
        place = int(np.argmin(np.where(fits, away, np.inf)))
        name = points["name"].iloc[place]
        said.append(f"{file.path.name} was taken {away[place]:.0f} m from photo point {name}, and is put with it")
        return points, int(points.index[place]), said
    row = next_ids(points, 1)
    name = _free_name(points["name"])
    columns = {"name": [name], "bearing_deg": [taken.bearing_deg], "x": [taken.x], "y": [taken.y]}
    said.append(f"{file.path.name} says where it was taken: photo point {name} was put there")
    return pd.concat([points, shaped(PHOTO_POINTS, columns, row, farm.grid)]), int(row[0]), said


def _taken(farm: Farm, file: PhotoFile) -> _Taken | None:
    """Return where a photograph was taken, None if it was not on this farm."""
    assert file.place is not None
    lon, lat = file.place
    try:
        places = transform([lon], [lat], WGS84, farm.settings.epsg)
    except GridError:
        return None
    x, y = (float(axis[0]) for axis in places)
    try:
        refuse_off_grid(farm, [(x, y)], file.path.name)
    except BadInput:
        return None
    if far_note(farm, (x, y), file.path.name):
        return None
    bearing, said = _grid_bearing(farm, file, x, y)
    return _Taken(round(x, 2), round(y, 2), bearing, said)


def _grid_bearing(farm: Farm, file: PhotoFile, x: float, y: float) -> tuple[float, tuple[str, ...]]:
    """Turn the direction that a camera wrote from true or magnetic north to grid north; nan where it cannot be."""
    assert file.place is not None
    true = file.direction_deg
    if not math.isfinite(true):
        return math.nan, ()
    if file.by_needle:
        lon, lat = file.place
        try:
            today = dt.datetime.now().astimezone().date()
            true += declination(lat, lon, 0.0, min(file.taken_on or today, today)).degrees
        except BadInput as error:
            return math.nan, (f"the direction of {file.path.name} is by compass and was left out: {error}",)
    return round((true - farm.grid.convergence_deg(x, y)) % 360, 1), ()


def _free_name(names: pd.Series) -> str:
    taken = {str(name).casefold() for name in names}
    number = len(taken) + 1
    while f"p{number}" in taken:
        number += 1
    return f"P{number}"
