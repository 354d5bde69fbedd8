"""Products: what stands and what it gives, harvests to come, what they bring, and the carbon in the trees."""

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.registry import Option, Options, Panel
from farmmap.plans.harvest.rates import LEAST_RATE, MOST_RATE, RATE_PERCENT


def work_out(farm: Farm, options: Options) -> FigureTable:
    """Return the table that the view asks for, of the farm or of the block that is chosen."""
    from farmmap.panels.products.shown import table_for

    return table_for(farm, options)


PANEL = Panel(
    name="Products",
    reads=frozenset(
        (
            "blocks",
            "trees",
            "measurements",
            "species",
            "tracks",
            "creeks",
            "hazards",
            "products",
            "volumes",
            "targets",
        )
    ),
    work_out=work_out,
    options=(
        Option("rate_percent", "Rate of interest", "% a year", LEAST_RATE, MOST_RATE, 0.5, lambda _farm: RATE_PERCENT),
    ),
    view="farmmap.panels.products.view:ProductsView",
    follows_choice=True,
    stays_for=frozenset(("block",)),
    takes_long=True,
    rank=80,
)
