"""``farmmap products``: volumes, products, harvests to come, their value and carbon from the command line.

Nothing heavy is imported before it is needed, and no Qt at all.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from farmmap.command_parts import farm_argument, format_option, on_option, say, say_table

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.figures.result import FigureTable


@click.command()
@farm_argument
@click.option(
    "--by",
    type=click.Choice(["year", "species", "block"]),
    default="species",
    show_default=True,
    help="year: what is cut in each five years to come; species or block: what stands.",
)
@on_option
@click.option(
    "--rate",
    type=click.FloatRange(0.0, 30.0),
    default=5.0,
    show_default=True,
    metavar="PERCENT",
    help="Rate a year at which later money is brought back to that day (--by year).",
)
@format_option
def products(farm_file: Path, by: str, day: dt.date | None, rate: float, form: str) -> None:
    """Work out volumes and products of a farm's trees, what they bring, and the carbon they hold.

    Prices, products and stem volumes are the farm's own; without them general ones are used, and no price is made up.
    All of it is an estimate, no advice.
    """
    from farmmap.files.farm_file import read_farm

    behind, table = _tables(read_farm(farm_file), by, day, rate)
    if form == "text":
        say(f"{behind.as_text()}\n{table.as_text()}")
    else:
        say_table(table, form)


def _tables(farm: Farm, by: str, on: dt.date | None, rate: float) -> tuple[FigureTable, FigureTable]:
    """Return all products together, without the notes that both have, and the table that was asked for."""
    from dataclasses import replace

    from farmmap.plans.harvest.harvest_table import harvest_table
    from farmmap.plans.harvest.standing_tables import products_table, standing_table

    to_come = by == "year"
    table = harvest_table(farm, on, rate) if to_come else standing_table(farm, on, by)
    return replace(products_table(farm, on, harvested=to_come), notes=()), table
