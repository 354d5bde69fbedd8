"""Thinning: a proposal by rule for the block that is chosen, or the marks as they stand, and what follows from them."""

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Options, Panel


def work_out(farm: Farm, options: Options) -> FigureTable:
    """Return the thinning that is looked at: before, taken and after."""
    from farmmap.panels.thinning.figures import thinning_figures

    return thinning_figures(farm, options)


PANEL = Panel(
    name="Thinning",
    reads=frozenset(("blocks", "trees", "measurements", "tracks", "creeks", "hazards", "species", "targets")),
    work_out=work_out,
    view="farmmap.panels.thinning.view:ThinningView",
    follows_choice=True,
    stays_for=frozenset(("block", "tree")),
    rank=60,
)
