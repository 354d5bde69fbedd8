"""Pruning: which trees are due for which lift and when, what is pruned so far, and the lifts themselves."""

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Options, Panel


def work_out(farm: Farm, options: Options) -> FigureTable:
    """Return what is due by block and year; the rest that the view shows is made ready in the background besides."""
    from farmmap.plans.pruning.cautions import cautions
    from farmmap.plans.pruning.due import due_by_block
    from farmmap.plans.pruning.shares import pruning_by_block

    pruning_by_block(farm, options.on)
    cautions(farm, options.on)
    return due_by_block(farm, options.on)


PANEL = Panel(
    name="Pruning",
    reads=frozenset(
        ("trees", "measurements", "species", "blocks", "tracks", "creeks", "hazards", "regimes", "volumes")
    ),
    work_out=work_out,
    view="farmmap.panels.pruning.view:PruningView",
    stays_for=frozenset(("block", "tree")),
    rank=70,
)
