"""Rows of a source to photo points: where the camera stands and which way it looks."""

from __future__ import annotations

from typing import Any

import numpy as np

from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm
from farmmap.farm.schema import PHOTO_POINTS
from farmmap.farm.species import plain
from farmmap.files.bringing.counted import counted
from farmmap.files.bringing.shape_rows import framed
from farmmap.files.bringing.sieve import Sieve


def photo_point_changes(
    farm: Farm, values: dict[str, Any], x: np.ndarray, y: np.ndarray, sieve: Sieve, said: list[str]
) -> dict[str, Change]:
    """Return the change that brings rows in as photo points.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    values : dict of str to ndarray, shape (n,)
        Columns of ours.
    x, y : ndarray, shape (n,)
        Places on the farm's grid. [m]
    sieve : Sieve
        Rows so far good; more are refused here.
    said : list of str
        What was taken for granted is added.
    """
    names = values.get("name")
    points = farm.tables["photo_points"]
    if names is not None:
        taken = {plain(str(name)) for name in points["name"]}
        again = np.zeros(len(names), bool)
        for place in np.flatnonzero(sieve.good & (names != "")).tolist():
            again[place] = plain(str(names[place])) in taken
            taken.add(plain(str(names[place])))
        sieve.refuse(again, lambda i: f"there is a photo point '{names[i]}' already; give it another name")
    starts = np.flatnonzero(sieve.good)
    if not len(starts):
        return {}
    frame = framed(farm, PHOTO_POINTS, values, starts, {"x": x[starts], "y": y[starts]}, said)
    unturned = int(frame["bearing_deg"].isna().sum())
    if unturned:
        said.append(
            f"{counted(unturned, 'photo point has', 'photo points have')} no bearing; give it in the fields of the "
            "point, or turn the point with the Draw tool."
        )
    if unturned < len(frame):
        said.append("Bearings were taken to be from grid north.")
    return {"photo_points": Change(points.iloc[:0], frame)}
