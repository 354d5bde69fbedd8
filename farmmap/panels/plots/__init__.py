"""Plots: sample plots laid out in a block, their counts typed in, and what they say of it with its interval."""

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Options, Panel


def work_out(farm: Farm, options: Options) -> FigureTable:
    """Return what the plots of each sampled block say on the day asked for."""
    from farmmap.figures.sampling.tables import AS_COUNTED, EDGES, plot_figures

    edge = str(options.asked) if options.asked in EDGES else AS_COUNTED
    return plot_figures(farm, options.on, edge=edge)


PANEL = Panel(
    name="Plots",
    reads=frozenset(("plots", "plot_trees", "blocks", "species", "tracks", "creeks", "hazards")),
    work_out=work_out,
    view="farmmap.panels.plots.view:PlotsView",
    rows_are="block",
    stays_for=frozenset(("block",)),
    rank=90,
)
