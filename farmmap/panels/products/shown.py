"""What the Products panel can show as a table, and working out the one that is asked for."""

from __future__ import annotations

from collections.abc import Callable

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Options
from farmmap.plans.harvest.rates import RATE_PERCENT

BY_SPECIES = "What stands, by species"
HARVEST = "Harvest by five years"
TABLES = (
    BY_SPECIES,
    "What stands, by block",
    "Products in what stands",
    HARVEST,
    "Products to come",
    "Carbon, by species",
    "Carbon, by block",
)
"""What can be shown, in the order in which it is offered."""


def block_of(farm: Farm, options: Options) -> int | None:
    """Return the block that is chosen, None if none of the farm's is."""
    chosen = options.chosen
    is_block = chosen is not None and chosen.kind == "block" and chosen.id in farm.blocks.index
    return chosen.id if chosen is not None and is_block else None


def table_for(farm: Farm, options: Options) -> FigureTable:
    """Return the table that the view asks for, of the block that is chosen or of the farm; else what stands."""
    from farmmap.plans.harvest.harvest_table import harvest_table
    from farmmap.plans.harvest.standing_tables import carbon_table, products_table, standing_table

    on, block = options.on, block_of(farm, options)
    rate = options.values.get("rate_percent", RATE_PERCENT)
    made: dict[str, Callable[[], FigureTable]] = {
        "What stands, by block": lambda: standing_table(farm, on, "block", block),
        "Products in what stands": lambda: products_table(farm, on, block),
        HARVEST: lambda: harvest_table(farm, on, rate, block),
        "Products to come": lambda: products_table(farm, on, block, harvested=True),
        "Carbon, by species": lambda: carbon_table(farm, on, "species", block),
        "Carbon, by block": lambda: carbon_table(farm, on, "block", block),
    }
    asked = str(options.asked)
    return made[asked]() if asked in made else standing_table(farm, on, "species", block)
