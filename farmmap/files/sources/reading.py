"""Which kind of file it is, found by what is in it; then the reader for that kind."""

from __future__ import annotations

import re
from pathlib import Path

from farmmap.errors import BadInput
from farmmap.files.sources.delimited import read_delimited
from farmmap.files.sources.geojson import read_geojson
from farmmap.files.sources.geopackage import read_geopackage
from farmmap.files.sources.gpx import read_gpx
from farmmap.files.sources.kml import read_kml, read_packed_kml
from farmmap.files.sources.source import Source, content_of
from farmmap.progress import SILENT, Progress

_FOREIGN = (
    (b"%PDF", "a PDF"),
    (b"\xff\xd8\xff", "a photograph"),
    (b"\x89PNG", "a picture"),
    (b"GIF8", "a picture"),
    (b"\xd0\xcf\x11\xe0", "a spreadsheet or document of an office program; save it as CSV and bring that"),
    (b"\x00\x00\x27\x0a", "a shapefile; save it as GeoPackage or GeoJSON and bring that"),
    (b"\x1f\x8b", "packed (gzip); unpack it first"),
)
_STARTS_WITH_SPACE = b"\xef\xbb\xbf \t\r\n"


def read_source(path: Path | str, *, layer: str | None = None, like: str = "", progress: Progress = SILENT) -> Source:
    """Read a file that somebody brings.

    Parameters
    ----------
    path : Path or str
        GeoPackage, GeoJSON, GPX, KML (packed or not) or CSV.
    layer : str, optional
        Layer of a GeoPackage.
    like : str
        Name of the table it is to go into, which picks the layer where several are there.
    progress : Progress
        Is told how far it is.

    Raises
    ------
    BadInput
        There is no such file, it is empty, damaged, or of another kind.
    """
    path = Path(path)
    progress.step(0, 2, f"reading {path.name}")
    content = content_of(path)
    if content.startswith(b"SQLite format 3\0"):
        return read_geopackage(path, layer, like)
    if layer is not None:
        raise BadInput(f"{path.name} has no layers; leave the layer out")
    for mark, words in _FOREIGN:
        if content.startswith(mark):
            raise BadInput(f"{path.name} is {words}")
    if content.startswith(b"PK\x03\x04"):
        return _zip(path, content)
    progress.step(1, 2, f"reading {path.name}")
    start = content[:4000].lstrip(_STARTS_WITH_SPACE)
    if start.startswith((b"{", b"[")):
        return read_geojson(path, content)
    if start.startswith(b"<") or content.startswith((b"\xff\xfe<", b"\xfe\xff\0<")):
        return _markup(path, content)
    if path.suffix.casefold() in {".gpkg", ".gpx", ".kml", ".geojson"}:
        kind = {".gpkg": "GeoPackage", ".gpx": "GPX", ".kml": "KML", ".geojson": "GeoJSON"}[path.suffix.casefold()]
        raise BadInput(f"{path.name} is called a {kind} but does not hold one; it may be cut short or damaged")
    return read_delimited(path, content)


def _markup(path: Path, content: bytes) -> Source:
    start = content[:20000].replace(b"\0", b"")
    first = re.search(rb"<(?:\w+:)?(gpx|kml|html|Document|Folder|Placemark)\b", start)
    kind = first[1].lower() if first else path.suffix.casefold().encode().lstrip(b".")
    if kind == b"gpx":
        return read_gpx(path, content)
    if kind == b"html":
        raise BadInput(f"{path.name} is a web page, perhaps one that asks for a login instead of the file")
    return read_kml(path, content)


def _zip(path: Path, content: bytes) -> Source:
    if b"xl/workbook" in content[-200_000:]:
        raise BadInput(f"{path.name} is a spreadsheet; save the sheet as CSV and bring that")
    return read_packed_kml(path, content)
