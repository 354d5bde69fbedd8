"""What a planting costs at the grower's own rates, to the cent, and who bears which part of it.

Money is kept in whole cents. Every line is its quantity, as it is shown, times
its rate, rounded half up; the shares of a line are given out by largest
remainder, so that they always add up to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from farmmap.errors import BadInput
from farmmap.plans.planting.outcome.order import Materials, OrderLine, bought, materials, price_of
from farmmap.plans.planting.places.mixing import exact_counts
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.rates import KINDS, UNITS
from farmmap.plans.planting.recipes.recipe import Recipe, Share

if TYPE_CHECKING:
    from farmmap.plans.planting.recipes.kinds import PlantKinds

_WHOLE = ("fence_m", "plant")
"""Rates that pay for other units together; listed only where they are given."""


@dataclass(frozen=True)
class CostLine:
    """One line of the costs.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    words : str
        What is paid for.
    quantity : Decimal
        How much of it, rounded as shown.
    unit : str
        What it is counted in.
    rate : Decimal or None
        Money for one; None if the grower gave none.
    cents : int or None
        All of it; None without a rate.
    grant_cents, in_kind_cents, own_cents : int or None
        Who bears it; they add up to ``cents``.
    """

    kind: str
    words: str
    quantity: Decimal
    unit: str
    rate: Decimal | None = None
    cents: int | None = None
    grant_cents: int | None = None
    in_kind_cents: int | None = None
    own_cents: int | None = None


@dataclass(frozen=True)
class Costs:
    """What a planting costs.

    Attributes
    ----------
    lines : tuple of CostLine
        Kind by kind.
    currency : str
        Sign of the money, for people.
    notes : tuple of str
        What has no rate, and what may be counted twice.
    """

    lines: tuple[CostLine, ...]
    currency: str
    notes: tuple[str, ...] = ()

    @property
    def rated(self) -> bool:
        """Whether anything has a rate at all."""
        return any(line.cents is not None for line in self.lines)

    @property
    def total_cents(self) -> int | None:
        """All that has a rate, None if nothing has."""
        return _sum(line.cents for line in self.lines)

    @property
    def grant_cents(self) -> int | None:
        """The grant's part of it."""
        return _sum(line.grant_cents for line in self.lines)

    @property
    def in_kind_cents(self) -> int | None:
        """What is given in kind: own work and materials, valued."""
        return _sum(line.in_kind_cents for line in self.lines)

    @property
    def own_cents(self) -> int | None:
        """What the grower pays."""
        return _sum(line.own_cents for line in self.lines)

    def of_kind(self, kind: str) -> Costs:
        """Return the lines of one kind alone."""
        return Costs(tuple(line for line in self.lines if line.kind == kind), self.currency)


def cost_lines(plan: PlantingPlan, orders: Iterable[OrderLine], kinds: PlantKinds | None = None) -> Costs:
    """Work out what a planting costs.

    Parameters
    ----------
    plan : PlantingPlan
        The planting; its recipe has rates, prices and shares.
    orders : iterable of OrderLine
        What is ordered for it, from `farmmap.plans.planting.outcome.order.order_lines`.
    kinds : PlantKinds, optional
        What plants are called; as the recipe writes them if not given.

    Returns
    -------
    Costs
        Without rates: quantities only.

    Raises
    ------
    BadInput
        A rate that has no meaning here, or is negative; shares of grant and in kind that are more than all.
    """
    orders, recipe = tuple(orders), plan.recipe
    unknown = sorted(set(recipe.rates) - set(UNITS))
    if unknown:
        raise BadInput(f"there is no rate called '{unknown[0]}'; rates may be given for {', '.join(UNITS)}")
    needed = materials(plan, orders)
    lines = [*_plants(recipe, orders, kinds), *_others(recipe, needed)]
    lines.sort(key=lambda line: KINDS.index(line.kind))
    return Costs(tuple(lines), recipe.currency, tuple(_notes(recipe, lines, needed)))


def shown_money(cents: int | None, currency: str = "") -> str:
    """Return money as people read it, such as ``$1,234.50``; a dash where there is none."""
    return "–" if cents is None else f"{'-' * (cents < 0)}{currency}{abs(cents) // 100:,}.{abs(cents) % 100:02d}"


