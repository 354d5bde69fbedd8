"""What has been pruned so far: stems by height, the knotty core that is left inside, and the clear wood about it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.grounds import Grounds, grounds
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.plans.pruning.coming import Coming, coming, day_of
from farmmap.plans.pruning.readings import Prunings, prunings
from farmmap.plans.pruning.state import DUE, PAST, Pruning, pruning_of
from farmmap.plans.pruning.stems import OCCLUSION_CM, clearwood_m3, diameter_at_m, knotty_core_cm

Floats = NDArray[np.float64]

CLASS_M = 1.0
"""Width of a class of pruned heights. [m]"""

RECHECK_DAYS = 183
"""Form pruning is looked at every 6 months: farm press guide to form-correcting eucalypts (read)."""

SHARE_COLUMNS = ("name", "from_m", "below_m", "trees", "trees_per_ha", "stems_share_percent")
BLOCK_COLUMNS = (
    "name",
    "stems",
    "pruned_trees",
    "pruned_per_ha",
    "pruned_percent",
    "mean_pruned_m",
    "due_trees",
    "past_trees",
    "form_trees",
    "next_visit",
    "core_cm",
    "core_trees",
    "core_estimated_percent",
    "clearwood_percent",
    "clearwood_m3_per_ha",
    "bark",
)
BLOCK_BRIEF = ("name", "next_visit", "due_trees", "past_trees", "pruned_percent", "mean_pruned_m", "core_cm")

CORE_WORDS = (
    f"Knotty core: largest diameter over stubs and {OCCLUSION_CM:g} cm (rough guess) until they are grown over; where "
    "it was not read it is estimated from an even taper about the day of pruning."
)
COUNTED_WORDS = "Living trees; those without a pruned height count as not pruned."
NOT_OFF, ALL_OFF, SOME_OFF = "bark not taken off, as no ratio is known", "under bark", "under bark where it is known"


_BY_BLOCK: Remembered[FigureTable] = Remembered(3)


def pruned_shares(farm: Farm, on: dt.date | None = None) -> FigureTable:
    """Return how many stems of each block are pruned to each height, a row for each block and metre.

    Trees whose pruned height was never read count as not pruned: the first class of each block, from 0 m on.
    ``ids`` are those of the blocks.
    """
    found, ground = pruning_of(farm, on), grounds(farm)
    rows, ids = [], []
    for place, block in enumerate(ground.ids.tolist()):
        for part in _classes(found, ground, place):
            rows.append({"name": str(farm.blocks["name"].iloc[place]), **part})
            ids.append(int(block))
    title = f"Stems of {farm.settings.name} by height to which they are pruned, {found.there.on.isoformat()}"
    notes = (COUNTED_WORDS, "A class holds its lower bound.", *_outside(found))
    return FigureTable("pruned", title, SHARE_COLUMNS, rows, ids, notes)


def pruning_by_block(farm: Farm, on: dt.date | None = None) -> FigureTable:
    """Return what is pruned in each block, when it is visited next, the knotty core and the clear wood about it.

    Each row also holds ``pruned_heights``, its classes as in `pruned_shares`. Only blocks with trees are listed.
    """
    found, soon, ground = pruning_of(farm, on), coming(farm, on), grounds(farm)
    same = (found, soon, ground, farm.measurements, farm.tables["volumes"])
    return _BY_BLOCK.get(same, (farm.settings.name,), lambda: _by_block(farm, found, soon, ground))


def _by_block(farm: Farm, found: Pruning, soon: Coming, ground: Grounds) -> FigureTable:
    core, estimated = cores_cm(farm, found)
    bark = bark_ratios(farm, found)
    visits = _next_visits(farm, found, soon)
    rows, ids = [], []
    for place, block in enumerate(ground.ids.tolist()):
        at = np.flatnonzero(found.block == block)
        if not len(at):
            continue
        row: dict[str, object] = {"name": str(farm.blocks["name"].iloc[place]), "stems": len(at)}
        row |= _pruned_row(found, ground, place, at)
        row |= _wood_row(found, at, core, estimated, bark, float(ground.net_ha[place]))
        row |= {"next_visit": visits.get(int(block), ""), "pruned_heights": _classes(found, ground, place)}
        rows.append(row)
        ids.append(int(block))
    title = f"Pruned so far on {farm.settings.name}, {found.there.on.isoformat()}"
    notes = (
        COUNTED_WORDS,
        CORE_WORDS,
        "Clear wood: what stands in the pruned logs now outside the core.",
        *_outside(found),
    )
    return FigureTable("pruned by block", title, BLOCK_COLUMNS, rows, ids, notes, BLOCK_BRIEF)


def _outside(found: Pruning) -> tuple[str, ...]:
    """Say how many trees stand in no block, so that the table leaves them out."""
    many = int((found.block == NO_BLOCK).sum())
    words = "1 tree stands in no block and is left out." if many == 1 else f"{many} trees in no block are left out."
    return (words,) if many else ()


def cores_cm(farm: Farm, found: Pruning) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the knotty core of each tree, nan where it is not known, and whether its thickest lift is estimated."""
    done: Prunings = prunings(farm, found.there.on)
    ids = found.there.ids
    core, estimated = np.full(len(ids), np.nan), np.zeros(len(ids), bool)
    known = ~np.isnan(done.dos_cm)
    if not known.any() or not len(ids):
        return core, estimated
    tree, dos, read = done.tree[known], done.dos_cm[known], done.was_read[known]
    order = np.lexsort((dos, tree))
    last = order[np.append(tree[order][1:] != tree[order][:-1], True)]
    place = np.minimum(np.searchsorted(ids, tree[last]), len(ids) - 1)
    mine = ids[place] == tree[last]
    core[place[mine]] = knotty_core_cm(dos[last][mine])
    estimated[place[mine]] = ~read[last][mine]
    return core, estimated


