"""Replacing the dead of a planting, from a count of those that live.

Where plots were counted and not all, how sure the share alive is: by Wilson's
interval over the plants, and by the spread between plots, which is the wider
where the dead stand together.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from farmmap.errors import BadInput
from farmmap.figures.student import t_quantile
from farmmap.files.placing import part_file, put_in_place
from farmmap.plans.planting.outcome.order import OrderLine, bought, order_lines, price_of
from farmmap.plans.planting.plan import PlantingPlan, Plants
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.plans.planting.recipes.recipe import StockOrder

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm

SURE = 0.95
"""How sure an interval is, unless said otherwise."""

ORDER_COLUMNS = (
    "zone",
    "species",
    "name",
    "stock",
    "planted",
    "alive",
    "to_replace",
    "lost_percent",
    "to_order",
    "pack",
    "packs",
    "price",
)


@dataclass(frozen=True)
class Counted:
    """A survival count of one species in one zone, or of all.

    Attributes
    ----------
    alive, planted : int
        Plants found alive, of so many that were planted where the count was made.
    zone : str or None
        Name of the zone; None for all.
    species : str or None
        Species, as the recipe has it; None for all.
    plots : tuple of (int, int)
        Alive and planted of each plot, if plots were counted and not all plants; ``alive`` and ``planted`` are then
        their sums.
    """

    alive: int
    planted: int
    zone: str | None = None
    species: str | None = None
    plots: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class Interval:
    """A share, and between which shares it is likely to lie, 0 to 1."""

    share: float
    least: float
    most: float


@dataclass(frozen=True)
class Gap:
    """What is replaced of one species and stock in one zone.

    Attributes
    ----------
    zone : str
        Name of the zone.
    species, stock : str
        As the recipe has them.
    planted, alive, to_replace : int
        As planned, as reckoned alive, and to be planted again.
    least, most : int
        To be planted again if as many live as is likely at the most, and at the least.
    survival : Interval
        Share alive.
    """

    zone: str
    species: str
    stock: str
    planted: int
    alive: int
    to_replace: int
    least: int
    most: int
    survival: Interval


@dataclass(frozen=True)
class Gapping:
    """Gapping of a planting.

    Attributes
    ----------
    gaps : tuple of Gap
        In the order of the plan's order.
    orders : tuple of OrderLine
        To order, with losses and whole packs, as `farmmap.plans.planting.outcome.order.bought` reads them.
    notes : tuple of str
        In words.
    """

    gaps: tuple[Gap, ...]
    orders: tuple[OrderLine, ...]
    notes: tuple[str, ...]


def wilson(alive: int, counted: int, sure: float = SURE) -> Interval:
    """Share alive and its interval.

    Source: E. B. Wilson (1927), Probable inference, the law of succession, and statistical inference, Journal of the
    American Statistical Association 22, 209-212: (p + z²/2n ± z √(p(1 - p)/n + z²/4n²)) / (1 + z²/n).

    Parameters
    ----------
    alive, counted : int
        Plants alive of those looked at.
    sure : float
        0 to 1.

    Raises
    ------
    BadInput
        None was looked at, or more live than were.
    """
    if counted <= 0 or not 0 <= alive <= counted or not 0 < sure < 1:
        raise BadInput(f"{alive} alive of {counted} counted cannot be; give how many were looked at, and how many live")
    z = NormalDist().inv_cdf((1 + sure) / 2)
    share = alive / counted
    half = z * math.sqrt(share * (1 - share) / counted + z * z / (4 * counted * counted))
    middle = share + z * z / (2 * counted)
    whole = 1 + z * z / counted
    return Interval(share, max((middle - half) / whole, 0.0), min((middle + half) / whole, 1.0))


def by_plots(plots: Iterable[tuple[int, int]], sure: float = SURE) -> Interval:
    """Share alive from plots, and its interval from the spread between them.

    The share is all alive over all planted; its standard error that of a ratio of two plot totals: W. G. Cochran
    (1977), Sampling Techniques, 3rd edition, section 6.4, without the finite population correction, and with Student's
    t of one plot fewer.

    Raises
    ------
    BadInput
        Fewer than two plots, an empty planting, or more alive than planted in one.
    """
    found = [(int(alive), int(planted)) for alive, planted in plots]
    if len(found) < 2 or any(not 0 <= alive <= planted for alive, planted in found):
        raise BadInput("count two plots or more, each with the number planted in it and how many of these live")
    planted = sum(number for _, number in found)
    if planted == 0:
        raise BadInput("nothing was planted in any of the plots that were counted")
    share = sum(alive for alive, _ in found) / planted
    count = len(found)
    spread = sum((alive - share * number) ** 2 for alive, number in found) / (count - 1)
    error = math.sqrt(spread / count) / (planted / count)
    half = float(t_quantile(count - 1, sure)) * error
    return Interval(share, max(share - half, 0.0), min(share + half, 1.0))


def gapping(
    plan: PlantingPlan,
    counts: Iterable[Counted],
    *,
    target_percent: float = 100.0,
    sure: float = SURE,
) -> Gapping:
    """Work out what to plant again.

    Parameters
    ----------
    plan : PlantingPlan
        The planting as it was planted.
    counts : iterable of Counted
        For each species of each zone the closest count holds: of this species in this zone, else of the species in
        all zones, else of the zone, else of all. What nothing was counted of counts as alive, and that is said.
    target_percent : float
        Of the plants planted, so many are to stand again. [%]
    sure : float
        How sure the intervals of samples are, 0 to 1.

    Raises
    ------
    BadInput
        A count that cannot be, or of a zone or species that the plan has not.
    """
    if not 0 < target_percent <= 100:
        raise BadInput(f"a target of {target_percent:g} % of the plants cannot be; give more than 0, up to 100")
    lines = order_lines(plan)
    found = _checked(lines, counts)
    gaps: list[Gap] = []
    uncounted: list[str] = []
    for line in lines:
        count = _closest(line, found)
        if count is None:
            uncounted.append(f"{line.species} in {line.zone_name}")
            continue
        survival = _survival(count, sure)
        target = line.plants * target_percent / 100
        alive = round(line.plants * survival.share)
        short = [max(math.ceil(round(target - line.plants * share, 9)), 0) for share in (survival.most, survival.least)]
        again = max(math.ceil(round(target, 9)) - alive, 0)
        gaps.append(
            Gap(line.zone_name, line.species, line.stock, line.plants, alive, again, short[0], short[1], survival)
        )
    orders = _ordered(plan, lines, gaps)
    notes = _notes(gaps, uncounted, found, target_percent, sure)
    if any(plan.recipe.orders.get(line.stock, StockOrder()).lost_percent for line in orders):
        notes = (*notes, "Plants that were ordered for losses at first and are not planted yet come off this order.")
    return Gapping(tuple(gaps), orders, notes)


def write_gapping(plan: PlantingPlan, found: Gapping, path: str | Path, farm: Farm | None = None) -> None:
    """Write what is planted again, and ordered for it, as CSV (RFC 4180): a row for each zone, species and stock.

    ``packs`` are parts of packs; those of a species and stock add up to whole
    ones over the zones.

    Parameters
    ----------
    plan : PlantingPlan
        The planting.
    found : Gapping
        From `gapping`.
    path : str or Path
        The file; one that is there is replaced once the new one is whole.
    farm : Farm, optional
        Its names of species are used.

    Raises
    ------
    BadInput
        It cannot be written there.
    """
    path, kinds, recipe = Path(path).resolve(), plant_kinds(farm, plan.recipe), plan.recipe
    packed = {(one.species.casefold(), one.stock): one for one in bought(recipe, found.orders)}
    ordered = {(line.zone_name, line.species, line.stock): line.to_order for line in found.orders}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(ORDER_COLUMNS)
    for gap in found.gaps:
        kind, one = kinds.find(gap.species), packed.get((gap.species.casefold(), gap.stock))
        stock = recipe.orders.get(gap.stock, StockOrder())
        to_order = ordered.get((gap.zone, gap.species, gap.stock), 0)
        packs = 0.0 if one is None else round(to_order / one.pack, 4)
        code, name = (gap.species, "") if kind is None else (kind.code, kind.name)
        counts = (gap.planted, gap.alive, gap.to_replace, f"{stock.lost_percent:g}", to_order, stock.pack)
        price = price_of(recipe, gap.species, gap.stock) or 0.0
        writer.writerow([gap.zone, code, name, gap.stock, *counts, f"{packs:g}", f"{price:g}"])
    if path.is_dir():
        raise BadInput(f"{path} is a folder; name a file in it")
    try:
        with part_file(path) as part:
            part.write_text(out.getvalue(), encoding="utf-8-sig", newline="")
            put_in_place(part, path)
    except OSError as error:
        raise BadInput(f"{path} cannot be written: {error.strerror}. Choose a folder that may be written to") from error


def _checked(lines: Iterable[OrderLine], counts: Iterable[Counted]) -> list[Counted]:
    """Return the counts, each found in the plan and believable; those by plots with their sums filled in."""
    zones = {line.zone_name.casefold(): line.zone_name for line in lines}
    species = {line.species.casefold(): line.species for line in lines}
    found: list[Counted] = []
    for count in counts:
        if count.zone is not None and count.zone.casefold() not in zones:
            raise BadInput(f"the plan has no zone '{count.zone}'; it has {', '.join(zones.values())}")
        if count.species is not None and count.species.casefold() not in species:
            raise BadInput(f"no '{count.species}' was planted; the plan has {', '.join(species.values())}")
        if count.plots:
            alive, planted = (sum(column) for column in zip(*count.plots, strict=True))
            count = replace(count, alive=alive, planted=planted)  # noqa: PLW2901
        if count.planted <= 0 or not 0 <= count.alive <= count.planted:
            raise BadInput(
                f"{count.alive} alive of {count.planted} planted cannot be; give how many were looked at, and how many "
                "of these live"
            )
        found.append(count)
    if not found:
        raise BadInput("nothing was counted yet; count how many of the plants live, zone by zone or in plots")
    return found


def _closest(line: OrderLine, counts: Iterable[Counted]) -> Counted | None:
    """Return the count that says most of a line; of two alike the later."""
    best: tuple[int, Counted] | None = None
    for count in counts:
        if count.zone is not None and count.zone.casefold() != line.zone_name.casefold():
            continue
        if count.species is not None and count.species.casefold() != line.species.casefold():
            continue
        told = 2 * (count.species is not None) + (count.zone is not None)
        if best is None or told >= best[0]:
            best = told, count
    return None if best is None else best[1]


def _survival(count: Counted, sure: float) -> Interval:
    """Share alive, with the wider of Wilson's interval and that by plots."""
    over_plants = wilson(count.alive, count.planted, sure)
    if len(count.plots) < 2:
        return over_plants
    over_plots = by_plots(count.plots, sure)
    return Interval(over_plants.share, min(over_plants.least, over_plots.least), max(over_plants.most, over_plots.most))


