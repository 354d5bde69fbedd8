"""The harvest to come as a table of figures: a row for each five years and species."""

from __future__ import annotations

import datetime as dt

import numpy as np

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.figures.standing import the_day
from farmmap.plans.harvest.counted import trees
from farmmap.plans.harvest.harvest import LATER, PERIOD, PERIOD_YEARS, SPECIES, Harvest, harvest_of
from farmmap.plans.harvest.rates import RATE_PERCENT
from farmmap.plans.harvest.table_rows import (
    LOW_AND_HIGH,
    Row,
    edge_or_none,
    of_what,
    product_notes,
    sampled_notes,
    totals,
    within,
    wood_rows,
)
from farmmap.plans.harvest.worth import NO_ADVICE, present_value, refuse_rate

HARVEST_COLUMNS = (
    "harvest_period",
    "species",
    "stems",
    "stem_volume_m3",
    "stem_volume_low_m3",
    "stem_volume_high_m3",
    "product_volume_m3",
    "pieces",
    "own_value",
    "present_value",
    "unpriced_m3",
)
HARVEST_BRIEF = HARVEST_COLUMNS[:7] + HARVEST_COLUMNS[8:10]
HOW_IT_IS_TOLD = (
    "Forecast. A tree is cut when its forecast reaches its target; one marked to be taken out in the first five years.",
    f"{LOW_AND_HIGH} Present values count from the middle of each five years.",
    "Heights at harvest follow today's curve of height against diameter, and no pruning to come is counted.",
)


def harvest_table(
    farm: Farm, on: dt.date | None = None, rate_percent: float = RATE_PERCENT, block: int | None = None
) -> FigureTable:
    """Return what is cut in each five years, a row for each period and species.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day from which it is looked ahead; None for the day of the newest measurement.
    rate_percent : float
        Rate at which later money is brought back to the day. [%/year]
    block : int or None
        Only what stands in this block.

    Returns
    -------
    FigureTable
        Each row also holds ``products``, a list of mappings. Trees for which no year can be said have rows without
        volumes.

    Raises
    ------
    BadInput
        The rate is not from 0 to 30 %.
    """
    refuse_rate(rate_percent)
    harvest = harvest_of(farm, on)
    tally = within(harvest.tally, block).by(PERIOD, SPECIES)
    there = harvest.timber.there
    names = [
        {
            "harvest_period": harvest.words(period),
            "species": there.species_labels[kind],
            "code": there.species_names[kind],
            "rate_percent": rate_percent,
        }
        for period, kind in tally.keys.tolist()
    ]
    rows = [called | row for called, row in zip(names, wood_rows(tally, harvest.listed), strict=True)]
    for place, (row, period) in enumerate(zip(rows, tally.keys[:, 0].tolist(), strict=True)):
        if period >= LATER:
            row.update(dict.fromkeys(HARVEST_COLUMNS[3:]), products=[], years_ahead=None)
            continue
        years = harvest.years_to_middle(period)
        value = row["own_value"]
        row.update(
            first_year=harvest.on.year + PERIOD_YEARS * period,
            years_ahead=years,
            stem_volume_low_m3=edge_or_none(tally, place, tally.low_m3),
            stem_volume_high_m3=edge_or_none(tally, place, tally.high_m3),
            present_value=float(present_value(value, years, rate_percent)) if isinstance(value, float) else None,
        )
    return FigureTable(
        "harvest",
        f"{of_what(farm, block)}: harvest by five years and species, from {harvest.on.isoformat()}",
        HARVEST_COLUMNS,
        tuple(rows),
        tuple(range(len(rows))),
        (
            *_harvest_notes(harvest, rows, rate_percent, block, the_day(farm, on)),
            *sampled_notes(farm, harvest.timber, block),
        ),
        HARVEST_BRIEF,
    )


def _harvest_notes(
    harvest: Harvest, rows: list[Row], rate_percent: float, block: int | None, asked: dt.date
) -> tuple[str, ...]:
    timber = harvest.timber
    among = None if block is None else np.flatnonzero(timber.block == block)
    marked = int(np.count_nonzero(harvest.marked if among is None else harvest.marked[among]))
    sums = totals(rows, rate_percent)
    said = [f"All together: {', '.join(sums)}. {NO_ADVICE}"] if sums else []
    said += HOW_IT_IS_TOLD
    if asked > harvest.on:
        said.append(f"{asked.isoformat()} has not come, so harvests are told from {harvest.on.isoformat()}.")
    if marked:
        said.append(f"{trees(marked, 'is', 'are')} marked to be taken out.")
    unsaid = sum(int(str(row["stems"])) for row in rows if row["years_ahead"] is None)
    cut = [row for row in rows if row["years_ahead"] is not None]
    unknown = sum(int(str(row["stems"])) - int(str(row["volume_known"])) for row in cut)
    if unknown:
        said.append(
            f"{trees(unknown, 'has', 'have')} a year of harvest but no volume: the height or size then is not known, "
            "or is outside the local volume table. Such trees add nothing."
        )
    if any(row["stem_volume_m3"] is not None and row["stem_volume_high_m3"] is None for row in cut):
        said.append("A high that is not given lies outside the local volume table.")
    if unsaid:
        said.append(
            f"{trees(unsaid, 'has', 'have')} no year of harvest within 60 years that can be said; see the last rows."
        )
    return (*said, *product_notes(harvest.listed), *timber.notes(among))
