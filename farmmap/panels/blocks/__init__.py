"""Blocks: area, stocking and basal area of each, with diameters and species of the one that is chosen."""

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_figures
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Option, Options, Panel


def work_out(farm: Farm, options: Options) -> FigureTable:
    """Return the figures of every block on the day asked for."""
    return block_figures(farm, options.on, options.values.get("class_cm"))


PANEL = Panel(
    name="Blocks",
    reads=frozenset(("blocks", "trees", "measurements", "tracks", "creeks", "hazards", "species")),
    work_out=work_out,
    options=(
        Option("class_cm", "Width of a diameter class", "cm", 1.0, 50.0, 1.0, lambda farm: farm.settings.class_cm),
    ),
    view="farmmap.panels.blocks.view:BlocksView",
    rows_are="block",
    rank=10,
)
