"""What to count of a planting to know how many of its plants live: all, or strips right across it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from farmmap.plans.planting.outcome.costs import called
from farmmap.plans.planting.outcome.order import OrderLine, order_lines
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.kinds import PlantKinds

COUNT_ALL = 300
"""Up to so many plants of a zone are all counted. Common practice."""

SAMPLE = 100
"""Where they are more, strips that hold about so many of the zone are counted at the least. Common practice."""

STRIP_M = 4.0
"""Width of a strip across the planting: two people see both its edges. Common practice. [m]"""

SPACINGS_M = (10, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200)
"""Along the bank, from the middle of one strip to that of the next. [m]"""

LEAST_STRIPS = 5
"""Fewer strips would each count for too much. Common practice."""


@dataclass(frozen=True)
class ToCount:
    """Plants of one kind in one zone.

    Attributes
    ----------
    zone, kind : str
        Name of the zone, and what people call the kind.
    stock : str
        As the recipe has it; several with commas.
    planted : int
        Plants of it.
    look_at : int
        How many of them are looked at, about.
    """

    zone: str
    kind: str
    stock: str
    planted: int
    look_at: int


@dataclass(frozen=True)
class SurvivalCount:
    """What to count of a planting.

    Attributes
    ----------
    lines : tuple of ToCount
        Zone by zone from the water outwards.
    spacing_m : mapping of str to int
        Spacing of strips in each zone of which not all are counted. [m]
    """

    lines: tuple[ToCount, ...]
    spacing_m: dict[str, int]


def survival_count(plan: PlantingPlan, kinds: PlantKinds) -> SurvivalCount:
    """Return what to count of a planting.

    Parameters
    ----------
    plan : PlantingPlan
        The planting.
    kinds : PlantKinds
        What kinds of plants are called.
    """
    lines = [line for line in order_lines(plan) if line.plants]
    spacing = {
        zone: found
        for zone in dict.fromkeys(line.zone_name for line in lines)
        if (found := strip_spacing_m(_plants(lines, zone), plan.margin_length_m)) is not None
    }
    out: dict[tuple[str, str], ToCount] = {}
    for line in lines:
        kind, share = called(line.species, kinds), STRIP_M / spacing.get(line.zone_name, STRIP_M)
        had = out.get((line.zone_name, kind))
        planted = line.plants + (had.planted if had else 0)
        stocks = dict.fromkeys((*((had.stock,) if had else ()), line.stock))
        out[line.zone_name, kind] = ToCount(
            line.zone_name, kind, ", ".join(stock for stock in stocks if stock), planted, round(planted * share)
        )
    return SurvivalCount(tuple(out.values()), spacing)


def strip_spacing_m(plants: int, bank_m: float) -> int | None:
    """Return how far apart strips across a zone lie that hold enough of its plants; None to count all of them.

    Parameters
    ----------
    plants : int
        Plants of the zone.
    bank_m : float
        Length of bank along which it lies, both banks together. [m]
    """
    if plants <= COUNT_ALL:
        return None
    most = min(plants * STRIP_M / SAMPLE, bank_m / LEAST_STRIPS)
    return max((spacing for spacing in SPACINGS_M if spacing <= most), default=None)


def _plants(lines: Sequence[OrderLine], zone: str) -> int:
    return sum(line.plants for line in lines if line.zone_name == zone)