def _ordered(plan: PlantingPlan, lines: Iterable[OrderLine], gaps: Iterable[Gap]) -> tuple[OrderLine, ...]:
    """Return what is ordered for the gaps: the same working as for a planting of so many plants."""
    again = {(gap.zone, gap.species, gap.stock): gap.to_replace for gap in gaps}
    first: dict[tuple[int, str, str], int] = {}
    for at, (zone, kin) in enumerate(plan.kinds):
        first.setdefault((zone, kin.species.casefold(), kin.stock), at)
    chosen = [
        np.full(
            again.get((line.zone_name, line.species, line.stock), 0),
            first[line.zone, line.species.casefold(), line.stock],
        )
        for line in lines
    ]
    kins = np.concatenate([*chosen, np.zeros(0, np.intp)]).astype(np.intp)
    nowhere = np.full(len(kins), np.nan)
    none = np.zeros(len(kins), np.intp)
    return tuple(
        line for line in order_lines(replace(plan, plants=Plants(nowhere, nowhere, none, kins, none))) if line.to_order
    )


def _notes(
    gaps: list[Gap], uncounted: list[str], counts: Iterable[Counted], target_percent: float, sure: float
) -> tuple[str, ...]:
    planted, alive = sum(gap.planted for gap in gaps), sum(gap.alive for gap in gaps)
    again = sum(gap.to_replace for gap in gaps)
    said = [
        f"{alive:,} of {planted:,} plants live ({100 * alive / planted:.0f} %); {again:,} are to be planted again "
        f"to reach {target_percent:g} % of what was planted."
        if planted
        else "Nothing was planted of what was counted."
    ]
    if any(gap.most > gap.least for gap in gaps) and sum(count.planted for count in counts) < planted:
        least, most = sum(gap.least for gap in gaps), sum(gap.most for gap in gaps)
        said.append(
            f"As not all were counted, each species may need fewer or more: {least:,} to {most:,} together at the "
            f"outside, sure to {100 * sure:g} %."
        )
    if uncounted:
        said.append(f"Not counted, and taken to live: {', '.join(uncounted)}.")
    return tuple(said)
