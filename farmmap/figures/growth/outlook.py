"""Outlook of every tree: its increments, its target, and the year in which its forecast reaches that."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of, rows_at
from farmmap.figures.blocks import block_of_each_tree
from farmmap.figures.growth.farm_growth import FarmGrowth, growth_of
from farmmap.figures.growth.forecasts import CONTRADICT, NEVER, THERE, ready_from
from farmmap.figures.growth.increments import DOUBT_WORDS, Doubt, Increments, increments
from farmmap.figures.growth.outlook_words import species_labels
from farmmap.figures.growth.targets import Targets, one_target, target_cm_of, targets_of
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import UNKNOWN_SPECIES, the_day
from farmmap.figures.tape import tape_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FARTHEST_YEARS = 100
"""A year further off than this is not named: no tape tells that much. Common practice. [years]"""


class State(IntEnum):
    """What can be said of when a tree is ready."""

    READY = 0
    YEAR = 1
    FAR = 2
    NOT_ENOUGH = 3
    NO_TARGET = 4


STATE_WORDS = {
    State.READY: "ready now",
    State.YEAR: "",
    State.FAR: f"not within {FARTHEST_YEARS} years",
    State.NOT_ENOUGH: "not enough to say",
    State.NO_TARGET: "no target set",
}


@dataclass(frozen=True, eq=False)
class Outlook:
    """Outlook of the trees that stand on a day; all arrays have shape (n,), in the order of the ids.

    Attributes
    ----------
    on : date
        The day.
    then : Farm
        The farm with the readings up to that day only, which all is worked out from.
    taken : Increments
        Readings and increments of the trees.
    species : ndarray of int64
        Species, as places in ``codes``.
    codes, labels : tuple of str
        Codes of the species, and their trade names.
    targets : Targets
        The targets.
    target_cm : ndarray
        Target of each tree; nan where there is none. [cm]
    state : ndarray of int8
        `State`.
    year, low, high : ndarray
        Year in which the target is reached, with its 80 % interval; nan where it is not said or open. Of a tree that
        is ready all three are the year in which it was first read so thick. That a tree does not get there is not said
        of one that was read once, that shrank or whose readings contradict each other; nothing is said of one that is
        as thick only by a reading that cannot be right. [calendar years]
    method : list of str
        What the forecast rests on, or why there is none.
    growth : FarmGrowth
        The curves of the species.
    """

    on: dt.date
    then: Farm
    taken: Increments
    species: Ints
    codes: tuple[str, ...]
    labels: tuple[str, ...]
    targets: Targets
    target_cm: Floats
    state: NDArray[np.int8]
    year: Floats
    low: Floats
    high: Floats
    method: list[str]
    growth: FarmGrowth

    def __len__(self) -> int:
        return len(self.taken)

    def words(self, places: NDArray[np.intp]) -> list[str]:
        """Return in words when the trees at some places are ready."""
        return [
            ready_words(State(state), year, low, high, self.on.year)
            for state, year, low, high in zip(
                self.state[places].tolist(),
                self.year[places].tolist(),
                self.low[places].tolist(),
                self.high[places].tolist(),
                strict=True,
            )
        ]


_OUTLOOKS: Remembered[Outlook] = Remembered(4)
_THEN: Remembered[Farm] = Remembered(2)


def outlook_of(farm: Farm, on: dt.date | None = None, target_cm: float | None = None, product: str = "") -> Outlook:
    """Return the outlook of the trees that stand on a day, by the readings up to that day.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for the newest reading. One still to come counts as today.
    target_cm : float or None
        One target for every tree; None for those of the farm. [cm]
    product : str
        Product whose targets count where a species has several.

    Raises
    ------
    BadInput
        No tree has such a diameter as ``target_cm``.
    """
    day = outlook_day(farm, on)
    same = (farm.trees, farm.measurements, farm.species, farm.tables["targets"])
    equal = (day, farm.settings.breast_height_m, target_cm, product)
    return _OUTLOOKS.get(same, equal, lambda: _work_out(farm, day, target_cm, product))


@dataclass(frozen=True, eq=False)
class OutlookPart:
    """Outlook of a block or of the whole farm, which the tables of trees, species and years rest on.

    Attributes
    ----------
    found : Outlook
        Outlook of all trees.
    block_of : ndarray of int64, shape (n,)
        Block of each tree.
    here : ndarray of bool, shape (n,)
        Which trees are wanted.
    where : str
        What is wanted and when, as it ends the title of a table.
    """

    found: Outlook
    block_of: Ints
    here: Bools
    where: str

    def by_label(self) -> list[tuple[int, Bools]]:
        """Return the place of each species, by trade name, and which of the wanted trees are of it."""
        labels = self.found.labels
        order = sorted(range(len(labels)), key=lambda at: labels[at].casefold())
        return [(at, self.here & (self.found.species == at)) for at in order]


def outlook_part(
    farm: Farm,
    on: dt.date | None = None,
    *,
    block: int | None = None,
    target_cm: float | None = None,
    product: str = "",
) -> OutlookPart:
    """Return the outlook of a block's trees, or of all.

    Parameters
    ----------
    farm, on, target_cm, product
        As for `outlook_of`.
    block : int or None
        Id of the block; None for all trees.

    Raises
    ------
    BadInput
        No tree has such a diameter as ``target_cm``.
    """
    found = outlook_of(farm, on, target_cm, product)
    block_of = block_of_each_tree(farm)[found.taken.places]
    here = np.ones(len(found), bool) if block is None else block_of == block
    of_block = "" if block is None else f"{farm.blocks['name'].loc[block]}, "
    return OutlookPart(found, block_of, here, f"{of_block}{farm.settings.name}, {found.on.isoformat()}")


def outlook_day(farm: Farm, on: dt.date | None) -> dt.date:
    """Return the day of an outlook: that asked for, but none after today and after the last reading."""
    today = dt.datetime.now().astimezone().date()
    return min(the_day(farm, on), max(today, tape_of(farm.measurements).newest or today))


def readings_by(farm: Farm, day: dt.date) -> Farm:
    """Return the farm with the readings up to a day only; the farm itself if none is later."""
    if not tape_of(farm.measurements).after(day):
        return farm
    past = (farm.measurements["measured_on"] <= pd.Timestamp(day)).to_numpy(bool)
    tables = tuple(farm.tables.values())
    cut = lambda: farm.with_tables(measurements=farm.measurements.loc[past])  # noqa: E731 - asked for once
    return _THEN.get(tables, (day, farm.settings), cut)


def _work_out(farm: Farm, day: dt.date, target_cm: float | None, product: str) -> Outlook:
    then = readings_by(farm, day)
    taken = increments(then, day)
    species, texts = pd.factorize(rows_at(columns_of(then.trees)["species"], taken.places))
    codes = tuple(map(str, texts))
    listed = species_labels(then)
    labels = tuple(listed.get(code, code) or UNKNOWN_SPECIES for code in codes)
    targets = targets_of(then, product) if target_cm is None else one_target(target_cm, product)
    target = target_cm_of(targets, codes)[species] if codes else np.empty(0)
    growth = growth_of(then)
    found = ready_from(growth, target, taken.ids)
    year, low, high = (np.asarray(values, np.float64) for values in (found.year, found.low, found.high))
    last = day.year + FARTHEST_YEARS
    far = (found.method == NEVER) | (year >= last + 1)
    not_so = ((found.method == THERE) & (taken.doubt == Doubt.JUMPED)) | (taken.doubt == Doubt.TOO_THICK)
    told = (taken.readings > 1) & (found.method != CONTRADICT) & (taken.doubt < Doubt.SHRANK)
    state = np.select(
        [np.isnan(target), not_so, found.method == THERE, far & told, far | np.isnan(year)],
        [State.NO_TARGET, State.NOT_ENOUGH, State.READY, State.FAR, State.NOT_ENOUGH],
        State.YEAR,
    ).astype(np.int8)
    ahead = ((state == State.YEAR) & (year >= day.year)) | (state == State.FAR)
    said = (state == State.YEAR) | (state == State.READY)
    ways = np.array(found.methods, object)[found.method]
    ways[not_so] = [f"{STATE_WORDS[State.NOT_ENOUGH]}: {DOUBT_WORDS[Doubt(one)]}" for one in taken.doubt[not_so]]
    open_end = ~np.isfinite(high) | (high >= last + 1)
    return Outlook(
        on=day,
        then=then,
        taken=taken,
        species=species.astype(np.int64),
        codes=codes,
        labels=labels,
        targets=targets,
        target_cm=target,
        state=state,
        year=_known(said, year),
        low=_known(said | (ahead & (low < last + 1)), np.where(ahead, np.maximum(low, day.year), low)),
        high=_known(said & ~open_end, high),
        method=np.where(state == State.NO_TARGET, STATE_WORDS[State.NO_TARGET], ways).tolist(),
        growth=growth,
    )


def ready_words(state: State, year: float, low: float, high: float, this_year: int) -> str:
    """Return in words when a tree is ready.

    Parameters
    ----------
    state : State
        What can be said.
    year, low, high : float
        Year and 80 % interval, nan where open or not known. [calendar years]
    this_year : int
        Year of the outlook.
    """
    if state == State.READY:
        return STATE_WORDS[state]
    if state != State.YEAR:
        return STATE_WORDS[state] + (f" (at best {int(low)})" if np.isfinite(low) else "")
    if year < this_year:
        return "by now, by its forecast: measure it"
    if np.isnan(high):
        return f"{int(year)} ({int(low)} or later)"
    return f"{int(year)} ({int(low)} to {int(high)})"


def _known(where: Bools, values: Floats) -> Floats:
    return np.where(where, values, np.nan)
