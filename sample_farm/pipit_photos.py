"""Photo points of Pipit Downs, and pictures that stand for photographs: painted, and marked as invented."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

import numpy as np
import rasterio
from pipit_ground import CORNER
from rasterio.errors import NotGeoreferencedWarning

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SEED = 20_261_127
WIDE, HIGH = 640, 480
FINER = 2
HORIZON = 0.40
"""Share of the picture that is above the far edge of the flat."""

POINTS = (
    # east, north, name, bearing, height of the camera, note
    (524.0, 484.0, "Creek bend", 254.0, 1.5, "Stand at the post; sight on the second post, 5 m upstream."),
    (118.0, 860.0, "Look-out", 132.0, 1.6, "Stand at the strainer post."),
    (795.0, 424.0, "Gully mouth", 15.0, 1.5, "Not photographed yet."),
)

PHOTOS = (
    # place of the photo point from 1, file, day, caption
    (1, "creek_bend_2016.jpg", "2016-05-17", "Sedge Creek upstream, banks grazed to the water"),
    (1, "creek_bend_2026.jpg", "2026-05-06", "Sedge Creek upstream, fenced and planted since 2017"),
    (2, "look_out_2026.jpg", "2026-05-06", "Ridge Pines from the look-out"),
)

SKY, HAZE, HILL, GRASS, WORN, EARTH, WATER = (
    np.array(colour, float)
    for colour in (
        (150, 184, 214), (224, 232, 234), (122, 143, 118), (143, 163, 92), (172, 160, 108), (126, 99, 70),
        (96, 120, 124),
    )
)  # fmt: skip

LETTERS = {
    "I": ("###", ".#.", ".#.", ".#.", "###"),
    "N": ("#...#", "##..#", "#.#.#", "#..##", "#...#"),
    "V": ("#...#", "#...#", "#...#", ".#.#.", "..#.."),
    "E": ("####", "#...", "###.", "#...", "####"),
    "T": ("#####", "..#..", "..#..", "..#..", "..#.."),
    "D": ("###.", "#..#", "#..#", "#..#", "###."),
}


def point_rows() -> dict[str, object]:
    """Return the photo points as columns."""
    east, north, name, bearing, height, note = map(list, zip(*POINTS, strict=True))
    return {
        "x": np.array(east) + CORNER[0],
        "y": np.array(north) + CORNER[1],
        "name": name,
        "bearing_deg": bearing,
        "height_m": height,
        "note": note,
    }


def photo_rows() -> dict[str, object]:
    """Return the photographs as columns."""
    point, path, day, caption = map(list, zip(*PHOTOS, strict=True))
    return {
        "photo_point": point,
        "path": path,
        "taken_on": np.array(day, "datetime64[s]"),
        "caption": caption,
        "note": ["painted, no photograph"] * len(PHOTOS),
    }


def painted(name: str) -> NDArray[np.uint8]:
    """Return one of the pictures, shape (HIGH, WIDE, 3)."""
    rng = np.random.default_rng(SEED)
    picture = _land(rng)
    if name.startswith("creek"):
        _creek(picture, rng, grazed="2016" in name)
    else:
        _stand(picture, rng)
    small = picture.reshape(HIGH, FINER, WIDE, FINER, 3).mean(axis=(1, 3))
    _say_invented(small)
    return np.clip(small, 0, 255).astype(np.uint8)


def write_photos(folder: Path) -> None:
    """Write the pictures as JPEG."""
    for _, name, _, _ in PHOTOS:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with rasterio.open(
                folder / name, "w", driver="JPEG", width=WIDE, height=HIGH, count=3, dtype="uint8", quality=78
            ) as file:
                file.write(np.moveaxis(painted(name), 2, 0))


def _places() -> tuple[Floats, Floats]:
    """Across and down of every dot as shares of the picture."""
    across = (np.arange(WIDE * FINER) + 0.5) / (WIDE * FINER)
    down = (np.arange(HIGH * FINER) + 0.5) / (HIGH * FINER)
    return np.meshgrid(across, down)


def _land(rng: np.random.Generator) -> Floats:
    """Paint sky, two ridges and a flat that gets rougher towards the eye."""
    across, down = _places()
    picture = SKY + (HAZE - SKY) * np.clip(down / HORIZON, 0, 1)[..., None]
    for height, blue in ((0.17, 0.55), (0.09, 0.2)):
        waves = sum(
            size * np.sin(across * count + rng.uniform(0, 6)) for size, count in ((0.03, 7), (0.012, 19), (0.004, 53))
        )
        ridge = down > HORIZON - height - waves
        picture[ridge] = HILL + (HAZE - HILL) * blue
    flat = down > HORIZON
    near = np.clip((down - HORIZON) / (1 - HORIZON), 0, 1)
    rough = rng.normal(0, 1, down.shape) * (3 + 9 * near)
    picture[flat] = (GRASS * (0.8 + 0.25 * near[..., None]) + rough[..., None])[flat]
    return picture


def _creek(picture: Floats, rng: np.random.Generator, *, grazed: bool) -> None:
    """Paint a creek that comes towards the eye, its banks worn and bare or planted."""
    across, down = _places()
    near = np.clip((down - HORIZON) / (1 - HORIZON), 0, 1)
    middle = 0.60 + 0.12 * np.sin(near * 4.2) * (1 - near) - 0.10 * near
    half = 0.008 + 0.15 * near**1.3
    away = np.abs(across - middle) / half
    flat = near > 0
    if grazed:
        worn = flat & (away < 2.6 + 0.4 * np.sin(down * 60))
        picture[worn] = (WORN + rng.normal(0, 9, down.shape)[..., None])[worn]
    bank = flat & (away < (1.55 if grazed else 1.15))
    picture[bank] = (EARTH * (0.8 + 0.3 * near[..., None]) + rng.normal(0, 8, down.shape)[..., None])[bank]
    water = flat & (away < 1)
    light = 0.85 + 0.35 * (1 - near) + 0.05 * np.sin(down * 240 + across * 30)
    picture[water] = (WATER * light[..., None])[water]
    rows = np.sort(rng.uniform(0.02, 1.0, 40 if grazed else 240) ** 1.5)
    for depth in rows.tolist():
        side = -1 if rng.random() < 0.55 else 1
        place = 0.60 + 0.12 * np.sin(depth * 4.2) * (1 - depth) - 0.10 * depth
        reach = (0.008 + 0.15 * depth**1.3) * (rng.uniform(3.0, 7.0) if grazed else rng.uniform(1.15, 2.7))
        size = (0.006 + 0.05 * depth) * (rng.uniform(0.2, 0.35) if grazed else rng.uniform(0.8, 2.1))
        foot = HORIZON + depth * (1 - HORIZON)
        _bush(picture, rng, place + side * reach, foot, size, slim=not grazed and rng.random() < 0.35)
    if not grazed:
        _fence(picture)


def _stand(picture: Floats, rng: np.random.Generator) -> None:
    """Paint a stand of pines on the far side of the flat, and single ones nearer."""
    for depth in np.sort(rng.uniform(0.03, 0.5, 150)).tolist():
        size = (0.02 + 0.10 * depth) * rng.uniform(0.8, 1.2)
        place = rng.uniform(0.22, 1.0) if depth < 0.3 else rng.uniform(0.45, 1.0)
        _bush(picture, rng, place, HORIZON + depth * (1 - HORIZON) * 0.8, size, slim=True)


def _bush(picture: Floats, rng: np.random.Generator, x: float, foot: float, size: float, *, slim: bool) -> None:
    """Paint one crown: leaves lit from the upper left, over a short stem."""
    wide, high = size * (0.55 if slim else 0.9), size * (2.2 if slim else 1.0) * WIDE / HIGH
    rows = slice(max(int((foot - 1.2 * high) * HIGH * FINER), 0), max(int(foot * HIGH * FINER), 0))
    columns = slice(max(int((x - wide) * WIDE * FINER), 0), max(int((x + wide) * WIDE * FINER), 0))
    part = picture[rows, columns]
    if not part.size:
        return
    across, down = (axis[rows, columns] for axis in _PLACES)
    u, v = (across - x) / wide, (foot - high * 0.55 - down) / (high * 0.55)
    edge = 1 + 0.16 * np.sin(9 * np.arctan2(v, u) + rng.uniform(0, 6))
    crown = u**2 + v**2 < edge * (0.75 if slim else 0.9)
    stem = (np.abs(u) < 0.08) & (v < 0)
    part[stem] = EARTH * 0.7
    green = np.array([rng.uniform(58, 96), rng.uniform(88, 122), rng.uniform(48, 70)])
    light = 0.85 + 0.3 * (v - u) / 2 + rng.normal(0, 0.07, u.shape)
    part[crown] = (green * light[..., None])[crown]


def _fence(picture: Floats) -> None:
    """Paint posts and two wires along the outer edge of the planting on the left."""
    across, down = _PLACES
    for depth in np.geomspace(0.06, 0.95, 11).tolist():
        foot, x = HORIZON + depth * (1 - HORIZON), 0.50 - 0.62 * depth
        post = (np.abs(across - x) < 0.002 + 0.005 * depth) & (down < foot) & (down > foot - 0.02 - 0.16 * depth)
        picture[post] = (96, 84, 70)
    near = (down - HORIZON) / (1 - HORIZON)
    for height in (0.6, 0.95):
        wire = HORIZON + ((0.50 - across) / 0.62) * (1 - HORIZON) - height * (0.02 + 0.16 * (0.50 - across) / 0.62)
        picture[(np.abs(down - wire) < 0.0011) & (across < 0.47) & (near > -0.2)] = (110, 108, 104)


def _say_invented(picture: Floats) -> None:
    """Write into the lower left corner that nothing of this exists."""
    dot, x, y = 4, 14, HIGH - 40
    width = sum(len(LETTERS[letter][0]) + 1 for letter in "INVENTED") * dot
    picture[y - 8 : y + 5 * dot + 8, x - 8 : x + width + 4] *= 0.35
    for letter in "INVENTED":
        for row, marks in enumerate(LETTERS[letter]):
            for column, mark in enumerate(marks):
                if mark == "#":
                    top, left = y + row * dot, x + column * dot
                    picture[top : top + dot, left : left + dot] = 250
        x += (len(LETTERS[letter][0]) + 1) * dot


_PLACES = _places()
