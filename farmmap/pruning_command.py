"""``farmmap pruning``: which trees are due for which lift, by tree, by block and year, or what is pruned so far.

Nothing heavy is imported before it is needed, and no Qt unless a field sheet is printed.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from farmmap.command_parts import (
    FARM,
    SHEET_ENDINGS,
    THE_FARM,
    block_called,
    farm_argument,
    format_option,
    on_option,
    page_asked,
    page_options,
    refuse_to_write,
    say,
    say_table,
)

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
@click.option("--out", type=FARM, metavar="FILE", help="Field sheet of the block: FILE.pdf or FILE.png.")
@click.option(
    "--year", type=int, metavar="YYYY",
    help="Sheet: trees due by its end; else the year of the day.",
)  # fmt: skip
@page_options
def pruning(
    farm_file: Path,
    what: str,
    block_name: str | None,
    day: dt.date | None,
    form: str,
    out: Path | None,
    year: int | None,
    paper: str,
    compass: bool,
) -> None:
    """Tell which trees are to be pruned now and in which year the others will be, by the lifts that are set."""
    from farmmap.files.farm_file import read_farm
    from farmmap.plans.pruning.cautions import cautions

    if out is not None:
        refuse_to_write(out, SHEET_ENDINGS, (farm_file, THE_FARM))
        if block_name is None:
            raise click.UsageError("a field sheet is of one block; say which with --block NAME")
    elif year is not None:
        raise click.UsageError("--year is for the field sheet; add --out FILE.pdf, or leave it out")
    page = page_asked(out, farm_file.parent, paper, compass=compass)
    farm = read_farm(farm_file)
    block = None if block_name is None else block_called(farm, block_name)
    shown = _table(farm, what, block, day)
    written = None
    if page is not None and out is not None and block is not None:
        from farmmap.sheets.pruning_sheet import write_pruning_sheet

        written = f"{out}: {write_pruning_sheet(farm, block, out, day, year, page).words}"
    say_table(shown, form)
    if form == "text" and what in {"years", "trees"}:
        for line in cautions(farm, day, block):
            say(line)
    if written is not None:
        click.echo(written, err=form != "text")


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
