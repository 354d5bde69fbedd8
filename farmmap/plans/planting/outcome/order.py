"""What a planting needs: plants by zone, species and stock, whole trays and bundles, guards, fence materials, hours.

Losses are plants that die after they were planted. Each is replaced at its
place until one lives there, so need / (1 - lost) are planted in all: 10, 20 and
25 in a hundred lost ask for 1.11, 1.25 and 1.33 times as many (common
practice). Every one of them is work to plant; guards, stakes and mats stand at
places, and the plant that replaces a dead one takes over its own. Whole packs
are rounded up to once for each species and stock over the whole planting. What
that is above the need is given out over the zones by largest remainder of
their plants, so that the zones' orders add up to the packs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from farmmap.errors import BadInput
from farmmap.farm.species import plain
from farmmap.plans.planting.places.mixing import exact_counts
from farmmap.plans.planting.plan import FenceLine, PlantingPlan
from farmmap.plans.planting.recipes.recipe import Kin, Recipe, StockOrder

M2_PER_HA = 10_000.0


@dataclass(frozen=True)
class OrderLine:
    """Plants of one species and stock in one zone.

    Attributes
    ----------
    zone : int
        Place of the zone in the recipe.
    zone_name : str
        Its name.
    species, stock : str
        As the recipe has them.
    plants : int
        That stand there.
    to_order : int
        With losses, and this zone's part of what fills the last pack.
    reason : str
        Why it stands there.
    """

    zone: int
    zone_name: str
    species: str
    stock: str
    plants: int
    to_order: int
    reason: str = ""


@dataclass(frozen=True)
class Bought:
    """Plants of one species and stock as they are ordered, for the whole planting.

    Attributes
    ----------
    species, stock : str
        As the recipe has them.
    plants : int
        That stand in the planting.
    lost_percent : float
        Of those planted, allowed for.
    with_losses : int
        Plants and those to replace the lost.
    pack : int
        Plants in a pack.
    pack_words : str
        What a pack is.
    packs : int
        Whole ones.
    to_order : int
        Plants in them.
    """

    species: str
    stock: str
    plants: int
    lost_percent: float
    with_losses: int
    pack: int
    pack_words: str
    packs: int
    to_order: int

    @property
    def packs_in_words(self) -> str:
        """``3 trays of 40``, or the number alone where there is no pack."""
        return f"{self.to_order}" if self.pack == 1 else f"{counted(self.packs, self.pack_words)} of {self.pack}"


@dataclass(frozen=True)
class Materials:
    """What is needed besides plants.

    Attributes
    ----------
    plants : int
        That stand in the planting; so many places there are.
    with_losses : int
        That are planted, those that replace the dead among them.
    clear_ha : float
        Ground that is planted, set-backs taken out. [ha]
    guards, stakes, mats : int
        For each place once.
    hours : float
        Of one person, to plant them all, with losses. [h]
    fence_m : float
        Fence, gates included. [m]
    strainers, posts, battens, gates : int
        Of the fence.
    wire_m : float
        All wires together. [m]
    gate_m : float
        Width of a gate, 0 if there is none. [m]
    floodgates : int
        Where the fence crosses another creek.
    floodways : int
        Runs of fence that a flood may reach.
    floodway_m : float
        Their length. [m]
    troughs : int
        Places where stock are given water.
    """

    plants: int
    with_losses: int
    clear_ha: float
    guards: int
    stakes: int
    mats: int
    hours: float
    fence_m: float
    strainers: int
    posts: int
    battens: int
    wire_m: float
    gates: int
    gate_m: float
    floodgates: int
    floodways: int
    floodway_m: float
    troughs: int


def with_losses(plants: int, lost_percent: float) -> int:
    """Return how many to plant, the dead replaced, until ``plants`` live, rounded up: plants / (1 - lost / 100).

    Raises
    ------
    BadInput
        All are lost, or fewer than none.
    """
    if not 0 <= lost_percent < 100:
        raise BadInput(f"{lost_percent:g} % of the plants lost leaves nothing to plant; give 0 to less than 100")
    return math.ceil(plants / (1 - Fraction(str(float(lost_percent))) / 100))


def order_lines(plan: PlantingPlan) -> tuple[OrderLine, ...]:
    """Return what is ordered, zone by zone from the water outwards, in the order of the recipe.

    Parameters
    ----------
    plan : PlantingPlan
        The planting.

    Returns
    -------
    tuple of OrderLine
        One for each zone, species and stock; both banks together.

    Raises
    ------
    BadInput
        Losses or packs that cannot be.
    """
    numbers = np.bincount(plan.plants.kin, minlength=len(plan.kinds)).tolist()
    return lines_for(plan.recipe, plan.kinds, numbers)


def lines_for(recipe: Recipe, kinds: Sequence[tuple[int, Kin]], numbers: Sequence[int]) -> tuple[OrderLine, ...]:
    """Return what is ordered for so many plants of each kind, wherever they stand.

    Parameters
    ----------
    recipe : Recipe
        Its zones, losses and packs hold.
    kinds : sequence of (int, Kin)
        As in `PlantingPlan.kinds`.
    numbers : sequence of int
        Plants of each kind.

    Raises
    ------
    BadInput
        Losses or packs that cannot be.
    """
    planted: dict[tuple[int, str, str], int] = {}
    for (zone, kin), number in zip(kinds, numbers, strict=True):
        key = (zone, kin.species.casefold(), kin.stock)
        planted[key] = planted.get(key, 0) + number
    parts: dict[tuple[int, str, str], int] = {}
    for species, stock in dict.fromkeys(key[1:] for key in planted):
        keys = [key for key in planted if key[1:] == (species, stock)]
        plants = [planted[key] for key in keys]
        number = _packed(sum(plants), recipe.orders.get(stock, StockOrder()))[1]
        parts.update(zip(keys, exact_counts(number, plants) if number else plants, strict=True))
    lines, zones = [], recipe.zones
    for zone, kin in kinds:
        key = (zone, kin.species.casefold(), kin.stock)
        if key in planted:
            lines.append(
                OrderLine(zone, zones[zone].name, kin.species, kin.stock, planted.pop(key), parts[key], kin.reason)
            )
    return tuple(lines)


def bought(recipe: Recipe, orders: Iterable[OrderLine]) -> tuple[Bought, ...]:
    """Return what is ordered of each species and stock, all zones together.

    Parameters
    ----------
    recipe : Recipe
        Its losses and packs hold.
    orders : iterable of OrderLine
        From `order_lines`.
    """
    together: dict[tuple[str, str], list[OrderLine]] = {}
    for line in orders:
        together.setdefault((line.species.casefold(), line.stock), []).append(line)
    found = []
    for (_, stock), lines in together.items():
        order, plants = recipe.orders.get(stock, StockOrder()), sum(line.plants for line in lines)
        packs, number = _packed(plants, order)
        found.append(
            Bought(
                species=lines[0].species,
                stock=stock,
                plants=plants,
                lost_percent=order.lost_percent,
                with_losses=with_losses(plants, order.lost_percent),
                pack=order.pack,
                pack_words=order.pack_words,
                packs=packs,
                to_order=number,
            )
        )
    return tuple(found)


def price_of(recipe: Recipe, species: str, stock: str) -> float | None:
    """Return what one plant costs, however its species is written: its own price, else that of its stock.

    None if nobody gave one; a price of nought of a stock is none.
    """
    own = {plain(word): price for word, price in recipe.prices.items()}.get(plain(species))
    return (recipe.orders.get(stock, StockOrder()).price or None) if own is None else own


def materials(plan: PlantingPlan, orders: Iterable[OrderLine]) -> Materials:
    """Return what is needed besides plants.

    Parameters
    ----------
    plan : PlantingPlan
        The planting.
    orders : iterable of OrderLine
        From `order_lines`.
    """
    places: dict[str, int] = {}
    planted: dict[str, int] = {}
    for one in bought(plan.recipe, orders):
        places[one.stock] = places.get(one.stock, 0) + one.plants
        planted[one.stock] = planted.get(one.stock, 0) + one.with_losses
    stocks = [(places[stock], planted[stock], plan.recipe.orders.get(stock, StockOrder())) for stock in places]
    fences, gates = plan.fences, sum(len(fence.gates) for fence in plan.fences)
    return Materials(
        plants=sum(places.values()),
        with_losses=sum(planted.values()),
        clear_ha=sum(strip.clear_m2 for strip in plan.strips) / M2_PER_HA,
        guards=sum(_up(number, order.guard) for number, _, order in stocks),
        stakes=sum(_up(number, order.stakes) for number, _, order in stocks),
        mats=sum(_up(number, order.mat) for number, _, order in stocks),
        hours=math.fsum(number * order.minutes for _, number, order in stocks) / 60,
        fence_m=math.fsum(fence.length_m for fence in fences),
        strainers=sum(map(strainers_of, fences)),
        posts=sum(fence.posts for fence in fences),
        battens=sum(fence.battens for fence in fences),
        wire_m=math.fsum(fence.wire_m for fence in fences),
        gates=gates,
        gate_m=max((fence.gate_m for fence in fences if len(fence.gates)), default=0.0),
        floodgates=sum(len(fence.floodgates) for fence in fences),
        floodways=sum(len(getattr(f.flooded, "geoms", [f.flooded])) for f in fences if not f.flooded.is_empty),
        floodway_m=math.fsum(fence.flooded_m for fence in fences),
        troughs=sum(len(fence.troughs) for fence in fences),
    )


def strainers_of(fence: FenceLine) -> int:
    """Return the strainer posts of a fence: one at each corner, and the last is the first where it runs in a ring."""
    return len(fence.angles_deg) - int(fence.line.is_closed)


def counted(number: int, word: str) -> str:
    """Return a number and its word, ``1 tray``, ``3 trays``, ``2 boxes``."""
    if number == 1:
        return f"1 {word}"
    return f"{number} {word}{'es' if word.endswith(('s', 'x', 'ch', 'sh')) else 's'}"


def several(stock: str) -> str:
    """Return what several plants of a stock are called."""
    return {"seed": "seed spots", "": "plants", "natural": "natural seedlings"}.get(stock, f"{stock}s")


def _packed(plants: int, order: StockOrder) -> tuple[int, int]:
    """Return whole packs, and the plants in them."""
    if order.pack < 1:
        raise BadInput(f"a {order.pack_words} of {order.pack} plants cannot be ordered; give 1 or more")
    packs = math.ceil(Fraction(with_losses(plants, order.lost_percent), order.pack))
    return packs, packs * order.pack


def _up(plants: int, each: float) -> int:
    return math.ceil(plants * Fraction(str(float(each))))
