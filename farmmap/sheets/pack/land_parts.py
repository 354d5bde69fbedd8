"""Parts about the land: summary, location, existing state, stocking of blocks, photo points."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from farmmap.editing.words import listed
from farmmap.farm.day_words import in_words
from farmmap.figures.result import shown
from farmmap.figures.standing import is_ahead
from farmmap.plans.planting.outcome.costs import shown_money
from farmmap.plans.planting.outcome.order import M2_PER_HA
from farmmap.scene.page_charts import Series, bar_chart
from farmmap.scene.page_flow import Flowing, Stays
from farmmap.scene.page_flow_map import Chart, MapRoom
from farmmap.scene.page_flow_text import Fields
from farmmap.scene.page_items import Box, Type
from farmmap.sheets.pack.context import BEFORE, PackContext, PlanOfPack
from farmmap.sheets.pack.farm_tables import block_table, farm_table, in_two, species_table, two_heads
from farmmap.sheets.pack.maps import existing_map, grid_reference, location_map, site_map, ways_in
from farmmap.sheets.pack.pack_table import Column, PackTable, thin, whole

BASE = "The grower's own readings and public data; not a survey."
MOST_BARS = 24
"""Blocks that a chart shows at most; the table has them all."""


def summary_intro(pack: PackContext) -> str:
    """Say in a paragraph for each plan what it is; without one, what stands."""
    if not pack.plans:
        return (
            f"This pack shows {pack.farm.settings.name} as it stands: where it lies, its blocks and creek margins, and "
            "how their figures were worked out."
        )
    return "\n\n".join(_plan_words(one) for one in pack.plans)


def _plan_words(one: PlanOfPack) -> str:
    plan, needed = one.plan, one.report.needed
    banks = " and ".join(plan.stretch.banks) + (" bank" if len(plan.stretch.banks) == 1 else " banks")
    kinds = len({line.species.casefold() for line in one.report.orders if line.plants})
    said = [f"{plan.name}: planting along {whole(plan.margin_length_m)} m of the {banks} of {plan.stretch.creek}."]
    said.append(f"{whole(needed.plants)} plants of {kinds} kinds on {plan.area_m2 / M2_PER_HA:.2f} ha of ground.")
    if needed.fence_m:
        said.append(f"{whole(needed.fence_m)} m of new fence keep stock out.")
    if plan.recipe.purpose:
        said.append(f"Purpose: {plan.recipe.purpose[:1].lower()}{plan.recipe.purpose[1:].rstrip('.')}.")
    return " ".join(said)


def summary(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Who asks, for what, and the main figures."""
    farm, chosen = pack.farm, pack.options
    bounds = farm.bounds()
    reference = grid_reference(farm, bounds) if bounds else ()
    yield Fields(
        (
            ("Applicant", chosen.applicant),
            ("Scheme", chosen.scheme),
            ("Reference number", chosen.reference),
            ("Farm", farm.settings.name),
            ("Property or parcel id", chosen.property_id),
            ("Middle of the farm", "; ".join(f"{value} ({name})" for name, value in reference)),
            ("Figures hold for", f"{in_words(pack.day)}{', forecast' if is_ahead(farm, pack.day) else ''}"),
            ("Drawn from", BASE),
            ("Prepared by", chosen.author),
            ("Date", in_words(pack.printed)),
        )
    )
    for one, before in pack.titled:
        yield main_figures(one, f"{before}{'in' if before else 'In'} figures")
    if not pack.plans:
        yield farm_table(pack)


def main_figures(one: PlanOfPack, title: str) -> PackTable:
    """Return the figures of a plan that a reader looks for first."""
    plan, needed, costs = one.plan, one.report.needed, one.report.costs
    cover = dict(zip(one.cover.years, one.cover.cover_percent, strict=True))
    rows: list[tuple[str, float | None, str, str]] = [
        ("Bank planted", plan.margin_length_m, whole(plan.margin_length_m), "m"),
        ("Ground of all zones", plan.area_m2 / M2_PER_HA, f"{plan.area_m2 / M2_PER_HA:.2f}", "ha"),
        ("Plants", needed.plants, whole(needed.plants), ""),
        ("New fence", needed.fence_m, whole(needed.fence_m), "m"),
    ]
    if costs.rated:
        for words, cents in (
            ("Total cost", costs.total_cents),
            ("Asked of the grant", costs.grant_cents),
            ("Own cash", costs.own_cents),
            ("In kind", costs.in_kind_cents),
        ):
            rows.append((words, None if cents is None else cents / 100, thin(shown_money(cents)), costs.currency))
    rows += [
        ("Under trees and shrubs before planting", cover[BEFORE], f"{cover[BEFORE]:.0f}", "%"),
        ("Under trees and shrubs 20 years after planting", cover[20.0], f"{cover[20.0]:.0f}", "%"),
    ]
    columns = (
        Column("figure", (title,), words=True, about="What it is."),
        Column("value", ("",), about="Its value."),
        Column("unit", ("",), words=True, about="Its unit.", close=True),
    )
    values = tuple((words, value, unit) for words, value, _, unit in rows)
    cells = in_two([(words, text, unit) for words, _, text, unit in rows])
    return PackTable("summary", "", columns, values, cells, heads=two_heads(columns))


