"""Figures of a plan in words, as the box and the table that compares plans show them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from farmmap.plans.planting.outcome.costs import Costs
    from farmmap.plans.planting.plan import PlantingPlan
    from farmmap.window.tools.planting.workings import Outlook, Sketched, Worked

COST_WORDS = {
    "plants": "Plants",
    "guards": "Guards",
    "fence": "Fence",
    "water": "Water",
    "work": "Work",
}
ZONES = "Ground of the zones"
M2_PER_HA = 10_000.0
LEAST_BARE_HA = 0.005
"""Less of the margin left bare beyond its last zone is not told in the foot of the box. [ha]"""


def money(cents: int | None, currency: str) -> str:
    """Return money in whole units; a dash where there is none: ``$1,235``."""
    return "–" if cents is None else f"{currency}{round(cents / 100):,}"


def short_words(worked: Worked, outlook: Outlook | None) -> str:
    """Return a plan in a line or two, for the foot of the box."""
    plan, costs = worked.plan, worked.costs
    area = plan.area_m2 / M2_PER_HA
    parts = [f"{len(plan.plants):,} plants on {area:.2f} ha"]
    if area > 0:
        parts.append(f"{len(plan.plants) / area:,.0f} a hectare")
    if bare := beyond_zones(plan):
        parts.append(f"{bare} beyond the last zone left bare")
    fence = sum(one.length_m for one in plan.fences)
    if plan.fences:
        parts.append(f"fence {fence:,.0f} m")
    if costs.total_cents is not None:
        parts.append(f"cost {money(costs.total_cents, costs.currency)}")
    if outlook is not None and outlook.cover.years:
        parts.append(f"cover {outlook.cover.cover_percent[-1]:.0f} % after {outlook.cover.years[-1]:.0f} years")
    return "; ".join(parts)


def beyond_zones(plan: PlantingPlan) -> str:
    """Return how much of the margin lies beyond its last zone, "" if nothing to speak of: ``0.64 ha``."""
    bare = (plan.margin_m2 - plan.area_m2) / M2_PER_HA
    return f"{bare:.2f} ha" if bare >= LEAST_BARE_HA else ""


def about_words(sketch: Sketched) -> str:
    """Return about what a plan comes to in a line or two, in the words of `short_words`."""
    from farmmap.plans.planting.outcome.about import about_number

    about = sketch.about
    plan, costs = about.plan, about.costs
    area = plan.area_m2 / M2_PER_HA
    parts = [f"About {about_number(about.plants):,} plants on {area:.2f} ha"]
    if area > 0:
        parts.append(f"{about_number(about.plants / area):,} a hectare")
    if plan.fences:
        parts.append(f"fence {about_number(sum(one.length_m for one in plan.fences)):,} m")
    if costs is not None and costs.total_cents is not None:
        parts.append(f"cost {_about_money(costs.total_cents, costs.currency)}")
    if about.cover:
        year, percent = about.cover[-1]
        parts.append(f"cover {percent:.0f} % after {year:.0f} years")
    return "; ".join(parts)


def about_figures(sketch: Sketched) -> dict[str, str]:
    """Return about-figures by the names of `figures_of`; those of which nothing is known yet are not among them."""
    from farmmap.plans.planting.outcome.about import about_number

    about = sketch.about
    plan, costs = about.plan, about.costs
    area = plan.area_m2 / M2_PER_HA
    figures = {
        "Plants": f"about {about_number(about.plants):,}",
        "Plants a hectare": f"about {about_number(about.plants / area):,}" if area > 0 else "–",
        ZONES: f"{area:.3f} ha",
        "Of it free to plant": f"about {sum(strip.clear_m2 for strip in plan.strips) / M2_PER_HA:.2f} ha",
        "Bank": f"{plan.margin_length_m:,.0f} m",
    }
    if costs is None:
        return figures
    figures["Fence"] = f"about {about_number(sum(one.length_m for one in plan.fences)):,} m"
    figures["Cost"] = "–" if costs.total_cents is None else f"about {_about_money(costs.total_cents, costs.currency)}"
    return figures


def _about_money(cents: int, currency: str) -> str:
    from farmmap.plans.planting.outcome.about import about_number

    return f"{currency}{about_number(cents / 100):,}"


def figures_of(worked: Worked, outlook: Outlook | None) -> list[tuple[str, str]]:
    """Return the figures of a plan with their names."""
    from farmmap.plans.planting.outcome.order import strainers_of

    plan, costs = worked.plan, worked.costs
    area = plan.area_m2 / M2_PER_HA
    planted = sum(strip.clear_m2 for strip in plan.strips) / M2_PER_HA
    strainers = sum(map(strainers_of, plan.fences))
    figures = [
        ("Plants", f"{len(plan.plants):,}"),
        ("Plants a hectare", f"{len(plan.plants) / area:,.0f}" if area > 0 else "–"),
        (ZONES, f"{area:.3f} ha"),
        ("Of it free to plant", f"{planted:.3f} ha"),
        ("Left bare beyond the zones", beyond_zones(plan) or "–"),
        ("Bank", f"{plan.margin_length_m:,.0f} m"),
        ("Fence", f"{sum(one.length_m for one in plan.fences):,.0f} m"),
        ("Strainer posts", f"{strainers:,}"),
        ("Posts between", f"{sum(one.posts for one in plan.fences):,}"),
        ("Gates", f"{sum(len(fence.gates) for fence in plan.fences):,}"),
        ("Troughs", f"{sum(len(fence.troughs) for fence in plan.fences):,}"),
        ("Fence that a flood may reach", f"{sum(one.flooded_m for one in plan.fences):,.0f} m"),
        ("Cost", money(costs.total_cents, costs.currency)),
        ("Grant", money(costs.grant_cents, costs.currency)),
        ("In kind", money(costs.in_kind_cents, costs.currency)),
        ("Left to you", money(costs.own_cents, costs.currency)),
    ]
    if outlook is not None:
        figures += cover_figures(outlook)
    return figures


def cover_figures(outlook: Outlook) -> list[tuple[str, str]]:
    """Return the cover of a plan in the years that people ask for."""
    return [
        (f"Cover after {year:.0f} year{'' if year == 1 else 's'}", f"{value:.0f} %")
        for year, value in zip(outlook.cover.years, outlook.cover.cover_percent, strict=True)
        if year in {1, 5, 10, 20}
    ]


def costs_in_words(costs: Costs) -> list[tuple[str, str, str, str, str]]:
    """Return what each kind of thing costs and who pays, and all together."""
    rows: list[tuple[str, str, str, str, str]] = []
    for kind, words in COST_WORDS.items():
        part = costs.of_kind(kind)
        if part.total_cents:
            rows.append(_row(words, part))
    return [*rows, _row("All", costs)] if rows else []


def _row(words: str, costs: Costs) -> tuple[str, str, str, str, str]:
    parts = (costs.total_cents, costs.grant_cents, costs.in_kind_cents, costs.own_cents)
    total, grant, in_kind, own = (money(part, costs.currency) for part in parts)
    return words, total, grant, in_kind, own
