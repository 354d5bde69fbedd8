"""``farmmap pruning``: which trees are due for which lift, by tree, by block and year, or what is pruned so far.

Nothing heavy is imported before it is needed, and no Qt at all.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from farmmap.command_parts import block_called, farm_argument, format_option, on_option, say, say_table

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.figures.result import FigureTable

OF = ("years", "trees", "blocks", "heights")


@click.command()
@farm_argument
@click.option(
    "--of",
    "what",
    type=click.Choice(list(OF)),
    default="years",
    show_default=True,
    help="years: due by block and year; trees: tree by tree; blocks: pruned so far; heights: stems by pruned height.",
)
@click.option("--block", "block_name", metavar="NAME", help="Only this block.")
@on_option
@format_option
def pruning(farm_file: Path, what: str, block_name: str | None, day: dt.date | None, form: str) -> None:
    """Tell which trees are to be pruned now and in which year the others will be, by the lifts that are set."""
    from farmmap.files.farm_file import read_farm
    from farmmap.plans.pruning.cautions import cautions

    farm = read_farm(farm_file)
    block = None if block_name is None else block_called(farm, block_name)
    say_table(_table(farm, what, block, day), form)
    if form == "text" and what in {"years", "trees"}:
        for line in cautions(farm, day, block):
            say(line)


def _table(farm: Farm, what: str, block: int | None, day: dt.date | None) -> FigureTable:
    from farmmap.plans.pruning.due import due, due_by_block
    from farmmap.plans.pruning.shares import pruned_shares, pruning_by_block

    if what == "trees":
        return due(farm, day, block)
    table = {"years": due_by_block, "blocks": pruning_by_block, "heights": pruned_shares}[what](farm, day)
    if block is None:
        return table
    places = [place for place, row in enumerate(table.ids) if row == block]
    return replace(table, rows=[table.rows[place] for place in places], ids=[block] * len(places))
