"""Field sheet of a thinning: the block's map with numbered marks, and the list of them to be ticked off."""

from __future__ import annotations

from pathlib import Path

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.plans.thinning.marking_list import marking_list
from farmmap.plans.thinning.result import CROP, TAKE, Thinning
from farmmap.scene.page_marking import marking_rows, thinning_table
from farmmap.sheets.page import Sheet, SheetOptions
from farmmap.sheets.page_words import metres
from farmmap.sheets.tree_sheet import FieldTrees, compose_trees
from farmmap.sheets.write import write_sheet

HOW_TO = (
    "Bold numbers are trees to be taken out. Look at each tree before it is marked with paint; where the map is wrong, "
    "believe the tree."
)


def write_marking_sheet(farm: Farm, thinning: Thinning, path: Path | str, options: SheetOptions | None = None) -> Sheet:
    """Write the field sheet of a thinning as PDF or PNG, and return it.

    Parameters
    ----------
    farm, thinning, options
        As for `compose_marking`.
    path : Path or str
        Ends in ``.pdf`` or ``.png``.

    Raises
    ------
    BadInput
        No tree is marked, the paper or scale cannot be used, or it cannot be written there.
    """
    sheet = compose_marking(farm, thinning, options)
    write_sheet(sheet, path)
    return sheet


def compose_marking(farm: Farm, thinning: Thinning, options: SheetOptions | None = None) -> Sheet:
    """Return the field sheet of a thinning: a map page, and as many pages of the list as it takes.

    Parameters
    ----------
    farm : Farm
        The farm that the thinning was made for.
    thinning : Thinning
        The thinning; it need not be in the farm.
    options : SheetOptions, optional
        Paper, scale and title; without a scale, the largest round one that shows the whole block.

    Raises
    ------
    BadInput
        No tree is marked, or the paper or scale cannot be used.
    """
    listed = marking_list(farm, thinning)
    if not len(listed):
        raise BadInput(f"no tree of {thinning.name} is marked, so there is no sheet to print")
    takes, crop = int((listed.mark == TAKE).sum()), int((listed.mark == CROP).sum())
    trees = FieldTrees(
        title=f"Thinning of {thinning.name}",
        block=thinning.block,
        on=thinning.on,
        ids=listed.ids,
        marks=listed.mark,
        x=listed.x,
        y=listed.y,
        listed=marking_rows(listed),
        said=(
            f"{farm.settings.name}: {thinning.words}",
            f"{takes} to take out, {crop} crop trees, {metres(listed.walk_m)} to walk",
        ),
        tables=(thinning_table(thinning.table),),
        how_to=HOW_TO,
        notes=tuple(thinning.notes),
        cautions=tuple(thinning.cautions),
    )
    return compose_trees(farm, trees, options or SheetOptions())
