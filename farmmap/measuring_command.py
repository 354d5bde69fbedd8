"""``farmmap measuring``: a field sheet to measure the trees of a block.

Nothing heavy is imported before it is needed.
"""

from __future__ import annotations

from pathlib import Path

import click

from farmmap.command_parts import (
    FARM,
    SHEET_ENDINGS,
    THE_FARM,
    block_called,
    farm_argument,
    page_asked,
    page_options,
    refuse_to_write,
)


@click.command()
@farm_argument
@click.option("--block", "name", required=True, metavar="NAME", help="Name of the block.")
@click.option("--crop", "crop_only", is_flag=True, help="Only trees that are marked as crop trees.")
@click.option("--out", type=FARM, metavar="FILE", required=True, help="The sheet: FILE.pdf or FILE.png.")
@page_options
def measuring(farm_file: Path, name: str, crop_only: bool, out: Path, paper: str, compass: bool) -> None:
    """Print a field sheet to measure a block: its trees with their last readings, boxes for new ones, and the map.

    The map is the second page: printed on both sides of the paper, it is on the back of the first.
    """
    from farmmap.files.farm_file import read_farm

    refuse_to_write(out, SHEET_ENDINGS, (farm_file, THE_FARM))
    page = page_asked(out, farm_file.parent, paper, compass=compass)
    farm = read_farm(farm_file)
    block = block_called(farm, name)
    from farmmap.sheets.measuring_sheet import write_measuring_sheet

    sheet = write_measuring_sheet(farm, block, out, page, crop_only=crop_only)
    click.echo(f"{out}: {sheet.words}")
