"""Room: what holds the chosen tree back, and how dense the blocks stand."""

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Options, Panel


def work_out(farm: Farm, options: Options) -> FigureTable:
    """Return the competitors of the tree that is chosen, or the density of all blocks.

    A block that is chosen has the competition among its trees in its row too.
    """
    from farmmap.figures.room.blocks import block_with_competition, room_figures
    from farmmap.figures.room.holding import BRIEF, COLUMNS, holds_back

    chosen = options.chosen
    if chosen is not None and chosen.kind == "tree":
        try:
            return holds_back(farm, chosen.id, options.on)
        except BadInput as refused:
            words = str(refused)
            return FigureTable("holds_back", "Room", COLUMNS, (), (), (f"{words[:1].upper()}{words[1:]}.",), BRIEF)
    if chosen is not None and chosen.kind == "block":
        return block_with_competition(farm, chosen.id, options.on)
    return room_figures(farm, options.on)


PANEL = Panel(
    name="Room",
    reads=frozenset(
        ("blocks", "trees", "measurements", "tracks", "creeks", "hazards", "species", "plots", "plot_trees")
    ),
    work_out=work_out,
    view="farmmap.panels.room.view:RoomView",
    follows_choice=True,
    stays_for=frozenset(("tree", "block")),
    rank=55,
)
