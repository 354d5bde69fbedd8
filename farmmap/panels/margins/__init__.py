"""Creek margins: area, width, fencing and cover along each bank."""

from farmmap.farm.farm import Farm
from farmmap.figures.margins import margin_figures
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Options, Panel


def work_out(farm: Farm, options: Options) -> FigureTable:
    """Return the figures of every margin on the day asked for."""
    return margin_figures(farm, options.on)


PANEL = Panel(
    name="Creek margins",
    reads=frozenset(("creeks", "boundary", "fences", "trees", "measurements", "species")),
    work_out=work_out,
    rows_are="margin",
    rank=20,
)
