"""Which trees are due for which lift and when the others will be: tree by tree, and by block and year."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.grounds import grounds
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import ColumnRows, FigureTable, plain_list
from farmmap.figures.standing import later_note
from farmmap.plans.pruning.cautions import near_power_lines
from farmmap.plans.pruning.coming import NOT_ENOUGH, Coming, coming, year_words
from farmmap.plans.pruning.lifts import regimes_of
from farmmap.plans.pruning.state import DUE, LATER, MOST_CROWN_TAKEN_PERCENT, PAST, WORTH_M, Pruning, pruning_of
from farmmap.plans.pruning.stems import knotty_core_cm

DUE_COLUMNS = (
    "tag",
    "species",
    "block",
    "due",
    "lift",
    "lift_to_m",
    "prune_now_m",
    "to_do",
    "stubs_cm",
    "stubs_from",
    "dbh_cm",
    "height_m",
    "height_from",
    "pruned_m",
    "crown_left_percent",
    "crown_taken_percent",
    "mark",
    "form",
    "due_year",
    "due_year_low",
    "due_year_high",
    "due_from",
)
DUE_BRIEF = ("tag", "species", "block", "due", "lift", "lift_to_m", "prune_now_m", "stubs_cm", "to_do")
BY_BLOCK_COLUMNS = ("name", "due", "lift", "trees", "species", "lift_to_m", "trees_per_ha", "near_line", "due_year")
BY_BLOCK_BRIEF = ("name", "due", "lift", "trees", "species", "lift_to_m", "trees_per_ha")

NOW, TOO_LATE, FORM_WORDS = "now", "past the limit", "form, every 6 months"
STUBS_WORDS = (
    "Diameter over stubs is estimated from an even taper of the stem where it was not read, stubs not counted."
)
DUE_WORDS = (
    "Due: as tall or as thick over the stubs as the lift says, with enough green crown left. A year is by forecast of "
    f"the diameter (80 % interval), or by mean growth in height; else it says {NOT_ENOUGH}."
)
CHOSEN_WORDS = (
    "Chosen for a lift, up to its stems per hectare: crop trees, then those pruned before, those not past the limit, "
    "the better form, the thicker stem. In a mixed block each species has its part."
)
NO_BLOCK_WORDS = "no block"
NEAR_LINE = "near a power line"


_BY_BLOCK: Remembered[FigureTable] = Remembered(3)


def due(
    farm: Farm, on: dt.date | None = None, block: int | None = None, ids: NDArray[np.int64] | None = None
) -> FigureTable:
    """Return the trees whose next lift is due or comes later, those that are due first, then by year.

    Trees that are left unpruned, taken out, or pruned as high as they are to be are not listed.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for that of the newest measurement.
    block : int or None
        Only the trees of this block.
    ids : ndarray of int64 or None
        Just these trees, as far as they stand on the day, whether they are to be pruned or not.

    Raises
    ------
    BadInput
        The farm has no such block.
    """
    found, soon = pruning_of(farm, on), coming(farm, on)
    places = found.wanted if ids is None else np.flatnonzero(np.isin(found.there.ids, ids))
    if block is not None:
        if block not in farm.blocks.index:
            raise BadInput(f"the farm has no block with id {block}")
        places = places[found.block[places] == block]
    group = np.select([found.state[places] == DUE, found.state[places] == LATER], [0, 1], 2)
    order = np.lexsort((found.there.ids[places], found.lift[places], soon.year[places], group))
    places = places[order]
    title = f"Trees to be pruned on {farm.settings.name}, {found.there.on.isoformat()}"
    tree_ids = found.there.ids[places].tolist()
    return FigureTable(
        "due", title, DUE_COLUMNS, _rows(farm, found, soon, places), tree_ids, _notes(farm, found), DUE_BRIEF
    )


def due_by_block(farm: Farm, on: dt.date | None = None) -> FigureTable:
    """Return how many trees of each block and species are due for which lift, now and by year, soonest first.

    ``ids`` are those of the blocks; each row also holds ``tree_ids``, the trees that it is about.
    """
    found, soon = pruning_of(farm, on), coming(farm, on)
    same = (found, soon, farm.hazards, farm.tracks, farm.creeks)
    return _BY_BLOCK.get(same, (farm.settings.name,), lambda: _by_block(farm, found, soon))


def _by_block(farm: Farm, found: Pruning, soon: Coming) -> FigureTable:
    lines = [*_lift_rows(farm, found, soon), *_form_rows(farm, found)]
    place = {int(block): number for number, block in enumerate(farm.blocks.index)}
    lines.sort(key=lambda line: (*_first_what_is_due(line[1]), place.get(line[0], len(place))))
    ids, rows = [block for block, _ in lines], [row for _, row in lines]
    title = f"Pruning of {farm.settings.name} by block and year, {found.there.on.isoformat()}"
    return FigureTable("pruning", title, BY_BLOCK_COLUMNS, rows, ids, _notes(farm, found), BY_BLOCK_BRIEF)


def _first_what_is_due(row: Mapping[str, Any]) -> tuple[object, ...]:
    """Return what sorts rows: now, form pruning, by year, nothing to be said, and last what is past the limit."""
    later = row["due_year"] if row["due_year"] is not None else np.inf
    group = {NOW: 0, FORM_WORDS: 1, TOO_LATE: 3}.get(row["due"], 2)
    return group, later


def block_names(farm: Farm, block: NDArray[np.int64]) -> NDArray[np.object_]:
    """Return the names of blocks by id, ``no block`` where there is none."""
    names = np.array([*farm.blocks["name"], NO_BLOCK_WORDS], object)
    return names[farm.blocks.index.get_indexer(block)]


def _rows(farm: Farm, found: Pruning, soon: Coming, places: NDArray[np.intp]) -> ColumnRows:
    there, trees = found.there, farm.trees
    at = there.places[places]
    state, year = found.state[places], soon.year[places]
    labels = np.array([*there.species_labels, ""], object)
    height, now_to = found.height_m[places], found.to_now_m[places]
    with np.errstate(invalid="ignore", divide="ignore"):
        left = np.where(height > 0, 100 * (height - now_to) / height, np.nan)
    is_due = state != LATER
    return ColumnRows(
        {
            "tag": trees["tag"].to_numpy(object)[at].tolist(),
            "species": labels[there.species[places]].tolist(),
            "block": block_names(farm, found.block[places]).tolist(),
            "due": due_words(found, soon, places),
            "lift": found.lift[places],
            "lift_to_m": found.to_m[places],
            "prune_now_m": np.where(is_due, now_to, np.nan),
            "to_do": _to_do(found, places, near_power_lines(farm, found, places)),
            "stubs_cm": found.dos_cm[places],
            "stubs_from": _from(found.dos_cm[places], found.dos_was_read[places], "read", "estimated from taper"),
            "lowest_stubs_m": found.lowest_m[places],
            "dbh_cm": there.dbh_cm[places],
            "height_m": height,
            "height_from": _from(height, ~found.height_estimated[places], "read", "its neighbours"),
            "pruned_m": found.pruned_m[places],
            "crown_left_percent": np.where(is_due, left, np.nan),
            "crown_taken_percent": np.where(is_due, found.taken_percent[places], np.nan),
            "mark": found.mark[places].tolist(),
            "form": found.form[places].tolist(),
            "due_year": whole_years(found, year, is_due),
            "due_year_low": _whole(soon.low[places]),
            "due_year_high": _whole(soon.high[places]),
            "due_from": np.where(is_due, "", soon.method[places]).tolist(),
        }
    )


def whole_years(found: Pruning, year: NDArray[np.float64], is_due: NDArray[np.bool_]) -> list[object]:
    """Return the calendar years in which lifts are due, None where that is not known."""
    return _whole(np.where(is_due, found.there.on.year, year))


def due_words(found: Pruning, soon: Coming, places: NDArray[np.intp]) -> list[str]:
    """Return when each lift is due, in words."""
    state, answers = found.state[places], np.full(len(places), NOW, object)
    answers[state == PAST] = TOO_LATE
    later = np.flatnonzero(state == LATER)
    keys = np.column_stack([values[places[later]] for values in (soon.year, soon.low, soon.high)])
    spans = np.where(np.isfinite(keys), np.floor(keys), keys)
    told: dict[tuple[float, ...], str] = {}
    for place, span in zip(later.tolist(), map(tuple, spans.tolist()), strict=True):
        if span not in told:
            told[span] = year_words(*span)
        answers[place] = told[span]
    return list(answers)


def _to_do(found: Pruning, places: NDArray[np.intp], near: NDArray[np.bool_]) -> list[str]:
    """Return what is to be looked at or decided with each tree."""
    state = found.state[places]
    to_now, to, pruned = found.to_now_m[places], found.to_m[places], found.pruned_m[places]
    out = np.full(len(places), "", object)
    with np.errstate(invalid="ignore"):
        part = (state == DUE) & (to_now < to - WORTH_M)
        much = (state == DUE) & (found.taken_percent[places] > MOST_CROWN_TAKEN_PERCENT)
    unknown = (state == DUE) & np.isnan(found.height_m[places])
    out[part] = "only part of the lift now, so that enough crown stays"
    out[much] = "takes off more than half of the crown; lift it in two steps"
    out[unknown] = "height not known: leave half of the tree green"
    past = np.flatnonzero(state == PAST)
    core = knotty_core_cm(found.dos_cm[places[past]])
    out[past] = [
        f"core would be about {width} cm; prune it only if it grows to {2 * width} cm, else a thinner neighbour"
        for width in np.rint(core).astype(np.int64).tolist()
    ]
    poor = (state == DUE) & (found.form[places] == "poor") & (out == "") & (pruned == 0)
    out[poor] = "poor form: is it worth it"
    guessed = (state == DUE) & found.height_estimated[places] & (out == "")
    out[guessed] = "its height was not read; look first"
    out[near] = np.where(out[near] == "", NEAR_LINE, NEAR_LINE + "; " + out[near])
    return list(out)


def _lift_rows(farm: Farm, found: Pruning, soon: Coming) -> list[tuple[int, dict[str, object]]]:
    places = found.wanted
    if not len(places):
        return []
    near = np.zeros(len(found.there), bool)
    near[places] = near_power_lines(farm, found, places)
    state = found.state[places]
    frame = pd.DataFrame(
        {
            "block": found.block[places],
            "when": np.select([state == DUE, state == PAST], [0, 2], 1),
            "year": np.where(state == LATER, np.floor(soon.year[places]), found.there.on.year),
            "species": found.there.species[places],
            "lift": found.lift[places],
            "to_m": found.to_m[places],
            "near": near[places],
            "id": found.there.ids[places],
        }
    )
    rows = []
    for key, group in frame.groupby(["block", "when", "year", "lift", "to_m", "species"], dropna=False):
        block, when, year, lift, to_m, species = key
        row = _row(farm, found, int(block), int(species), group["id"].to_numpy(np.int64))
        later = NOT_ENOUGH if np.isnan(year) else f"{int(year)}"
        row |= {
            "due": (NOW, later, TOO_LATE)[int(when)],
            "due_year": None if np.isnan(year) else int(year),
            "lift": int(lift),
            "lift_to_m": float(to_m),
            "near_line": int(group["near"].sum()),
        }
        rows.append((int(block), row))
    return rows


def _form_rows(farm: Farm, found: Pruning) -> list[tuple[int, dict[str, object]]]:
    places = np.flatnonzero(found.form_due)
    frame = pd.DataFrame({"block": found.block[places], "species": found.there.species[places], "place": places})
    rows = []
    for (block, species), group in frame.groupby(["block", "species"]):
        mine = group["place"].to_numpy(np.intp)
        row = _row(farm, found, int(block), int(species), found.there.ids[mine])
        form = found.regimes[int(found.regime[mine[0]])].form
        row |= {
            "due": FORM_WORDS,
            "due_year": found.there.on.year,
            "lift": None,
            "lift_to_m": None if form is None else form.to_m,
            "near_line": int(near_power_lines(farm, found, mine).sum()),
        }
        rows.append((int(block), row))
    return rows


def _row(farm: Farm, found: Pruning, block: int, species: int, ids: NDArray[np.int64]) -> dict[str, object]:
    ground = grounds(farm)
    area = None if block == NO_BLOCK else float(ground.net_ha[int(np.searchsorted(ground.ids, block))])
    return {
        "name": str(block_names(farm, np.array([block]))[0]),
        "species": found.there.species_labels[species],
        "trees": len(ids),
        "trees_per_ha": len(ids) / area if area else None,
        "net_area_ha": area,
        "tree_ids": ids.tolist(),
    }


def _notes(farm: Farm, found: Pruning) -> tuple[str, ...]:
    day = found.there.on
    return (
        f"Living trees; diameters are forecast for {day.isoformat()}, heights are as last read."
        if found.there.forecast
        else f"Living trees and what was measured of them by {day.isoformat()}; an old reading tells of its day.",
        STUBS_WORDS,
        *regimes_of(farm).troubles,
        DUE_WORDS,
        CHOSEN_WORDS,
        "Heights that were not read are the middle height of the species in its block, where at least 3 were read.",
        *later_note(farm, day),
    )


def _from(values: NDArray[np.float64], first: NDArray[np.bool_], one: str, other: str) -> list[str]:
    return np.where(np.isnan(values), "", np.where(first, one, other)).tolist()


def _whole(years: NDArray[np.float64]) -> list[object]:
    return [None if value is None else int(value) for value in plain_list(years)]  # type: ignore[call-overload]
