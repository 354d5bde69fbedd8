"""Trees: all of them in a list, and one tree's record with its measurements over time."""

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.figures.trees import tree_figures
from farmmap.panels.registry import Options, Panel
from farmmap.panels.trees.rows import tree_rows


def work_out(farm: Farm, options: Options) -> FigureTable:
    """Return the record of the tree that is chosen; no row if none is, or if it did not stand on that day.

    A million trees need no table of figures: the list in the view reads
    `farmmap.panels.trees.rows`, which this makes ready in the background.
    """
    tree_rows(farm, options.on)
    wanted = [options.chosen.id] if options.chosen is not None and options.chosen.kind == "tree" else []
    return tree_figures(farm, options.on, wanted)


PANEL = Panel(
    name="Trees",
    reads=frozenset(("trees", "measurements", "species", "blocks")),
    work_out=work_out,
    view="farmmap.panels.trees.view:TreesView",
    rows_are="tree",
    follows_choice=True,
    rank=30,
)
