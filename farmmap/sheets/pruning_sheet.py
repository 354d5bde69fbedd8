"""Field sheet of a pruning: the block's map with numbered trees that are due, and the list with boxes to fill in."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np

from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.figures.standing import is_ahead
from farmmap.plans.pruning.cautions import LADDERS
from farmmap.plans.pruning.visit import FROM_GROUND_M, REACH_M, Visit, visit
from farmmap.scene.page_pruning import lifts_table, pruning_rows
from farmmap.sheets.page import Sheet, SheetOptions
from farmmap.sheets.page_words import metres
from farmmap.sheets.tree_sheet import FieldTrees, compose_trees
from farmmap.sheets.write import write_sheet

HOW_TO = (
    "Prune the trees with a ring, and only up to the height that the list gives; where the map is wrong, believe the "
    "tree. Bold numbers stand near a power line: leave those until the network company has been asked."
)
WITHOUT_LINE = HOW_TO.partition(" Bold")[0]
LADDER_WORDS = (
    f"Ladder: how high the feet stand to saw the highest branches {REACH_M:g} m above them; none is given up to "
    f"{FROM_GROUND_M:g} m, which is reached from the ground."
)


def write_pruning_sheet(
    farm: Farm,
    block: int,
    path: Path | str,
    on: dt.date | None = None,
    year: int | None = None,
    options: SheetOptions | None = None,
) -> Sheet:
    """Write the field sheet of a pruning as PDF or PNG, and return it.

    Parameters
    ----------
    farm, block, on, year, options
        As for `compose_pruning`.
    path : Path or str
        Ends in ``.pdf`` or ``.png``.

    Raises
    ------
    BadInput
        As for `compose_pruning`, or it cannot be written there.
    """
    sheet = compose_pruning(farm, block, on, year, options)
    write_sheet(sheet, path)
    return sheet


def compose_pruning(
    farm: Farm,
    block: int,
    on: dt.date | None = None,
    year: int | None = None,
    options: SheetOptions | None = None,
) -> Sheet:
    """Return the field sheet of a pruning: a map page, and as many pages of the list as it takes.

    Parameters
    ----------
    farm, block, on, year
        As for `farmmap.plans.pruning.visit.visit`.
    options : SheetOptions, optional
        Paper, scale and title; without a scale, the largest round one that shows the whole block.

    Raises
    ------
    BadInput
        No tree of the block is due by then, there is no such block or year, or the paper or scale cannot be used.
    """
    trees = visit(farm, block, on, year)
    if not len(trees):
        more = " ".join(("", *trees.notes))
        raise BadInput(f"no tree of {trees.name} is due for pruning by the end of {trees.year}.{more} Nothing to print")
    listed = pruning_rows(trees)
    many = "1 tree" if len(trees) == 1 else f"{len(trees)} trees"
    near = sum(listed.bold)
    field = FieldTrees(
        title=f"Pruning of {trees.name}, {trees.year}",
        block=block,
        on=trees.on,
        ids=trees.ids,
        marks=np.full(len(trees), "crop", object),
        x=trees.x,
        y=trees.y,
        listed=listed,
        said=(farm.settings.name, f"{many} due by the end of {trees.year}, {metres(trees.walk_m)} to walk"),
        tables=(lifts_table(trees),),
        how_to=f"{HOW_TO if near else WITHOUT_LINE} {LADDER_WORDS} {_read_words(farm, trees)}",
        notes=trees.notes,
        cautions=tuple(sorted(trees.cautions, key=lambda words: words != LADDERS)),
        key_words={"crop tree, kept": f"to be pruned by the end of {trees.year}"},
    )
    return compose_trees(farm, field, options or SheetOptions())


def _read_words(farm: Farm, trees: Visit) -> str:
    """Say of when the diameters are."""
    if is_ahead(farm, trees.on):
        return f"Diameters are forecast for {in_words(trees.on)}, where there is enough to go by."
    read = trees.measured_on[~np.isnat(trees.measured_on)]
    if not len(read):
        return "No diameter of these trees was read."
    first, last = (in_words(day.astype("datetime64[D]").item()) for day in (read.min(), read.max()))
    return f"Diameters are those last read, {first if first == last else f'{first} to {last}'}."
