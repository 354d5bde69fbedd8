"""A round through a block to measure its trees: which, what was read of them last, and the way between them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of, rows_at
from farmmap.figures.blocks import members_of
from farmmap.figures.standing import standing_of
from farmmap.figures.tape import tape_of
from farmmap.plans.walk import to_next, walk_order

Floats = NDArray[np.float64]
Texts = NDArray[np.object_]
Days = NDArray[np.datetime64]

CROP = "crop"


@dataclass(frozen=True, eq=False)
class MeasuringRound:
    """Living trees of a block in walking order; the first is number 1. Arrays have shape (n,).

    Attributes
    ----------
    name : str
        Name of the block.
    on : date
        Day on which they stand.
    ids : ndarray of int64
        Ids of the trees.
    tag, species, mark : ndarray of str
        Tag, trade name of the species, and ``crop``, ``take`` or "".
    stems : ndarray of int64
        Stems of each.
    dbh_cm, dbh_on : ndarray
        Last diameter and its day; nan and NaT where there is none. [cm]
    height_m, height_on : ndarray
        Last height and its day. [m]
    x, y : ndarray
        On the farm's grid. [grid m]
    to_next_m, to_next_deg : ndarray
        The way to the next tree, as `farmmap.plans.walk.to_next` gives it. [ground m, degrees]
    """

    name: str
    on: dt.date
    ids: NDArray[np.int64]
    tag: Texts
    species: Texts
    mark: Texts
    stems: NDArray[np.int64]
    dbh_cm: Floats
    dbh_on: Days
    height_m: Floats
    height_on: Days
    x: Floats
    y: Floats
    to_next_m: Floats
    to_next_deg: Floats

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def walk_m(self) -> float:
        """Length of the whole walk. [ground m]."""
        return float(np.nansum(self.to_next_m))


def measuring_round(farm: Farm, block: int, on: dt.date, *, crop_only: bool = False) -> MeasuringRound:
    """Return the trees of a block that are to be measured, in walking order.

    Parameters
    ----------
    farm : Farm
        The farm.
    block : int
        Id of the block.
    on : date
        Day of the round: trees that live then, with what was read of them by then. Nothing is forecast.
    crop_only : bool
        Whether only trees that are marked as crop trees are measured.

    Raises
    ------
    BadInput
        There is no such block.
    """
    if block not in farm.blocks.index:
        raise BadInput(f"block {block} is not on the farm any more; choose another")
    tape = tape_of(farm.measurements)
    there = standing_of(farm, on, tape)
    places = there.at_row(members_of(farm).trees_of(block))
    places = places[places >= 0]
    marks = np.asarray(rows_at(columns_of(farm.trees)["mark"], there.places), object)
    if crop_only:
        places = places[marks[places] == CROP]
    scale = farm.grid.scale(float(there.x[places].mean()), float(there.y[places].mean())) if len(places) else 1.0
    places = places[walk_order(there.x[places] / scale, there.y[places] / scale)]
    away, bearing = to_next(farm.grid, there.x[places], there.y[places])
    tags = np.asarray(rows_at(columns_of(farm.trees)["tag"], there.places[places]), object)
    labels = np.array([*there.species_labels, ""], object)
    height, height_on = _last(*tape.all_readings("height_m"), there.ids[places], np.datetime64(on, "D"))
    return MeasuringRound(
        name=str(farm.blocks["name"].loc[block]),
        on=on,
        ids=there.ids[places],
        tag=tags,
        species=labels[there.species[places]],
        mark=marks[places],
        stems=there.stems[places],
        dbh_cm=there.dbh_cm[places],
        dbh_on=there.measured_on[places],
        height_m=height,
        height_on=height_on,
        x=there.x[places],
        y=there.y[places],
        to_next_m=away,
        to_next_deg=bearing,
    )


def _last(
    tree: NDArray[np.int64], day: Days, value: Floats, ids: NDArray[np.int64], on: np.datetime64
) -> tuple[Floats, Days]:
    """Return the last reading of each tree by a day, and its day; readings in the order of tree and day."""
    values, days = np.full(len(ids), np.nan), np.full(len(ids), np.datetime64("NaT"), "datetime64[D]")
    in_time = day <= on
    tree, day, value = tree[in_time], day[in_time], value[in_time]
    after = np.searchsorted(tree, ids, side="right")
    some = after > np.searchsorted(tree, ids, side="left")
    values[some], days[some] = value[after[some] - 1], day[after[some] - 1]
    return values, days
