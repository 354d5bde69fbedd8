"""Parts about what is planned: works, plants, fence and water, costs, cover to come."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from farmmap.editing.words import listed
from farmmap.figures.margins import margins
from farmmap.plans.planting.outcome.report import LAST_WORDS
from farmmap.plans.planting.recipes.recipe import FenceWish
from farmmap.scene.page_charts import Series, bar_chart, line_chart
from farmmap.scene.page_flow import Flowing
from farmmap.scene.page_flow_map import Chart
from farmmap.scene.page_flow_text import Bullets, Fields, Heading, Paragraph
from farmmap.scene.page_items import Box, Type
from farmmap.sheets.pack.context import BEFORE, PackContext, PlanOfPack
from farmmap.sheets.pack.farm_tables import grown_margin_table, margin_table
from farmmap.sheets.pack.maps import detail_map, planned_map
from farmmap.sheets.pack.pack_table import PackTable, thin
from farmmap.sheets.pack.plan_tables import (
    budget_table,
    cover_table,
    fence_table,
    kinds_of_cost_table,
    materials_table,
    order_table,
    schedule_table,
    zone_table,
)

COVER_HIGH_MM = 62.0


def works_intro(pack: PackContext) -> str:
    """Say what the letters and numbers on the map stand for."""
    fences = any(one.plan.fences for one in pack.plans)
    more = "; fences are numbered F1 onwards in “Fence and water”" if fences else ""
    return (
        f"Zones are lettered from the water outwards, on the maps as in the tables{more}. Where the scale leaves room, "
        "each plant is drawn where it is to be planted."
    )


def works(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Map and zones of each plan, and what to check."""
    for one, before in pack.titled:
        room = planned_map(pack, one, f"{one.plan.name}: planned works")
        if room is not None:
            yield room
        yield zone_table(one, f"{before}zones" if before else "Zones")
        close = detail_map(pack, one, f"{one.plan.name}: its middle close by, with single plants")
        if close is not None:
            yield close
        below = {*one.report.costs.notes, *one.cover.notes}  # said with the tables of costs and of cover
        said = [note for note in (*one.report.notes, *LAST_WORDS) if note not in below]
        notes = tuple(note if note.endswith(".") else f"{note}." for note in said)
        yield Heading(f"{before}to know and to check" if before else "To know and to check", 3)
        yield Bullets(notes, note=True)


def plants_intro(pack: PackContext) -> str:
    """Say how plants to order come from plants that stand."""
    del pack
    return (
        "What stands in each zone, and what is ordered for it: with the losses that are allowed for, in whole packs "
        "where plants come in packs."
    )


def plants(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Schedule by zone, and the order."""
    for one, before in pack.titled:
        yield schedule_table(
            one, f"{before}plants by zone, species and stock" if before else "By zone, species and stock"
        )
        yield order_table(one, f"{before}plants to order" if before else "Plants to order")


def fence_intro(pack: PackContext) -> str:
    """Say what fence there is to build."""
    if not any(one.plan.fences for one in pack.plans):
        return "No fence is to be built."
    return (
        "All of it is new fence. Lengths are level, with gates in them; strainers stand at its ends and "
        "wherever it turns."
    )


def fence(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Fences and materials."""
    for one, before in pack.titled:
        yield fence_table(one, f"{before}fences to build" if before else "Fences to build")
        if one.plan.fences:
            yield Paragraph(_design(one.plan.recipe.fence), note=True)
        yield materials_table(one, f"{before}materials and work" if before else "Materials and work")


def _design(wish: FenceWish) -> str:
    """Say how a fence is built."""
    said = [f"{wish.wires} wires", f"a post every {wish.post_m:g} m", f"strains of {wish.strain_most_m:g} m at most"]
    if wish.battens:
        said.insert(2, f"{wish.battens} battens between posts")
    return f"Design of the fence: {listed(said)}. Fences that are already there stay as they are."


def costs_intro(pack: PackContext) -> str:
    """Say whose rates these are."""
    if not any(one.report.costs.rated for one in pack.plans):
        return "The recipe gives no rates, so there are quantities only: fill in unit costs and who pays by hand."
    return (
        "Quantities are those of the plan, unit costs the grower's own rates. A line is its quantity times its unit "
        "cost; grant, own cash and in kind add up to its total."
    )


def costs(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Budget line by line, and by kind with a chart."""
    for one, before in pack.titled:
        told = one.report.costs
        yield budget_table(one, f"{before}budget" if before else "Budget")
        yield Fields((("Tax in these amounts", ""),))
        if not told.rated:
            continue
        table = kinds_of_cost_table(one, f"{before}who pays" if before else "Who pays")
        yield table
        if len(table.cells) > 1:
            title = f"{before}cost by kind" if before else "Cost by kind"
            yield Chart(f"{title}{f', {told.currency}' if told.currency else ''}", partial(_shares, table))


def _shares(table: PackTable, type_: Type, width: float) -> Box:
    names = [row[0] for row in table.cells]
    series = tuple(
        Series(name, tuple(_money(row[place]) for row in table.rows), tuple(_short(row[place]) for row in table.rows))
        for place, name in ((1, "Grant"), (2, "Own cash"), (3, "In kind"))
    )
    return bar_chart(type_, width, names, series, "")


def _money(value: object) -> float | None:
    return float(str(value)) if value is not None else None


def _short(value: object) -> str:
    money = _money(value)
    return thin(f"{money:,.2f}") if money else ""


def cover_intro(pack: PackContext) -> str:
    """Say what cover is, and for what ground it is told."""
    if pack.plans:
        return (
            "Cover is the share of the ground under crowns, each spot counted once: first that of the planting's own "
            "ground, before and after, then that of the whole creek margins."
        )
    return "Cover is the share of a creek margin under crowns, each spot counted once, as it stands."


def cover_lacks(pack: PackContext) -> str:
    """Say that there is no creek, where there is none."""
    return "" if pack.plans or margins(pack.farm) else "no creek is drawn on this farm yet"


def cover(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Cover before and after, and of all margins."""
    for one, before in pack.titled:
        yield Chart(f"{before}cover over the years" if before else "Cover over the years", partial(_years, one))
        yield cover_table(one, f"{before}expected cover" if before else "Expected cover of the planting's ground")
    if pack.plans and pack.margins.rows:
        yield grown_margin_table(pack)
    yield margin_table(pack)


def _years(one: PlanOfPack, type_: Type, width: float) -> Box:
    told = one.cover
    kept = [place for place, year in enumerate(told.years) if year != BEFORE]
    series = [Series("trees and shrubs", tuple(told.cover_percent[place] for place in kept))]
    if any(abs(low - woody) > 0.5 for low, woody in zip(told.with_low_percent, told.cover_percent, strict=True)):
        series.insert(0, Series("with low growth", tuple(told.with_low_percent[place] for place in kept)))
    return line_chart(
        type_,
        (width, COVER_HIGH_MM * type_.times),
        [told.years[place] for place in kept],
        series,
        ("Years after planting", "Ground under crowns, %"),
        100.0,
        ("what stands today", told.cover_percent[told.years.index(BEFORE)]),
    )
