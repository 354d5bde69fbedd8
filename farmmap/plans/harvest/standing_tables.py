"""What stands as tables of figures: volumes, products, what they would bring, and carbon."""

from __future__ import annotations

import datetime as dt

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.grounds import grounds
from farmmap.figures.result import FigureTable
from farmmap.figures.standing import the_day
from farmmap.plans.harvest.carbon import Carbon, carbon_of
from farmmap.plans.harvest.harvest import BLOCK, LATER, PERIOD, SPECIES, harvest_of, standing_tally
from farmmap.plans.harvest.product_list import product_list
from farmmap.plans.harvest.table_rows import (
    LOW_AND_HIGH,
    Row,
    edge_or_none,
    of_what,
    product_notes,
    product_rows,
    sampled_notes,
    totals,
    within,
    wood_rows,
)
from farmmap.plans.harvest.timber import Timber, timber_of
from farmmap.plans.harvest.worth import NO_ADVICE

NO_BLOCK_NAME = "in no block"
_WOOD = ("stems", "stem_volume_m3", "under_bark_m3", "product_volume_m3", "pieces", "own_value", "unpriced_m3")
_CARBON = ("above_ground_t", "below_ground_t", "carbon_t", "co2_t", "co2_tree_kg")
STANDING_COLUMNS = {
    "species": ("species", *_WOOD, *_CARBON, "volume_known_percent"),
    "block": ("name", *_WOOD, *_CARBON, "net_area_ha", "volume_per_ha", "co2_per_ha", "volume_known_percent"),
}
_BOUNDS = ("stem_volume_low_m3", "stem_volume_high_m3")
STANDING_BRIEF = ("stems", "stem_volume_m3", "product_volume_m3", "own_value", "co2_t")
PRODUCT_COLUMNS = ("sold_as", "product_kind", "pieces", "product_volume_m3", "sold_by", "price", "own_value")
CARBON_BRIEF = ("stems", *_CARBON)


def standing_table(farm: Farm, on: dt.date | None = None, by: str = "species", block: int | None = None) -> FigureTable:
    """Return what stands: volume, products, what they would bring now, and carbon, a row for each species or block.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for the day of the newest measurement.
    by : str
        ``species`` or ``block``.
    block : int or None
        Only what stands in this block.

    Returns
    -------
    FigureTable
        Each row also holds ``products``, a list of mappings; on a day that has not come, also what the stem volume
        may be at least and at most.
    """
    day = the_day(farm, on)
    timber, listed = timber_of(farm, day), product_list(farm)
    tally = within(standing_tally(farm, day), block).by(BLOCK if by == "block" else SPECIES)
    carbon = carbon_of(farm, timber)
    among = None if block is None else np.flatnonzero(timber.block == block)
    keys, ids = tally.keys[:, 0], tally.keys[:, 0].tolist()
    names = _block_names(farm, ids) if by == "block" else _species_names(timber, ids)
    rows = [called | row for called, row in zip(names, wood_rows(tally, listed), strict=True)]
    _add_carbon(rows, timber, carbon, timber.block if by == "block" else timber.there.species, keys, among)
    order = list(range(len(rows)))
    if by == "block":
        _add_rates(rows)
    else:
        order.sort(key=lambda place: (-tally.stem_m3[place], place))
    columns: tuple[str, ...] = STANDING_COLUMNS[by]
    brief: tuple[str, ...] = STANDING_BRIEF
    bounds: tuple[str, ...] = ()
    if timber.there.forecast:
        for place, row in enumerate(rows):
            for name, edge in zip(_BOUNDS, (tally.low_m3, tally.high_m3), strict=True):
                row[name] = edge_or_none(tally, place, edge)
        columns, brief = _with_bounds(columns), _with_bounds(brief)
        bounds = (LOW_AND_HIGH,)
    notes = (
        *_all_together(rows),
        *timber.notes(among),
        *sampled_notes(farm, timber, block),
        *bounds,
        *product_notes(listed),
        *timber.sources(among),
        *carbon.notes(timber, among),
    )
    return FigureTable(
        "products",
        f"{of_what(farm, block)}: what stands, by {by}, {day.isoformat()}",
        columns,
        tuple(rows[place] for place in order),
        tuple(ids[place] for place in order),
        notes,
        (columns[0], *brief),
    )


