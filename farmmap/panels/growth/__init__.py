"""Growth: when trees are ready, one by one, as a calendar and by species, and the targets they grow towards."""

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Options, Panel


def work_out(farm: Farm, options: Options) -> FigureTable:
    """Return the outlook of what is chosen, else of the whole farm."""
    from farmmap.panels.growth.figures import growth_figures

    return growth_figures(farm, options)


PANEL = Panel(
    name="Growth",
    reads=frozenset(("trees", "measurements", "species", "blocks", "targets")),
    work_out=work_out,
    view="farmmap.panels.growth.view:GrowthView",
    follows_choice=True,
    stays_for=frozenset(("tree", "block")),
    takes_long=True,
    rank=50,
)
