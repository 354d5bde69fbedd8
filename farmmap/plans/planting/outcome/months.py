"""What is done in which month, before planting and for five years after.

The months of planting are the recipe's. What comes before and after is counted
from them as is common practice: plants ordered most of a year ahead, fence and
ground ready before, weeds kept down for two seasons. That survival is counted
after 1, 3 and 5 years is asked for by Oregon State University Extension's
seedling survival survey.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from farmmap.farm.day_words import MONTHS
from farmmap.farm.farm import Farm
from farmmap.plans.planting.outcome.order import Materials, OrderLine, materials, several
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.recipe import StockOrder

ORDER_MONTHS_BEFORE = 9
FENCE_MONTHS_BEFORE = 3
GROUND_MONTHS_BEFORE = 2
WEEDS_MONTHS_AFTER = 3
WEED_SEASONS = 2
COUNT_YEARS = (1, 3, 5)
GUARDS_OFF_YEARS = 5
TROPIC_DEG = 23.5


@dataclass(frozen=True)
class Work:
    """Something to be done.

    Attributes
    ----------
    year : int
        0 in the year in which planting begins, -1 in the year before.
    month : int or None
        1 to 12; None where no month of planting is known.
    until : int or None
        Month in which it ends, if it goes on for longer.
    what : str
        What is to be done.
    """

    year: int
    month: int | None
    until: int | None
    what: str

    @property
    def when(self) -> str:
        """Month and year for people, such as ``June to August, year of planting``."""
        year = "year of planting"
        if self.year:
            year = f"{abs(self.year)} year{'s' * (abs(self.year) > 1)} {'after' if self.year > 0 else 'before'}"
        if self.month is None:
            return year
        return f"{_month(self.month)}{f' to {_month(self.until)}' if self.until else ''}, {year}"


@dataclass(frozen=True)
class Calendar:
    """What is to be done when.

    Attributes
    ----------
    works : tuple of Work
        In the order of time.
    notes : tuple of str
        Months that are missing, or look odd where the farm lies.
    """

    works: tuple[Work, ...]
    notes: tuple[str, ...] = ()


def latitude_deg(farm: Farm, plan: PlantingPlan) -> float | None:
    """Return the latitude of a planting, None on a local grid, whose place on the earth is not known."""
    banks = [bank for bank in plan.banks.values() if not bank.is_empty]
    if farm.grid.local or not banks:
        return None
    middle = shapely.centroid(shapely.geometrycollections(banks))
    latitude = float(farm.grid.lon_lat(middle.x, middle.y)[1])
    return latitude if np.isfinite(latitude) else None


def calendar(plan: PlantingPlan, orders: Iterable[OrderLine], latitude: float | None = None) -> Calendar:
    """Work out what is to be done when.

    Parameters
    ----------
    plan : PlantingPlan
        The planting; its recipe says in which months each stock is planted.
    orders : iterable of OrderLine
        From `farmmap.plans.planting.outcome.order.order_lines`.
    latitude : float, optional
        Where the farm lies, for a hint if the months look odd; no month is taken from it. [degrees]
    """
    orders = tuple(orders)
    plants: dict[str, int] = {}
    for line in orders:
        plants[line.stock] = plants.get(line.stock, 0) + line.plants
    plants = {stock: number for stock, number in plants.items() if number}
    months = {stock: in_season(plan.recipe.orders.get(stock, StockOrder()).months) for stock in plants}
    works = list(_works(plan, plants, months, materials(plan, orders))) if plants else []
    works.sort(key=lambda work: (work.year, work.month or 0))
    return Calendar(tuple(works), tuple(_notes(months, latitude)))


def in_season(months: Iterable[int]) -> tuple[int, ...]:
    """Return months in the order of a season that may run over the new year: it begins after the longest break."""
    known = sorted(set(months))
    if len(known) < 2:
        return tuple(known)
    breaks = [(later - earlier) % 12 for earlier, later in zip([known[-1], *known], known, strict=False)]
    start = breaks.index(max(breaks))
    return (*known[start:], *known[:start])


def _works(
    plan: PlantingPlan, plants: dict[str, int], months: dict[str, tuple[int, ...]], needed: Materials
) -> Iterator[Work]:
    season = in_season(month for stock_months in months.values() for month in stock_months)
    first = season[0] if season else None

    def after(what: str, *, of_months: int = 0, years: int = 0) -> Work:
        if first is None:
            return Work(years - (of_months < 0), None, None, what)
        at = first - 1 + of_months + 12 * years
        return Work(at // 12, at % 12 + 1, None, what)

    yield after("Order the plants", of_months=-ORDER_MONTHS_BEFORE)
    if needed.fence_m:
        water = " and bring water to the stock" if needed.troughs else ""
        yield after(f"Build the fence{water}", of_months=-FENCE_MONTHS_BEFORE)
    yield after("Prepare the ground: mark rows and spots, and clear them of grass", of_months=-GROUND_MONTHS_BEFORE)
    for stock, number in plants.items():
        guards = ", guards with them" if plan.recipe.orders.get(stock, StockOrder()).guard else ""
        what = f"Plant {number:,} {several(stock)}{guards}"
        if not months[stock] or first is None:
            yield Work(0, None, None, what)
            continue
        begins, ends = months[stock][0], months[stock][-1]
        yield Work(int(begins < first), begins, None if ends == begins else ends, what)
    for season_no in range(WEED_SEASONS):
        yield after("Keep the plants free of weeds", of_months=WEEDS_MONTHS_AFTER, years=season_no)
    for years in COUNT_YEARS:
        more = ", and replace the dead" if years == COUNT_YEARS[0] else ""
        yield after(f"Count what lives{more}", years=years)
    if needed.guards:
        yield after("Take the guards off and away, earlier where stems outgrow them", years=GUARDS_OFF_YEARS)


def _notes(months: dict[str, tuple[int, ...]], latitude: float | None) -> Iterator[str]:
    missing = [stock for stock, known in months.items() if not known]
    half = None if latitude is None or abs(latitude) < TROPIC_DEG else "southern" if latitude < 0 else "northern"
    if missing:
        hint = {
            "southern": " South of the tropics, plants with bare roots and poles are commonly planted June to August.",
            "northern": " North of the tropics, plants with bare roots are commonly planted November to March.",
            None: "",
        }[half]
        yield f"The recipe gives no month for planting {' and '.join(map(several, missing))}.{hint} Ask your nursery."
    summer = {"southern": (12, 1, 2), "northern": (6, 7, 8), None: ()}[half]
    for stock, known in months.items():
        hot = [_month(month) for month in known if month in summer]
        if hot:
            yield (
                f"{several(stock).capitalize()} are to be planted in {' and '.join(hot)}, which is summer in"
                f" the {half} half of the world, where this farm lies; see that the month is meant."
            )


def _month(number: int) -> str:
    return MONTHS[number - 1]
