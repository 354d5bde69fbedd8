"""Small photographs for tests, with the notes that a camera leaves in them, written byte by byte."""

from __future__ import annotations

import struct
import warnings
from pathlib import Path

import numpy as np
import rasterio
from rasterio.errors import NotGeoreferencedWarning

RED, BLUE, GREEN = (200, 30, 30), (30, 30, 200), (30, 160, 30)


def write_photo(path: Path, width: int = 80, height: int = 60, driver: str = "JPEG", **notes: object) -> Path:
    """Write a picture that is red at the left, blue at the right and green below, with notes if any are given."""
    dots = np.empty((height, width, 3), np.uint8)
    dots[:, : width // 2], dots[:, width // 2 :] = RED, BLUE
    dots[-(height // 4) :] = GREEN
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(path, "w", driver=driver, width=width, height=height, count=3, dtype="uint8") as file:
            file.write(np.moveaxis(dots, 2, 0))
    if notes:
        whole = path.read_bytes()
        note = _notes(**notes)  # type: ignore[arg-type]
        path.write_bytes(whole[:2] + b"\xff\xe1" + struct.pack(">H", len(note) + 2) + note + whole[2:])
    return path


def _notes(
    orientation: int = 1,
    taken: str = "",
    place: tuple[float, float] | None = None,
    direction: tuple[float, str] | None = None,
) -> bytes:
    """EXIF as the standard lays it out (CIPA DC-008): a TIFF head and up to three lists of tags, little-endian."""
    where = [] if place is None else _place(*place)
    if direction is not None:
        where += [(16, 2, _words(direction[1])), (17, 5, _shares(direction[0]))]
    inner = [(0x9003, 2, _words(taken))] if taken else []
    begin = 8 + 2 + 12 * 3 + 4
    camera = _list(inner, begin)
    places = _list(where, begin + len(camera))
    head = [
        (0x0112, 3, struct.pack("<H", orientation)),
        (0x8769, 4, struct.pack("<I", begin)),
        (0x8825, 4, struct.pack("<I", begin + len(camera))),
    ]
    return b"Exif\0\0II*\0" + struct.pack("<I", 8) + _list(head, 8) + camera + places


def _place(lon: float, lat: float) -> list[tuple[int, int, bytes]]:
    def parts(angle: float) -> bytes:
        degrees, rest = divmod(abs(angle), 1.0)
        minutes, rest = divmod(rest * 60, 1.0)
        return _shares(degrees, minutes, rest * 60)

    return [
        (1, 2, _words("S" if lat < 0 else "N")),
        (2, 5, parts(lat)),
        (3, 2, _words("W" if lon < 0 else "E")),
        (4, 5, parts(lon)),
    ]


def _list(entries: list[tuple[int, int, bytes]], start: int) -> bytes:
    sizes = {2: 1, 3: 2, 4: 4, 5: 8}
    out, data = struct.pack("<H", len(entries)), b""
    at = start + 2 + 12 * len(entries) + 4
    for tag, kind, value in entries:
        count = len(value) // sizes[kind]
        if len(value) <= 4:
            out += struct.pack("<HHI", tag, kind, count) + value.ljust(4, b"\0")
        else:
            out += struct.pack("<HHII", tag, kind, count, at + len(data))
            data += value + b"\0" * (len(value) % 2)
    return out + struct.pack("<I", 0) + data


def _words(text: str) -> bytes:
    return text.encode() + b"\0"


def _shares(*values: float) -> bytes:
    return b"".join(struct.pack("<II", round(value * 100_000), 100_000) for value in values)
