"""The marking list: which tree gets which mark, in walking order, handed on as GPX and CSV."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.files.placing import part_file, put_in_place
from farmmap.files.waypoints import (
    DEGREE_PLACES,
    decimals,
    gpx,
    lon_lat,
    point_end,
    points,
    refuse_local,
    refuse_unplaced,
    xml_text,
)
from farmmap.plans.thinning.result import CROP, LEAVE, MARK_WORDS, TAKE, Thinning
from farmmap.plans.thinning.stand import block_trees
from farmmap.plans.walk import to_next, walk_order

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm

Floats = NDArray[np.float64]
Texts = NDArray[np.object_]

MARKING_COLUMNS = (
    "number",
    "tag",
    "species",
    "name",
    "dbh_cm",
    "height_m",
    "mark",
    "x",
    "y",
    "lat",
    "lon",
    "to_next_m",
    "to_next_deg",
)
METRE_PLACES = 2
ENDINGS = (".gpx", ".csv")


@dataclass(frozen=True, eq=False)
class MarkingList:
    """Marked trees in walking order; the first is number 1. Arrays have shape (n,).

    Attributes
    ----------
    ids : ndarray of int64
        Ids of the trees.
    tag, species, name, mark : ndarray of str
        Tag, code and trade name of the species, and ``crop`` or ``take``.
    dbh_cm, height_m : ndarray
        nan where not measured. [cm, m]
    x, y : ndarray
        On the farm's grid. [grid m]
    lon, lat : ndarray
        On WGS 84; nan on a local grid. [degrees]
    to_next_m, to_next_deg : ndarray
        Level distance and bearing to the next tree, nan for the last: from true north, or from the grid's north on a
        local grid. [ground m, degrees]
    """

    ids: NDArray[np.int64]
    tag: Texts
    species: Texts
    name: Texts
    mark: Texts
    dbh_cm: Floats
    height_m: Floats
    x: Floats
    y: Floats
    lon: Floats
    lat: Floats
    to_next_m: Floats
    to_next_deg: Floats

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def walk_m(self) -> float:
        """Length of the whole walk. [ground m]."""
        return float(np.nansum(self.to_next_m))


def marking_list(farm: Farm, thinning: Thinning) -> MarkingList:
    """Return the marked trees of a thinning in walking order.

    Parameters
    ----------
    farm : Farm
        The farm that it was made for.
    thinning : Thinning
        The thinning.
    """
    trees = block_trees(farm, thinning.block, thinning.on)
    some = np.flatnonzero(thinning.mark != LEAVE)
    order = some[walk_order(trees.east_m[some], trees.north_m[some])]
    x, y = trees.x[order], trees.y[order]
    lon, lat = lon_lat(farm.grid, x, y)
    away, bearing = to_next(farm.grid, x, y)
    names, labels = (
        np.array([*given, ""], object) for given in (trees.there.species_names, trees.there.species_labels)
    )
    kind = trees.species[order]
    return MarkingList(
        trees.ids[order], trees.tags[order], names[kind], labels[kind], thinning.mark[order], trees.dbh_cm[order],
        trees.height_m[order], x, y, lon, lat, away, bearing,
    )  # fmt: skip


def write_marking(farm: Farm, thinning: Thinning, path: str | Path) -> int:
    """Write the marking list of a thinning.

    Parameters
    ----------
    farm : Farm
        The farm that it was made for.
    thinning : Thinning
        The thinning.
    path : str or Path
        Ends in ``.gpx`` (for a GPS: trees as points) or ``.csv``.

    Returns
    -------
    int
        How many trees are on it.

    Raises
    ------
    BadInput
        It has another ending, no tree is marked, there are no longitudes and latitudes for a GPX, or it cannot be
        written. What was there is as it was.
    """
    path = Path(path).resolve()
    ending = path.suffix.casefold()
    if ending not in ENDINGS:
        raise BadInput(f"{path.name}: end its name in .gpx or .csv, so that it is known what to write")
    if path.is_dir():
        raise BadInput(f"{path} is a folder; name a file in it")
    listed = marking_list(farm, thinning)
    if not len(listed):
        raise BadInput(f"no tree of {thinning.name} is marked, so there is no list to write")
    if ending == ".gpx":
        refuse_local(path.name, farm.grid)
        refuse_unplaced(listed.lon, "some of the trees stand")
    text = _gpx(thinning, listed) if ending == ".gpx" else _csv(listed)
    try:
        with part_file(path) as part:
            part.write_text(text, encoding="utf-8" if ending == ".gpx" else "utf-8-sig", newline="")
            put_in_place(part, path)
    except OSError as error:
        raise BadInput(f"{path} cannot be written: {error.strerror}. Choose a folder that may be written to") from error
    return len(listed)


def _csv(listed: MarkingList) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(MARKING_COLUMNS)
    writer.writerows(
        zip(
            range(1, len(listed) + 1),
            listed.tag.tolist(),
            listed.species.tolist(),
            listed.name.tolist(),
            decimals(listed.dbh_cm, 1),
            decimals(listed.height_m, 1),
            listed.mark.tolist(),
            decimals(listed.x, METRE_PLACES),
            decimals(listed.y, METRE_PLACES),
            decimals(listed.lat, DEGREE_PLACES),
            decimals(listed.lon, DEGREE_PLACES),
            decimals(listed.to_next_m, 1),
            decimals(listed.to_next_deg, 0),
            strict=True,
        )
    )
    return out.getvalue()


def _gpx(thinning: Thinning, listed: MarkingList) -> str:
    """Return a point for each tree, its number, tag and mark as name."""
    signs = {TAKE: "Take", CROP: "Crop"}
    names = [
        xml_text(" ".join(word for word in (str(number), tag, signs[mark]) if word))
        for number, (tag, mark) in enumerate(zip(listed.tag.tolist(), listed.mark.tolist(), strict=True), start=1)
    ]
    ends = []
    for name, mark, dbh, away, bearing in zip(
        listed.name.tolist(), listed.mark.tolist(), decimals(listed.dbh_cm, 1), decimals(listed.to_next_m, 0),
        decimals(listed.to_next_deg, 0), strict=True,
    ):  # fmt: skip
        told = [MARK_WORDS[mark], name, f"{dbh} cm" if dbh else "not measured"]
        told += [f"next: {away} m at {bearing}°"] if away and bearing else []
        ends.append(point_end(mark, ", ".join(word for word in told if word)))
    return gpx(f"Thinning of {thinning.name}", points(listed.lon, listed.lat, names, ends))
