"""What follows from a planting: its figures zone by zone, order, materials, costs, calendar and cover together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from farmmap.plans.planting.fences.crossings import bank_of_fence
from farmmap.plans.planting.outcome.cautions import said_once
from farmmap.plans.planting.outcome.costs import Costs, called, cost_lines
from farmmap.plans.planting.outcome.months import Calendar, calendar
from farmmap.plans.planting.outcome.order import (
    M2_PER_HA,
    Bought,
    Materials,
    OrderLine,
    bought,
    materials,
    order_lines,
    strainers_of,
)
from farmmap.plans.planting.plan import PlantingPlan

if TYPE_CHECKING:
    from farmmap.plans.planting.outcome.cover import CoverForecast
    from farmmap.plans.planting.recipes.kinds import PlantKinds

LAST_WORDS = (
    "A map is no survey; a forecast is no advice.",
    "Mark the lines of others' pipes and wires before you dig.",
)


@dataclass(frozen=True, eq=False)
class PlanReport:
    """A planting and what follows from it; made by `plan_report`.

    Attributes
    ----------
    plan : PlantingPlan
        The planting.
    orders : tuple of OrderLine
        Plants zone by zone.
    to_buy : tuple of Bought
        Plants by species and stock, in whole packs.
    needed : Materials
        What is needed besides.
    costs : Costs
        At the grower's own rates.
    calendar : Calendar
        What is done when.
    cover : CoverForecast or None
        How the ground comes under crowns, if it was worked out.
    kinds : PlantKinds or None
        What is known of the plants; without, each is called as the recipe writes it.
    """

    plan: PlantingPlan
    orders: tuple[OrderLine, ...]
    to_buy: tuple[Bought, ...]
    needed: Materials
    costs: Costs
    calendar: Calendar
    cover: CoverForecast | None = None
    kinds: PlantKinds | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """What the grower should know or check, each once, the weightiest first."""
        cover = self.cover.notes if self.cover is not None else ()
        return said_once([*self.plan.notes, *self._nothing, *self.costs.notes, *self.calendar.notes, *cover])

    @property
    def _nothing(self) -> tuple[str, ...]:
        """Why there is no plant, where some were asked for."""
        if self.needed.plants:
            zones = zip(self.plan.recipe.zones, zone_figures(self), strict=True)
            empty = [zone.name for zone, figures in zones if zone.mix and not figures.plants]
            return (f"There is no room for a plant in {' or '.join(empty)}.",) if empty else ()
        if not self.plan.kinds:
            return ()
        if self.plan.area_m2 <= 0:
            return ("Nothing is planted: the margin has no width along this stretch.",)
        return ("Nothing is planted: there is no room for a plant once the set-backs are taken out.",)

    def called(self, species: str) -> str:
        """Return what people call a species of the recipe, whichever way it is written there."""
        return called(species, self.kinds)


@dataclass(frozen=True)
class ZoneFigures:
    """One zone, both banks together.

    Attributes
    ----------
    name : str
        Its name.
    area_ha, clear_ha : float
        All of its ground, and what is left to plant once the set-backs are taken out. [ha]
    plants : int
        Standing in it.
    """

    name: str
    area_ha: float
    clear_ha: float
    plants: int

    @property
    def plants_per_ha(self) -> float:
        """Plants to the hectare of all its ground."""
        return self.plants / self.area_ha if self.area_ha else 0.0

    @property
    def plants_per_clear_ha(self) -> float:
        """Plants to the hectare that is planted."""
        return self.plants / self.clear_ha if self.clear_ha else 0.0


def plan_report(
    plan: PlantingPlan,
    cover: CoverForecast | None = None,
    latitude: float | None = None,
    kinds: PlantKinds | None = None,
) -> PlanReport:
    """Work out what follows from a planting.

    Parameters
    ----------
    plan : PlantingPlan
        The planting.
    cover : CoverForecast, optional
        From `farmmap.plans.planting.outcome.cover.expected_cover`.
    latitude : float, optional
        From `farmmap.plans.planting.outcome.months.latitude_deg`. [degrees]
    kinds : PlantKinds, optional
        From `farmmap.plans.planting.recipes.kinds.plant_kinds`, for what the plants are called.

    Raises
    ------
    BadInput
        Rates, shares, losses or packs that cannot be.
    """
    orders = order_lines(plan)
    return PlanReport(
        plan,
        orders,
        bought(plan.recipe, orders),
        materials(plan, orders),
        cost_lines(plan, orders, kinds),
        calendar(plan, orders, latitude),
        cover,
        kinds,
    )


def zone_figures(report: PlanReport) -> tuple[ZoneFigures, ...]:
    """Return the figures of each zone, from the water outwards."""
    plan = report.plan
    return tuple(
        ZoneFigures(
            zone.name,
            sum(strip.area_m2 for strip in plan.strips if strip.zone == place) / M2_PER_HA,
            sum(strip.clear_m2 for strip in plan.strips if strip.zone == place) / M2_PER_HA,
            sum(line.plants for line in report.orders if line.zone == place),
        )
        for place, zone in enumerate(plan.recipe.zones)
    )


def plan_values(report: PlanReport) -> dict[str, Any]:
    """Return what `plan_as_json` writes, as plain values."""
    plan, needed, costs, cover = report.plan, report.needed, report.costs, report.cover
    length_km = plan.margin_length_m / 1000
    area_ha = plan.area_m2 / M2_PER_HA
    return {
        "name": plan.name,
        "recipe": plan.recipe.title,
        "creek": plan.stretch.creek,
        "banks": list(plan.stretch.banks),
        "from_m": plan.stretch.from_m,
        "to_m": plan.stretch.to_m,
        "area_ha": area_ha,
        "margin_ha": plan.margin_m2 / M2_PER_HA,
        "clear_ha": needed.clear_ha,
        "margin_length_m": plan.margin_length_m,
        "fence_m": needed.fence_m,
        "plants": needed.plants,
        "plants_per_ha": needed.plants / area_ha if area_ha else 0.0,
        "plants_per_km": needed.plants / length_km if length_km else 0.0,
        "zones": [_zone_values(report, place, one) for place, one in enumerate(zone_figures(report))],
        "to_order": [asdict(one) | {"name": report.called(one.species)} for one in report.to_buy],
        "materials": asdict(needed),
        "fences": [
            {
                "bank": bank_of_fence(plan, fence),
                "length_m": fence.length_m,
                "strainers": strainers_of(fence),
                "strains_m": fence.strains_m.tolist(),
                "angles_deg": fence.angles_deg.tolist(),
                "posts": fence.posts,
                "battens": fence.battens,
                "wire_m": fence.wire_m,
                "gates": len(fence.gates),
                "floodgates": len(fence.floodgates),
                "troughs": len(fence.troughs),
                "flooded_m": fence.flooded_m,
            }
            for fence in plan.fences
        ],
        "currency": plan.recipe.currency,
        "cost_total": _money(costs.total_cents),
        "cost_grant": _money(costs.grant_cents),
        "cost_in_kind": _money(costs.in_kind_cents),
        "cost_own": _money(costs.own_cents),
        "costs": [
            {
                "kind": line.kind,
                "words": line.words,
                "quantity": float(line.quantity),
                "unit": line.unit,
                "rate": None if line.rate is None else float(line.rate),
                "cost": _money(line.cents),
                "grant": _money(line.grant_cents),
                "in_kind": _money(line.in_kind_cents),
                "own": _money(line.own_cents),
            }
            for line in costs.lines
        ],
        "cover_percent_by_year": _by_year(cover, "cover_percent"),
        "cover_with_low_growth_percent_by_year": _by_year(cover, "with_low_percent"),
        "calendar": [asdict(work) for work in report.calendar.works],
        "notes": [*report.notes, *LAST_WORDS],
    }


def _zone_values(report: PlanReport, place: int, figures: ZoneFigures) -> dict[str, Any]:
    zone = report.plan.recipe.zones[place]
    return {
        "name": figures.name,
        "area_ha": figures.area_ha,
        "clear_ha": figures.clear_ha,
        "plants": figures.plants,
        "plants_per_ha": figures.plants_per_ha,
        "plants_per_clear_ha": figures.plants_per_clear_ha,
        "pattern": zone.pattern.value,
        "between_m": zone.between_m,
        "within_m": zone.within_m,
        "reason": zone.reason,
        "harvest": zone.harvest,
        "species": [
            {
                "species": line.species,
                "name": report.called(line.species),
                "stock": line.stock,
                "plants": line.plants,
                "to_order": line.to_order,
                "reason": line.reason,
            }
            for line in report.orders
            if line.zone == place
        ],
    }


def _by_year(cover: CoverForecast | None, name: str) -> Mapping[str, float] | None:
    if cover is None:
        return None
    return {f"{year:g}": float(percent) for year, percent in zip(cover.years, getattr(cover, name), strict=True)}


def _money(cents: int | None) -> float | None:
    return None if cents is None else cents / 100
