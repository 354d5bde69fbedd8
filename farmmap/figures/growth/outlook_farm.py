"""Calendar of ready trees: how many of each species are ready in which year."""

from __future__ import annotations

import datetime as dt

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.growth.outlook import STATE_WORDS, Outlook, State, outlook_part
from farmmap.figures.growth.outlook_trees import notes_of
from farmmap.figures.result import FigureTable

COLUMNS = ("when", "species", "ready_trees", "ready_by", "ready_by_low", "ready_by_high")
BY_THEN = (
    "By then: trees of the species ready by the end of the year; at least and at most: if every tree comes at the "
    "late, or at the early, end of its 80 % interval."
)
PERIOD_YEARS = 5
WITHOUT_YEAR = (State.FAR, State.NOT_ENOUGH, State.NO_TARGET)

Row = dict[str, object]


def farm_outlook(
    farm: Farm,
    on: dt.date | None = None,
    *,
    block: int | None = None,
    target_cm: float | None = None,
    product: str = "",
    single_years: int | None = None,
) -> FigureTable:
    """Return the calendar of ready trees, a row for each year and species; last, the trees without a year.

    Trees that were ready by an earlier year by their forecast, but were not
    measured so, stand in the first year.

    Parameters
    ----------
    farm, on, block, target_cm, product
        As for `farmmap.figures.growth.outlook.outlook_part`.
    single_years : int or None
        After so many years five years stand together; None for never.

    Raises
    ------
    BadInput
        No tree has such a diameter as ``target_cm``.
    """
    part = outlook_part(farm, on, block=block, target_cm=target_cm, product=product)
    found = part.found
    by_species = [row for at, mine in part.by_label() for row in _species_rows(found, mine, at, single_years)]
    dated = sorted((row for row in by_species if row["when"] not in _NOT_DATED), key=_year_and_label)
    others = sorted((row for row in by_species if row["when"] in _NOT_DATED), key=_state_and_label)
    title = f"Calendar of ready trees, {part.where}"
    rows = (*dated, *others)
    return FigureTable("calendar", title, COLUMNS, rows, tuple(range(len(rows))), _notes(farm, found, part.here))


_NOT_DATED = {STATE_WORDS[state]: state for state in WITHOUT_YEAR}


def _species_rows(found: Outlook, mine: NDArray[np.bool_], at: int, single_years: int | None) -> list[Row]:
    """Rows of one species: the trees ready now, those of each year, and those without a year."""
    about: Row = {"species": found.labels[at], "code": found.codes[at]}
    state = found.state[mine]
    now = int((state == State.READY).sum())
    dated = state == State.YEAR
    first = found.on.year
    year, low, high = (
        np.maximum(np.floor(values[mine][dated]), first) for values in (found.year, found.low, found.high)
    )
    ends = _period_ends(year, np.inf if single_years is None else first + single_years)
    rows = []
    if now:
        rows.append(about | _counts(STATE_WORDS[State.READY], None, now, now, now, now))
    for end in map(int, np.unique(ends).tolist()):
        so_far = [now + int((values <= end).sum()) for values in (year, high, low)]
        single = single_years is None or end < first + single_years
        begin = end if single_years is None or single else max(end - PERIOD_YEARS + 1, first + single_years)
        words = str(end) if begin == end else f"{begin} to {end}"
        rows.append(about | _counts(words, end, int((ends == end).sum()), *so_far))
    for kind in WITHOUT_YEAR:
        many = int((state == kind).sum())
        if many:
            rows.append(about | _counts(STATE_WORDS[kind], None, many, None, None, None))
    return rows


def _period_ends(year: NDArray[np.float64], single_until: float) -> NDArray[np.float64]:
    """Last year of the period that each year stands in: the year itself, or of five years from ``single_until`` on."""
    return np.where(year < single_until, year, year - year % PERIOD_YEARS + PERIOD_YEARS - 1)


def _counts(when: str, year: int | None, trees: int, by: int | None, low: int | None, high: int | None) -> Row:
    return {
        "when": when, "ready_year": year, "ready_trees": trees, "ready_by": by, "ready_by_low": low,
        "ready_by_high": high,
    }  # fmt: skip


def _year_and_label(row: Row) -> tuple[int, str]:
    year = row["ready_year"]
    return (year if isinstance(year, int) else 0), str(row["species"]).casefold()


def _state_and_label(row: Row) -> tuple[int, str]:
    return _NOT_DATED[str(row["when"])], str(row["species"]).casefold()


def _notes(farm: Farm, found: Outlook, here: NDArray[np.bool_]) -> tuple[str, ...]:
    state = found.state[here]
    counts = {kind: int((state == kind).sum()) for kind in State}
    dated = counts[State.READY] + counts[State.YEAR]
    parts = [f"{dated} of {len(state)} trees are ready or have a year"]
    parts += [f"{counts[kind]} {STATE_WORDS[kind]}" for kind in WITHOUT_YEAR if counts[kind]]
    return (
        f"{'; '.join(parts)}.",
        BY_THEN,
        *notes_of(farm, found),
    )