def _with_bounds(names: tuple[str, ...]) -> tuple[str, ...]:
    after = names.index("stem_volume_m3") + 1
    return (*names[:after], *_BOUNDS, *names[after:])


def carbon_table(farm: Farm, on: dt.date | None = None, by: str = "species", block: int | None = None) -> FigureTable:
    """Return `standing_table` with the columns of carbon only."""
    table = standing_table(farm, on, by, block)
    brief = (table.columns[0], *CARBON_BRIEF, *(("co2_per_ha",) if by == "block" else ()))
    timber = timber_of(farm, on)
    among = None if block is None else np.flatnonzero(timber.block == block)
    title = table.title.replace("what stands", "carbon")
    notes = carbon_of(farm, timber).notes(timber, among)
    return FigureTable("carbon", title, table.columns, table.rows, table.ids, notes, brief)


def products_table(
    farm: Farm, on: dt.date | None = None, block: int | None = None, *, harvested: bool = False
) -> FigureTable:
    """Return all products together, a row each: what stands now, or what is cut within the periods told."""
    listed = product_list(farm)
    if harvested:
        tally = within(harvest_of(farm, on).tally, block)
        tally = tally.of(tally.keys[:, PERIOD] < LATER)
    else:
        tally = within(standing_tally(farm, on), block)
    rows = product_rows(tally, listed, everything=True)
    when = "cut within the years told" if harvested else "in what stands"
    return FigureTable(
        "product",
        f"{of_what(farm, block)}: products {when}",
        PRODUCT_COLUMNS,
        tuple(rows),
        tuple(range(len(rows))),
        product_notes(listed),
    )


def _add_carbon(
    rows: list[Row],
    timber: Timber,
    carbon: Carbon,
    group: NDArray[np.int64],
    keys: NDArray[np.int64],
    among: NDArray[np.intp] | None,
) -> None:
    """Put sums of carbon into rows, one for each of ``keys``."""
    chosen = np.arange(len(timber.there)) if among is None else among
    place = np.searchsorted(keys, group[chosen])
    known = np.isfinite(carbon.held.carbon_t[chosen])
    count = np.bincount(place[known], minlength=len(keys))
    held = carbon.held
    sums = {
        name: np.bincount(place, np.nan_to_num(values[chosen]), len(keys))
        for name, values in zip(_CARBON[:4], (held.above_t, held.below_t, held.carbon_t, held.co2_t), strict=True)
    }
    for at, row in enumerate(rows):
        row |= {name: float(values[at]) if count[at] else None for name, values in sums.items()}
        row["co2_tree_kg"] = 1000.0 * float(sums["co2_t"][at]) / float(count[at]) if count[at] else None


def _species_names(timber: Timber, kinds: list[int]) -> list[Row]:
    there = timber.there
    return [{"species": there.species_labels[kind], "code": there.species_names[kind]} for kind in kinds]


def _block_names(farm: Farm, ids: list[int]) -> list[Row]:
    ground, names = grounds(farm), farm.blocks["name"]
    areas = dict(zip(ground.ids.tolist(), ground.net_ha.tolist(), strict=True))
    return [
        {"name": str(names.get(block, "")) if block >= 0 else NO_BLOCK_NAME, "net_area_ha": areas.get(block)}
        for block in ids
    ]


def _add_rates(rows: list[Row]) -> None:
    """Put what stands on a hectare into rows of blocks."""
    for row in rows:
        area = row["net_area_ha"]
        for rate, amount in (("volume_per_ha", "stem_volume_m3"), ("co2_per_ha", "co2_t")):
            held = row[amount]
            row[rate] = held / area if isinstance(held, float) and isinstance(area, float) and area > 0 else None


def _all_together(rows: list[Row]) -> tuple[str, ...]:
    sums = totals(rows)
    return (f"All together: {', '.join(sums)}. {NO_ADVICE}",) if sums else ()
