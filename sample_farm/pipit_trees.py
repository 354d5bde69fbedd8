"""Where the trees of Pipit Downs stand: rows, poles, natural scatter and creek-side plantings."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pipit_ground import Ground
from shapely.geometry.base import BaseGeometry

POWER_LINE_CLEAR_M = 4.0
TRACK_CLEAR_M = 3.0


@dataclass(frozen=True)
class Planting:
    """How one block was planted.

    Attributes
    ----------
    block, prefix : str
        Name of the block, and what its tags begin with.
    shares : dict of str to float
        Share of each species, by code.
    planted : str
        Year or date of planting; "" for trees that came by themselves.
    stock : str
        What was planted.
    rows_m, apart_m : float
        Distance of the rows, and along the row. [m]
    turned_deg : float
        Turn of the rows against grid east, anticlockwise. [degrees]
    jitter_m : float
        Standard deviation of a tree's place about its spot. [m]
    scatter : int
        Natural scatter instead of rows: number of trees wished for, with ``apart_m`` as the least distance.
    lost : float
        Share of spots where nothing grew on.
    in_rows : bool
        Whether each row holds one species.
    stage : str
        ``existing`` or ``planned``.
    heights : str
        Of which trees the height was taken: ``some``, ``thickest`` (the thickest 100/ha and some) or ``most``.
    surveys : tuple of str
        Days on which the block was measured.
    """

    block: str
    prefix: str
    shares: dict[str, float]
    planted: str
    stock: str = "seedling"
    rows_m: float = 4.0
    apart_m: float = 4.0
    turned_deg: float = 0.0
    jitter_m: float = 0.2
    scatter: int = 0
    lost: float = 0.05
    in_rows: bool = False
    stage: str = "existing"
    heights: str = "some"
    surveys: tuple[str, ...] = field(default=())


PLANTINGS = (
    Planting("Ridge Pines", "RP", {"PRAD": 1}, "2004-07", rows_m=5, apart_m=4.2, turned_deg=4, lost=0.06,
             heights="thickest", surveys=("2011-05-10", "2016-05-17", "2021-04-20", "2026-04-14")),
    Planting("North Terrace", "NT", {"SSEM": 1}, "2009-08", rows_m=5, apart_m=5, turned_deg=-8, lost=0.07,
             heights="thickest", surveys=("2014-05-06", "2018-05-15", "2022-05-10", "2026-04-15")),
    Planting("Lusitanica Corner", "LC", {"HLUS": 1}, "2011-08-20", rows_m=5, apart_m=4.2, turned_deg=-5, lost=0.08,
             heights="thickest", surveys=("2017-05-09", "2021-04-22", "2026-04-16")),
    Planting("Stringybark Spur", "SS", {"EGLI": 0.65, "EBOS": 0.35}, "2014-09", rows_m=4.5, apart_m=4,
             turned_deg=-8, lost=0.1, in_rows=True, heights="thickest",
             surveys=("2019-05-14", "2022-05-11", "2026-04-17")),
    Planting("Blackwood Gully", "BG", {"AMEL": 0.85, "ADEA": 0.15}, "2012-08", rows_m=6, apart_m=5, turned_deg=-8,
             jitter_m=0.5, lost=0.1, surveys=("2018-05-16", "2022-05-12", "2026-04-21")),
    Planting("Poplar Face", "PF", {"PCAN": 0.8, "SMAT": 0.2}, "2010-07", stock="pole", rows_m=10, apart_m=10,
             turned_deg=3, jitter_m=0.8, lost=0.14, surveys=("2014-05-07", "2018-05-17", "2022-05-13", "2026-04-22")),
    Planting("Home Woodlot", "HW", {"QROB": 0.45, "PAVI": 0.25, "AGLU": 0.3}, "1998", rows_m=5, apart_m=4.2,
             turned_deg=-3, jitter_m=0.4, lost=0.18,
             heights="thickest", surveys=("2011-05-12", "2016-05-18", "2021-04-21", "2026-04-23")),
    Planting("Walnut Rows", "WR", {"JNIG": 0.8, "JREG": 0.2}, "2013-08", rows_m=12, apart_m=6, turned_deg=-4,
             jitter_m=0.15, lost=0.05, in_rows=True, surveys=("2019-05-15", "2022-05-14", "2026-04-24")),
    Planting("Road Shelterbelt", "RS", {"HMAC": 1}, "2006", rows_m=5.5, apart_m=3.5, turned_deg=92.4, lost=0.05,
             surveys=("2011-05-13", "2016-05-19", "2021-04-23", "2026-04-28")),
    Planting("Kānuka Remnant", "KR", {"KROB": 0.5, "PTOT": 0.2, "DDAC": 0.08, "SMIC": 0.07, "MRAM": 0.15}, "",
             stock="natural", scatter=440, apart_m=2.4,
             surveys=("2011-05-17", "2016-05-24", "2021-04-28", "2026-04-29")),
    Planting("Sedge Left Bank", "LB", {"LSCO": 0.4, "PREG": 0.2, "CAUS": 0.2, "SMIC": 0.1, "DDAC": 0.1}, "2017-06",
             scatter=620, apart_m=1.6, surveys=("2021-05-04", "2023-05-09", "2026-05-05")),
    Planting("Sedge Right Bank", "RB", {"SALB": 0.3, "SMAT": 0.2, "CAUS": 0.2, "PREG": 0.3}, "2013-07",
             stock="rooted cutting", scatter=240, apart_m=3, surveys=("2018-05-22", "2022-05-17", "2026-05-06")),
    Planting("Tōtara Terrace", "TT", {"PTOT": 0.75, "LSCO": 0.25}, "2025-07", rows_m=6, apart_m=5, turned_deg=-3,
             jitter_m=0.3, lost=0.04, heights="most", surveys=("2026-05-07",)),
    Planting("Lower Flat", "LF", {"DDAC": 0.5, "PTOT": 0.3, "PREG": 0.2}, "2027-07", rows_m=8, apart_m=8,
             turned_deg=-4, lost=0, stage="planned"),
)  # fmt: skip

PLANTED_REACH = 0.52
"""Share of the left bank, from upstream, that is planted so far; the rest is planned."""


def all_trees(where: Ground, rng: np.random.Generator) -> pd.DataFrame:
    """Return every tree: block, tag, species, planted, stock, stage, x and y."""
    return pd.concat([_trees(planting, where, rng) for planting in PLANTINGS], ignore_index=True)


def _trees(planting: Planting, where: Ground, rng: np.random.Generator) -> pd.DataFrame:
    block = where.blocks[planting.block]
    room = shapely.difference(block.buffer(-0.4 if planting.scatter else -1.2), _kept_clear(where))
    if planting.scatter:
        xy = _scattered(room, planting.scatter, planting.apart_m, rng)
        row = np.arange(len(xy))
    else:
        xy, row = _in_rows(room, planting, rng)
    grew = rng.random(len(xy)) >= planting.lost * (not planting.scatter)
    xy, row = np.round(xy[grew], 2), row[grew]
    codes, shares = list(planting.shares), np.array(list(planting.shares.values()))
    if planting.in_rows:
        pattern = np.repeat(np.arange(len(codes)), np.round(shares * 20).astype(int))
        species = pattern[(row * 7) % len(pattern)]
    else:
        species = rng.choice(len(codes), size=len(xy), p=shares / shares.sum())
    frame = pd.DataFrame({
        "block": planting.block,
        "tag": [f"{planting.prefix}{number:03d}" for number in range(1, len(xy) + 1)],
        "species": np.array(codes)[species],
        "planted": planting.planted,
        "stock": planting.stock,
        "stage": planting.stage,
        "x": xy[:, 0],
        "y": xy[:, 1],
    })  # fmt: skip
    if planting.block == "Sedge Left Bank":
        along = shapely.line_locate_point(where.sedge, shapely.points(xy))
        later = along > np.quantile(along, PLANTED_REACH)
        frame.loc[later, ["stage", "planted"]] = ["planned", "2027-06"]
    return frame


def _kept_clear(where: Ground) -> BaseGeometry:
    shapes = [line.buffer(TRACK_CLEAR_M) for line in where.tracks.values()]
    shapes.append(where.hazards["Valley power line"].buffer(POWER_LINE_CLEAR_M + 0.5))
    shapes.append(where.hazards["Flat drain"].buffer(2))
    return shapely.union_all(shapes)


def _in_rows(
    room: BaseGeometry, planting: Planting, rng: np.random.Generator
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:  # fmt: skip
    middle = np.array(room.envelope.centroid.coords[0])
    reach = np.hypot(*np.ptp(np.array(room.envelope.exterior.coords), axis=0)) / 2
    across = np.arange(-reach, reach, planting.rows_m)
    along = np.arange(-reach, reach, planting.apart_m)
    spots = np.stack(np.meshgrid(along, across), axis=-1)
    row = np.repeat(np.arange(len(across)), len(along))
    spots[..., 0] += rng.uniform(0, planting.apart_m / 2, len(across))[:, None]
    spots = spots.reshape(-1, 2) + rng.normal(0, planting.jitter_m, (len(row), 2))
    turn = np.radians(planting.turned_deg)
    xy = middle + spots @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    inside = shapely.contains_xy(room, xy[:, 0], xy[:, 1])
    return xy[inside], row[inside]


def _scattered(room: BaseGeometry, wished: int, apart_m: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return points of a hard-core process: of two that are too close, the one that came later is dropped."""
    west, south, east, north = room.bounds
    thrown = rng.uniform((west, south), (east, north), (int(wished * 3 * room.envelope.area / room.area), 2))
    thrown = thrown[shapely.contains_xy(room, thrown[:, 0], thrown[:, 1])]
    points = shapely.points(thrown)
    one, other = shapely.STRtree(points).query(points, predicate="dwithin", distance=apart_m)
    crowded = np.zeros(len(thrown), bool)
    crowded[one[other < one]] = True
    return thrown[~crowded][:wished]
