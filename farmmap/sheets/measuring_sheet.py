"""Field sheet for measuring: the trees of a block with boxes for what is read, and the map on the back."""

from __future__ import annotations

from pathlib import Path

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.plans.measuring import measuring_round
from farmmap.scene.page_measuring import last_read_words, measuring_rows, species_table
from farmmap.sheets.page import Sheet, SheetOptions
from farmmap.sheets.page_words import metres, printed_on
from farmmap.sheets.tree_sheet import FieldTrees, compose_trees
from farmmap.sheets.write import write_sheet

TYPE_IN = "At home, type the readings in with the Tape tool of the window: tag, diameter, next tree."
WITHOUT_TAG = "A tree without a tag is clicked on the map there."
BOLD = "Bold numbers are crop trees."


def write_measuring_sheet(
    farm: Farm, block: int, path: Path | str, options: SheetOptions | None = None, *, crop_only: bool = False
) -> Sheet:
    """Write the field sheet for measuring a block as PDF or PNG, and return it.

    Parameters
    ----------
    farm, block, options, crop_only
        As for `compose_measuring`.
    path : Path or str
        Ends in ``.pdf`` or ``.png``.

    Raises
    ------
    BadInput
        As for `compose_measuring`, or it cannot be written there.
    """
    sheet = compose_measuring(farm, block, options, crop_only=crop_only)
    write_sheet(sheet, path)
    return sheet


def compose_measuring(farm: Farm, block: int, options: SheetOptions | None = None, *, crop_only: bool = False) -> Sheet:
    """Return the field sheet for measuring a block: pages of the list, the map as the second of all pages.

    Printed on both sides of the paper, the map is on the back of the first page of the list, however long that is.

    Parameters
    ----------
    farm : Farm
        The farm.
    block : int
        Id of the block; its trees as they stand on the day of printing.
    options : SheetOptions, optional
        Paper, scale and title; without a scale, the largest round one that shows the whole block.
    crop_only : bool
        Whether only trees that are marked as crop trees are measured.

    Raises
    ------
    BadInput
        There is no tree to measure, there is no such block, or the paper or scale cannot be used.
    """
    options = options or SheetOptions()
    trees = measuring_round(farm, block, printed_on(options), crop_only=crop_only)
    kind = "crop tree" if crop_only else "tree"
    if not len(trees):
        do = "mark crop trees first, or measure all trees" if crop_only else "take another block, or bring its trees in"
        raise BadInput(f"there is no living {kind} in {trees.name} to measure; {do}")
    listed = measuring_rows(trees, farm.settings.breast_height_m)
    untagged = () if all(trees.tag) else (WITHOUT_TAG,)
    many = f"1 {kind}" if len(trees) == 1 else f"{len(trees)} {kind}s"
    field = FieldTrees(
        title=f"Measuring {trees.name}",
        block=block,
        on=trees.on,
        ids=trees.ids,
        marks=trees.mark,
        x=trees.x,
        y=trees.y,
        listed=listed,
        said=(farm.settings.name, f"{many}, {metres(trees.walk_m)} to walk"),
        tables=(species_table(trees),),
        how_to=" ".join((*((BOLD,) if any(listed.bold) else ()), last_read_words(trees), TYPE_IN, *untagged)),
        notes=(),
        cautions=(),
        map_second=True,
    )
    return compose_trees(farm, field, options)