def called(species: str, kinds: PlantKinds | None) -> str:
    """Return what people call a species, whichever way a recipe writes it; as it is written if nothing is known."""
    kind = None if kinds is None else kinds.find(species)
    return species if kind is None else kind.name or kind.code or species


def _plants(recipe: Recipe, orders: tuple[OrderLine, ...], kinds: PlantKinds | None) -> Iterator[CostLine]:
    """Yield a line for each species and stock."""
    for one in bought(recipe, orders):
        words, price = f"{called(one.species, kinds)}, {one.stock}", price_of(recipe, one.species, one.stock)
        yield _line(recipe, "plants", words, Decimal(one.to_order), "each", price)


def _others(recipe: Recipe, needed: Materials) -> Iterator[CostLine]:
    """Yield a line for each thing that the planting needs, or that has a rate."""
    for name, quantity in _quantities(needed).items():
        unit, rate = UNITS[name], recipe.rates.get(name)
        paid_otherwise = unit.by_choice or any(other in recipe.rates for other in unit.instead)
        if not quantity or (rate is None and (paid_otherwise or name in _WHOLE)):
            continue
        rounded = Decimal(str(quantity)).quantize(Decimal(1).scaleb(-unit.places), ROUND_HALF_UP)
        yield _line(recipe, unit.kind, unit.words, rounded, unit.unit, rate)


def _quantities(needed: Materials) -> dict[str, float]:
    return {
        "guard": needed.guards,
        "stake": needed.stakes,
        "mat": needed.mats,
        "fence_m": needed.fence_m,
        "strainer": needed.strainers,
        "post": needed.posts,
        "batten": needed.battens,
        "wire_m": needed.wire_m,
        "gate": needed.gates,
        "floodgate": needed.floodgates,
        "floodway_m": needed.floodway_m,
        "trough": needed.troughs,
        "prepare_ha": needed.clear_ha,
        "spot": needed.plants,
        "plant": needed.with_losses,
        "hour": needed.hours,
        "release": needed.plants,
    }


def _line(recipe: Recipe, kind: str, words: str, quantity: Decimal, unit: str, rate: float | None) -> CostLine:
    if rate is None:
        return CostLine(kind, words, quantity, unit)
    exact = Decimal(str(float(rate)))
    if not exact.is_finite() or exact < 0:
        raise BadInput(f"the rate for {words} is {rate:g}; a rate is nought or more")
    cents = int((quantity * exact * 100).quantize(Decimal(1), ROUND_HALF_UP))
    share = recipe.shares.get(kind, recipe.shares.get("", Share()))
    parts = [Fraction(str(float(percent))) for percent in (share.grant_percent, share.in_kind_percent)]
    if min(parts) < 0 or sum(parts) > 100:
        raise BadInput(
            f"shares of {kind or 'all costs'}: grant {share.grant_percent:g} % and in kind {share.in_kind_percent:g} %"
            " must be nought or more and together no more than 100 %"
        )
    grant, in_kind, own = exact_counts(cents, [*parts, 100 - sum(parts)])
    return CostLine(kind, words, quantity, unit, exact, cents, grant, in_kind, own)


def _notes(recipe: Recipe, lines: list[CostLine], needed: Materials) -> Iterator[str]:
    if not any(line.cents is not None for line in lines):
        yield "No rates are given in the recipe, so there are quantities only and no costs."
        return
    missing = [f"{line.words} ({line.kind})" for line in lines if line.rate is None]
    if missing:
        yield f"No rate is given for {', '.join(missing)}; the total leaves that out."
    quantities = _quantities(needed)
    for name in _WHOLE:
        parts = [part for part in UNITS[name].instead if part in recipe.rates and quantities[part]]
        if name in recipe.rates and quantities[name] and parts:
            yield f"Rates for {name} and for {', '.join(parts)} pay for the same; both are given, so both are counted."
    yield "Costs are at the grower's own rates, as they stand with or without tax."


def _sum(values: Iterable[int | None]) -> int | None:
    known = [value for value in values if value is not None]
    return sum(known) if known else None
