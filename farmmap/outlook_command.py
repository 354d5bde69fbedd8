"""``farmmap outlook``: which tree is ready when, by tree, species or as a calendar of the farm.

Nothing heavy is imported before it is needed, and no Qt at all.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from farmmap.command_parts import Day, block_called, farm_argument, format_option, say_table
from farmmap.errors import BadInput

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.figures.result import FigureTable

SINGLE_YEARS = 10
"""After so many years the printed calendar puts five years together; CSV and JSON never do."""


@click.command()
@farm_argument
@click.option(
    "--of",
    "what",
    type=click.Choice(["trees", "species", "farm", "increments"]),
    required=True,
    help="Every tree; the curve of every species; the calendar of ready trees; or mean increments by age.",
)
@click.option("--on", "day", type=Day(), help="Readings up to this day count; the newest if not given.")
@click.option("--block", "block_name", metavar="NAME", help="Only the trees of this block.")
@click.option("--target", "target_cm", type=float, metavar="CM", help="One target diameter for all trees.")
@click.option("--product", default="", metavar="NAME", help="Which target counts where a species has several.")
@click.option("--more", is_flag=True, help="Trees as CSV or JSON: all that is known of each, such as block and age.")
@format_option
def outlook(
    farm_file: Path,
    what: str,
    day: dt.date | None,
    block_name: str | None,
    target_cm: float | None,
    product: str,
    more: bool,
    form: str,
) -> None:
    """Say in which year trees reach their target diameter, with an 80 % interval.

    Forecasts rest on the readings of each tree and on the growth curve of its species. The farm is left as it is.
    """
    from farmmap.files.farm_file import read_farm

    if more and (what != "trees" or form == "text"):
        raise click.UsageError("--more is for trees as CSV or JSON: --of trees --format csv (json); or leave it out")
    farm = read_farm(farm_file)
    block = None if block_name is None else block_called(farm, block_name)
    _refuse_unknown_product(farm, product)
    _say_if_to_come(farm, day)
    table = _table(farm, what, day, block, target_cm, product, is_text=form == "text")
    if what == "trees" and form != "text" and not more:
        from farmmap.figures.growth.outlook_trees import fields_only

        table = fields_only(table)
    say_table(table, form)


def _table(
    farm: Farm,
    what: str,
    on: dt.date | None,
    block: int | None,
    target_cm: float | None,
    product: str,
    *,
    is_text: bool,
) -> FigureTable:
    if what == "increments":
        from farmmap.figures.growth.increments_by_age import increments_by_age

        if block is not None or target_cm is not None or product:
            raise BadInput("increments by age are those of the whole farm; leave out --block, --target and --product")
        return increments_by_age(farm, on)
    if what == "trees":
        from farmmap.figures.growth.outlook_trees import tree_outlook

        return tree_outlook(farm, on, block=block, target_cm=target_cm, product=product)
    if what == "species":
        from farmmap.figures.growth.outlook_species import species_outlook

        return species_outlook(farm, on, block=block, target_cm=target_cm, product=product)
    from farmmap.figures.growth.outlook_farm import farm_outlook

    years = SINGLE_YEARS if is_text else None
    return farm_outlook(farm, on, block=block, target_cm=target_cm, product=product, single_years=years)


def _say_if_to_come(farm: Farm, on: dt.date | None) -> None:
    from farmmap.figures.growth.outlook import outlook_day

    if on is not None and outlook_day(farm, on) < on:
        click.echo(f"{on} is still to come; the outlook is that of {outlook_day(farm, on)}.", err=True)


def _refuse_unknown_product(farm: Farm, product: str) -> None:
    from farmmap.farm.species import plain

    known = sorted({str(one) for one in farm.tables["targets"]["product"] if one}, key=str.casefold)
    if product and plain(product) not in map(plain, known):
        there = f"there are: {', '.join(known)}" if known else "set one in the panel Growth first"
        raise BadInput(f"the farm has no target for a product '{product}'; {there}")