def location_intro(pack: PackContext) -> str:
    """Say where the farm lies."""
    return "" if pack.farm.bounds() else f"Nothing is drawn on {pack.farm.settings.name} yet, so there is no map."


def location(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Map of the whole farm, and its place in numbers."""
    name = pack.farm.settings.name
    sites = f" with {listed([one.plan.name for one in pack.plans])} framed" if pack.plans else ""
    room = location_map(pack, f"{name}{sites}")
    if room is None:
        return
    rows = [("Middle of the farm", "; ".join(value for _, value in grid_reference(pack.farm, room.bounds)))]
    rows += [
        (f"Middle of {one.plan.name}", "; ".join(value for _, value in grid_reference(pack.farm, one.bounds)))
        for one in pack.plans
        if one.bounds is not None
    ]
    ways = (
        f"{name or 'a track'} meets the boundary at E {whole(x)}  N {whole(y)}" for name, x, y in ways_in(pack.without)
    )
    grid = pack.farm.grid
    rows.append(("Grid", grid.name if grid.local else f"{grid.name} ({grid.label})"))
    rows.append(("Way in from the road", "; ".join(ways)))
    yield Stays(Fields(tuple(rows)))
    yield room


def existing_intro(pack: PackContext) -> str:
    """Say what the part shows."""
    how = "as forecast for" if is_ahead(pack.farm, pack.day) else "as measured on or before"
    said = f"What stands on {pack.farm.settings.name}, {how} {in_words(pack.day)}."
    if not pack.plans:
        return f"{said} Figures leave out what is only planned."
    return f"{said} What this pack asks for is left out of map and figures; other plans are drawn as planned."


def existing(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Show what stands on maps and in figures."""
    for one in pack.plans:
        yield from _shown(site_map(pack, one, f"{one.plan.name}: the ground as it stands"))
    if not pack.plans:
        yield from _shown(existing_map(pack, f"{pack.farm.settings.name} as it stands"))
    yield farm_table(pack)


def _shown(room: MapRoom | None) -> Iterator[MapRoom]:
    if room is not None:
        yield room


def stocking_intro(pack: PackContext) -> str:
    """Say what stocking is."""
    return (
        f"Living stems of each block on {in_words(pack.day)}, to the hectare of net area: the block less tracks, creek "
        "channels and hazards."
    )


def stocking_lacks(pack: PackContext) -> str:
    """Say that there are no blocks, where there are none."""
    return "" if pack.has_blocks else "no blocks are drawn on this farm yet"


def stocking(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Stocking of the blocks as chart and tables."""
    yield block_table(pack)
    known = [row for row in pack.blocks.rows if isinstance(row.get("stems_per_ha"), float) and row["stems_per_ha"]]
    known = sorted(known, key=lambda row: -float(str(row["stems_per_ha"])))
    if len(known) > 1:
        most = known[:MOST_BARS]
        names = [str(row["name"]) for row in most]
        values = tuple(float(str(row["stems_per_ha"])) for row in most)
        texts = tuple(shown("stems_per_ha", row["stems_per_ha"]) for row in most)
        title = "Stems to the hectare of net area"
        if len(known) > MOST_BARS:
            title += f", the {MOST_BARS} blocks with most"
        yield Chart(title, partial(_bars, names=names, series=(Series("", values, texts),), unit="stems/ha"))
    yield species_table(pack)


def _bars(type_: Type, width: float, *, names: list[str], series: tuple[Series, ...], unit: str) -> Box:
    return bar_chart(type_, width, names, series, unit)
