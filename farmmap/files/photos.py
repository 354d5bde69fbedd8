"""Photographs: what their files say of themselves, and those that a farm names."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.files.raster_backdrops import path_of
from farmmap.files.rasters import opened

KINDS = ("JPEG", "PNG")
MOST_PNG_BYTES = 256 * 1024 * 1024
"""A PNG file that takes more when it is read is not shown: it cannot be made smaller while it is read, as JPEG can."""

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
_LYING_ON_ITS_SIDE = 5
"""From this value of the EXIF orientation on, width and height are changed round (CIPA DC-008, tag 274)."""


@dataclass(frozen=True)
class PhotoFile:
    """What the file of a photograph says.

    Attributes
    ----------
    path : Path
        The file.
    width, height : int
        Its size when it is turned the right way up. [px]
    taken_on : date or None
        Day on which it was taken, None where the camera wrote none.
    place : tuple of float or None
        Longitude and latitude where it was taken, WGS 84. [degrees]
    direction_deg : float
        Which way the camera looked, nan where it is not known. [degrees]
    by_needle : bool
        Whether the direction is from magnetic north; from true north if not.
    """

    path: Path
    width: int
    height: int
    taken_on: dt.date | None
    place: tuple[float, float] | None
    direction_deg: float
    by_needle: bool


@dataclass(frozen=True, eq=False)
class Photo:
    """One row of a farm's photographs with what its file says.

    Attributes
    ----------
    id : int
        Its row.
    point : int
        Id of the photo point that it was taken from, 0 for none.
    path : Path
        Its file.
    taken_on : date or None
        Day on which it was taken.
    caption, note : str
        What was written of it.
    file : PhotoFile or None
        None if it cannot be used.
    trouble : str
        Why it cannot be used, "" if it can.
    """

    id: int
    point: int
    path: Path
    taken_on: dt.date | None
    caption: str
    note: str
    file: PhotoFile | None
    trouble: str


def look_at_photo(path: str | Path, *, whole: bool = False) -> PhotoFile:
    """Read what a photograph says of itself.

    Parameters
    ----------
    path : str or Path
        A JPEG or PNG file.
    whole : bool
        Whether all of it is read once, to see that it is not damaged.

    Returns
    -------
    PhotoFile
        Day, place and direction come from the notes that a camera leaves in a JPEG (EXIF, CIPA DC-008).

    Raises
    ------
    BadInput
        It is not there, is no photograph, or is damaged.
    """
    path = Path(path)
    try:
        found = path.stat()
    except OSError as error:
        folder = path.absolute().parent
        raise BadInput(f"{path.name} is not in {folder}; put it back there, or choose where it is now") from error
    if not path.is_file():
        raise BadInput(f"{path} is a folder; choose a photograph in it")
    head = _head(path, found.st_mtime_ns, found.st_size)
    if whole:
        _read_through(path)
    return head


def photos_of(farm: Farm, folder: Path | None) -> tuple[Photo, ...]:
    """Photographs of a farm with the heads of their files read, those of one photo point together, oldest first.

    Parameters
    ----------
    farm : Farm
        The farm.
    folder : Path or None
        Folder of the farm file, from which files are looked for; without it, those that are named in full are found.
    """
    table = farm.tables["photos"]
    days = table["taken_on"].to_numpy("datetime64[D]").astype(object)
    points, texts = table["photo_point"].tolist(), (table[name].tolist() for name in ("path", "caption", "note"))
    found: list[Photo] = []
    for row, point, day, path, caption, note in zip(table.index.tolist(), points, days, *texts, strict=True):
        full = path_of(path, folder)
        file, trouble = _file_or_trouble(full)
        found.append(Photo(row, point, full, day, caption, note, file, trouble))
    order = {row: place for place, row in enumerate(farm.tables["photo_points"].index.tolist())}
    return tuple(sorted(found, key=lambda one: (order.get(one.point, len(order)), one.taken_on or dt.date.max, one.id)))


def before_and_after(photos: Sequence[Photo]) -> tuple[int, int] | None:
    """Return the places of the first and the last of some photographs from one point; None where there is no such pair.

    Parameters
    ----------
    photos : sequence of Photo
        As `photos_of` has them: oldest first, those without a day last, which belong to no pair.
    """
    dated = [place for place, photo in enumerate(photos) if photo.taken_on is not None]
    if not dated or photos[dated[0]].taken_on == photos[dated[-1]].taken_on:
        return None
    return dated[0], dated[-1]


def _file_or_trouble(path: Path) -> tuple[PhotoFile | None, str]:
    try:
        return look_at_photo(path), ""
    except BadInput as error:
        return None, str(error)


@lru_cache(maxsize=512)
def _head(path: Path, _changed_ns: int, _bytes: int) -> PhotoFile:
    try:
        with opened(path) as file:
            driver, width, height, tags = file.driver, int(file.width), int(file.height), file.tags()
            dot_bytes = 8 if file.dtypes[0] == "uint16" else 4
    except BadInput as error:
        raise BadInput(_NO_PHOTOGRAPH.format(path.name)) from error
    if driver not in KINDS:
        raise BadInput(f"{path.name} is a picture of another kind ({driver}); save it as JPEG or PNG")
    if driver == "PNG" and width * height * dot_bytes > MOST_PNG_BYTES:
        raise BadInput(f"{path.name} is too large to be shown ({width} × {height} dots); save it as JPEG")
    if _numbers(tags, "Orientation")[:1] >= [_LYING_ON_ITS_SIDE]:
        width, height = height, width
    direction, by_needle = _direction(tags)
    return PhotoFile(path, width, height, _day(tags), _place(tags), direction, by_needle)


_NO_PHOTOGRAPH = "{} cannot be read as a photograph: it is damaged, or neither JPEG nor PNG; take another copy of it"


def _read_through(path: Path) -> None:
    """Read every part of a photograph, as small as can be.

    Raises
    ------
    BadInput
        It is damaged.
    """
    import rasterio  # noqa: PLC0415 - heavy, and only needed where a photograph is added

    try:
        with rasterio.Env(GDAL_ERROR_ON_LIBJPEG_WARNING=True), opened(path) as file:
            file.read(1, out_shape=(max(file.height // 16, 1), max(file.width // 16, 1)))
    except BadInput as error:
        raise BadInput(_NO_PHOTOGRAPH.format(path.name)) from error


def _numbers(tags: Mapping[str, str], name: str) -> list[float]:
    return [float(found) for found in _NUMBER.findall(tags.get(f"EXIF_{name}", ""))]


def _day(tags: Mapping[str, str]) -> dt.date | None:
    for name in ("DateTimeOriginal", "DateTimeDigitized"):
        try:
            return dt.datetime.strptime(tags.get(f"EXIF_{name}", "")[:10], "%Y:%m:%d").date()  # noqa: DTZ007 - a day
        except ValueError:
            continue
    return None


def _place(tags: Mapping[str, str]) -> tuple[float, float] | None:
    """Longitude and latitude, None where none is written, or zeros as by a camera that found no place.

    GDAL tells six digits of each number: of degrees, minutes and seconds that is less than a metre. Of decimal
    degrees it is only about 100 m, so a place written that way is left out rather than put there.
    """
    lon, lat = (_angle(tags, name) for name in ("GPSLongitude", "GPSLatitude"))
    if not (abs(lon) <= 180 and abs(lat) <= 90) or lon == lat == 0:
        return None
    return lon, lat


def _angle(tags: Mapping[str, str], name: str) -> float:
    parts = _numbers(tags, name)
    if not parts or len(parts) > 3 or parts[0] != int(parts[0]):
        return math.nan
    angle = sum(part / 60**place for place, part in enumerate(parts))
    return -angle if tags.get(f"EXIF_{name}Ref", "")[:1] in {"S", "W"} else angle


def _direction(tags: Mapping[str, str]) -> tuple[float, bool]:
    found = _numbers(tags, "GPSImgDirection")
    if len(found) != 1 or not 0 <= found[0] <= 360:
        return math.nan, False
    return found[0] % 360, tags.get("EXIF_GPSImgDirectionRef", "")[:1] == "M"
