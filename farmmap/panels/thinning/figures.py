"""What the Thinning panel shows: a proposal that is not on the trees yet, or the marks as they stand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, cast

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_of_each_tree
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Options
from farmmap.plans.thinning.result import Thinning
from farmmap.plans.thinning.rule import CropRule, ThinningRule
from farmmap.plans.thinning.thinning import thinning, thinning_as_marked
from farmmap.scene.scene import Chosen

CHOOSE = "Choose a block in the list above, or click one on the map."


@dataclass(frozen=True)
class Asked:
    """What the form of the panel asks for.

    Attributes
    ----------
    block : int or None
        Block that was looked at last, for when nothing is chosen on the map.
    proposal : bool
        Whether a proposal by the rule is wanted, or the marks as they stand.
    rule : ThinningRule
        What goes now.
    crop : CropRule or None
        How crop trees are chosen; None: those that are marked.
    """

    block: int | None = None
    proposal: bool = False
    rule: ThinningRule = field(default_factory=ThinningRule)
    crop: CropRule | None = field(default_factory=CropRule)


@dataclass(frozen=True)
class SpeciesCount:
    """Stems of one species before, taken and after."""

    name: str
    code: str
    before: int
    taken: int
    after: int


@dataclass(frozen=True, eq=False)
class ThinningFigures(FigureTable):
    """Before, taken and after, and the marks that they rest on.

    Attributes
    ----------
    made : Thinning or None
        The marks, and what follows from them; None if no block is looked at, or it was refused.
    is_proposal : bool
        Whether the marks are proposed, and not on the trees yet.
    block : int or None
        The block that is looked at.
    """

    made: Thinning | None = None
    is_proposal: bool = False
    block: int | None = None

    def species(self) -> list[SpeciesCount]:
        """Return the stems of every species, the commonest first."""
        if self.made is None:
            return []
        before, taken, after = (_stems(row) for row in self.rows)
        return [
            SpeciesCount(name, code, many, taken.get((name, code), 0), after.get((name, code), 0))
            for (name, code), many in before.items()
        ]


def thinning_figures(farm: Farm, options: Options) -> ThinningFigures:
    """Return the thinning of the block that is chosen, of that of the chosen tree, or of the one looked at last."""
    asked = options.asked if isinstance(options.asked, Asked) else Asked()
    block = block_meant(farm, options.chosen, asked.block)
    if block is None:
        return _nothing(CHOOSE, asked.proposal, None)
    try:
        if asked.proposal:
            made = thinning(farm, block, asked.rule, options.on, asked.crop)
        else:
            made = thinning_as_marked(farm, block, options.on)
    except BadInput as refused:
        words = str(refused)
        return _nothing(f"{words[:1].upper()}{words[1:]}.", asked.proposal, block)
    table = made.table
    return ThinningFigures(
        table.name,
        table.title,
        table.columns,
        table.rows,
        table.ids,
        table.notes,
        table.brief,
        made=made,
        is_proposal=asked.proposal,
        block=block,
    )


def block_meant(farm: Farm, chosen: Chosen | None, last: int | None) -> int | None:
    """Return the block that is meant by what is chosen, else the one looked at last, None if that is gone too."""
    if chosen is not None and chosen.kind == "block" and chosen.id in farm.blocks.index:
        return chosen.id
    if chosen is not None and chosen.kind == "tree" and chosen.id in farm.trees.index:
        inside = int(block_of_each_tree(farm)[farm.trees.index.get_loc(chosen.id)])
        if inside != NO_BLOCK:
            return inside
    return last if last is not None and last in farm.blocks.index else None


def _nothing(words: str, proposal: bool, block: int | None) -> ThinningFigures:
    return ThinningFigures("thinning", "Thinning", (), (), (), (words,), is_proposal=proposal, block=block)


def _stems(row: Mapping[str, object]) -> dict[tuple[str, str], int]:
    listed = cast("list[Mapping[str, Any]]", row.get("species") or [])
    return {(str(one["species"]), str(one["code"])): int(one["stems"]) for one in listed}
