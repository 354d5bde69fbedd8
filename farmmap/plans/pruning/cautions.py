"""What to look out for when trees are pruned, each said once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.prepared import prepared
from farmmap.figures.remembered import Remembered
from farmmap.plans.pruning.state import DUE, PAST, Pruning, pruning_of

NEAREST_M = 7.0
"""How near to a wire of unknown voltage work in a tree may come: safety sheet of a Canadian network, excerpt read.
Local rules go before it. [m]"""

LADDERS = (
    "Ladders and saws above the head: cut from the ground with a pole where it reaches, tie a ladder, and leave "
    "powered saws above the shoulder to those who are trained for it. Local safety codes go before anything said here."
)
HYGIENE = (
    "Clean blades from tree to tree where disease is about, cut just outside the collar, and do not prune wet bark; "
    "ask locally which diseases go round."
)


def near_power_lines(farm: Farm, found: Pruning, places: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Return which trees stand within reach of a power line.

    A tree does if it could touch the line in falling (it is as tall as it is far away), if its crown comes within
    `NEAREST_M` of it, or if it stands on the ground kept clear about it.

    Parameters
    ----------
    farm : Farm
        The farm; its hazards of the kind ``power line`` that exist.
    found : Pruning
        Where the trees stand and how tall they are.
    places : ndarray of int, shape (n,)
        Places of the trees that are asked about.
    """
    hazards = farm.hazards
    lines = hazards[(hazards["kind"] == "power line").to_numpy(bool) & (hazards["stage"] == "existing").to_numpy(bool)]
    out = np.zeros(len(places), bool)
    if not len(places):
        return out
    x, y = found.there.x[places], found.there.y[places]
    scale = farm.grid.scale(float(x.mean()), float(y.mean())) if len(lines) else 1.0
    crown = np.nan_to_num(found.there.crown_m[places]) / 2
    reach = np.fmax(found.height_m[places], crown + NEAREST_M)
    points = shapely.points(x, y)
    for shape, clear in zip(lines.geometry.to_numpy(), lines["clear_m"].to_numpy(np.float64), strict=True):
        if shape is None or shape.is_empty:
            continue
        out |= shapely.dwithin(prepared(shape), points, np.fmax(reach, np.nan_to_num(clear)) * scale)
    return out


_CAUTIONS: Remembered[tuple[str, ...]] = Remembered(3)


def cautions(farm: Farm, on: dt.date | None = None, block: int | None = None) -> tuple[str, ...]:
    """Return what to look out for with the trees that are due, in sentences; nothing if none are.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for that of the newest measurement.
    block : int or None
        Only the trees of this block.
    """
    found = pruning_of(farm, on)
    return _CAUTIONS.get((found, farm.hazards), (block,), lambda: _work_out(farm, found, block))


def _work_out(farm: Farm, found: Pruning, block: int | None) -> tuple[str, ...]:
    places = np.flatnonzero(np.isin(found.state, (DUE, PAST)) | found.form_due)
    return cautions_for(farm, found, places if block is None else places[found.block[places] == block])


def cautions_for(farm: Farm, found: Pruning, places: NDArray[np.intp]) -> tuple[str, ...]:
    """Return what to look out for with the trees at some places, in sentences; nothing if there are none."""
    if not len(places):
        return ()
    return tuple(
        word for word in (_power_words(farm, found, places), LADDERS, *_season(found, places), HYGIENE) if word
    )


def _power_words(farm: Farm, found: Pruning, places: NDArray[np.intp]) -> str:
    near = places[near_power_lines(farm, found, places)]
    if not len(near):
        return ""
    tags = [str(tag) for tag in farm.trees["tag"].to_numpy(object)[found.there.places[near]] if tag]
    many = f"{len(near)} trees" if len(near) > 1 else "1 tree"
    which = f" (tags {_few(tags, 4)})" if tags else ""
    return (
        f"Power line: {many} to be pruned within reach of one{which}. Ask the network before anybody works there; near "
        "wires it is work for licensed people."
    )


def _season(found: Pruning, places: NDArray[np.intp]) -> list[str]:
    """When to prune, as it is kept for each species; where nothing is kept, that it is not."""
    told: dict[str, list[str]] = {}
    kinds = np.unique(found.there.species[places] * len(found.regimes) + found.regime[places])
    for kind in kinds:
        species, regime = divmod(int(kind), len(found.regimes))
        names = told.setdefault(found.regimes[regime].season, [])
        if found.there.species_labels[species] not in names:
            names.append(found.there.species_labels[species])
    words = [f"Season, {_few(names)}: {season}." for season, names in sorted(told.items()) if season]
    unknown = told.get("", [])
    if unknown:
        words.append(
            f"Season, {_few(unknown)}: none is kept here, as advice differs by species and place; ask locally."
        )
    return words


def _few(names: Sequence[str], most: int = 8) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")
