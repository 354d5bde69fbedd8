"""Ground: slope, aspect, heights and surface of each block, from the elevation grids among the farm's backdrops."""

from farmmap.farm.farm import Farm
from farmmap.figures.ground import STEEP_DEG, VERY_STEEP_DEG, ground_figures
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Option, Options, Panel
from farmmap.scene.backdrops import find_backdrops


def work_out(farm: Farm, options: Options) -> FigureTable:
    """Return the figures of the ground of every block."""
    backdrops = find_backdrops(farm, options.folder)
    return ground_figures(
        farm,
        backdrops.heights,
        options.values.get("steep_from_deg", STEEP_DEG),
        options.values.get("very_steep_from_deg", VERY_STEEP_DEG),
        backdrops.said,
    )


PANEL = Panel(
    name="Ground",
    reads=frozenset(("blocks", "creeks", "backdrops")),
    work_out=work_out,
    options=(
        Option("steep_from_deg", "Steep from", "°", 1.0, 60.0, 1.0, lambda _farm: STEEP_DEG),
        Option("very_steep_from_deg", "Very steep from", "°", 1.0, 80.0, 1.0, lambda _farm: VERY_STEEP_DEG),
    ),
    rows_are="block",
    rank=40,
)