def bark_ratios(farm: Farm, found: Pruning) -> Floats:
    """Return diameter under bark ÷ over bark of each tree from the farm's own stem volumes, nan where there is none."""
    volumes = farm.tables["volumes"].dropna(subset=["bark_ratio"])
    known = dict(zip(volumes["species"], volumes["bark_ratio"], strict=True))
    ratios = [known.get(code, known.get("", np.nan)) for code in found.there.species_names]
    return np.array([*ratios, np.nan], np.float64)[found.there.species]


def _classes(found: Pruning, ground: Grounds, place: int) -> list[dict[str, object]]:
    """Trees of a block by the height to which they are pruned, from not pruned up to the highest without a gap."""
    at = np.flatnonzero(found.block == ground.ids[place])
    if not len(at):
        return []
    counts = np.bincount(np.floor(found.pruned_m[at] / CLASS_M + 1e-9).astype(np.int64))
    area = float(ground.net_ha[place])
    return [
        {
            "from_m": number * CLASS_M,
            "below_m": (number + 1) * CLASS_M,
            "trees": int(count),
            "trees_per_ha": int(count) / area if area else None,
            "stems_share_percent": 100 * int(count) / len(at),
            "stems": len(at),
            "net_area_ha": area,
        }
        for number, count in enumerate(counts)
    ]


def _pruned_row(found: Pruning, ground: Grounds, place: int, at: NDArray[np.intp]) -> dict[str, object]:
    pruned, state = found.pruned_m[at], found.state[at]
    done = pruned > 0
    area = float(ground.net_ha[place])
    return {
        "net_area_ha": area,
        "pruned_trees": int(done.sum()),
        "pruned_per_ha": int(done.sum()) / area if area else None,
        "pruned_percent": 100 * int(done.sum()) / len(at),
        "mean_pruned_m": float(pruned[done].mean()) if done.any() else None,
        "due_trees": int((state == DUE).sum()),
        "past_trees": int((state == PAST).sum()),
        "form_trees": int(found.form_due[at].sum()),
    }


def _wood_row(
    found: Pruning,
    at: NDArray[np.intp],
    core: Floats,
    estimated: NDArray[np.bool_],
    bark: Floats,
    area_ha: float,
) -> dict[str, object]:
    """Knotty core and clear wood of the pruned trees of a block."""
    known = at[~np.isnan(core[at])]
    row: dict[str, object] = {
        "core_trees": len(known),
        "core_cm": float(core[known].mean()) if len(known) else None,
        "core_estimated_percent": 100 * float(estimated[known].mean()) if len(known) else None,
        "clearwood_percent": None,
        "clearwood_m3_per_ha": None,
        "bark": "",
    }
    there, length = found.there, found.pruned_m[known]
    middle = diameter_at_m(length / 2, there.dbh_cm[known], found.height_m[known], there.breast_height_m)
    has = ~np.isnan(middle) & (length > 0)
    if not has.any():
        return row
    ratio = bark[known][has]
    mean = middle[has] * np.where(np.isnan(ratio), 1.0, ratio)
    clear = float(clearwood_m3(length[has], mean, core[known][has]).sum())
    whole = float(clearwood_m3(length[has], mean, 0.0).sum())
    of_bark = NOT_OFF if np.isnan(ratio).all() else SOME_OFF if np.isnan(ratio).any() else ALL_OFF
    return row | {
        "clearwood_percent": 100 * clear / whole,
        "clearwood_m3_per_ha": clear / area_ha if area_ha else None,
        "bark": of_bark,
    }


def _next_visits(farm: Farm, found: Pruning, soon: Coming) -> dict[int, str]:
    """Day of the next visit by block, as ISO text; blocks of which nothing can be said are left out."""
    day = found.there.on
    visits: dict[int, dt.date] = dict.fromkeys(np.unique(found.block[found.state == DUE]).tolist(), day)
    later = np.flatnonzero(~np.isnan(soon.year))
    first = pd.Series(soon.year[later]).groupby(found.block[later]).min()
    for block, year in first.items():
        visits.setdefault(int(str(block)), day_of(float(year)))
    form = np.flatnonzero(found.form_due)
    if len(form):
        read = _last_read(farm, found)
        for block in np.unique(found.block[form]).tolist():
            last = read[form[found.block[form] == block]].max()
            again = day if np.isnat(last) else max(day, last.astype(object) + dt.timedelta(days=RECHECK_DAYS))
            visits[block] = min(visits.get(block, again), again)
    return {block: visit.isoformat() for block, visit in visits.items()}


def _last_read(farm: Farm, found: Pruning) -> NDArray[np.datetime64]:
    """Day on which each tree was last read of anything, by the day of the table."""
    day = farm.measurements["measured_on"].to_numpy("datetime64[D]")
    rows = day <= np.datetime64(found.there.on, "D")
    newest = pd.Series(day[rows]).groupby(farm.measurements["tree"].to_numpy()[rows]).max()
    return newest.reindex(found.there.ids).to_numpy("datetime64[D]")
