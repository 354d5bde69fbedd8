"""Tables of a planting on a page: zones, plants to order, fence, who pays, cover to come, costs, work by month."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from farmmap.plans.planting.fences.crossings import bank_of_fence, bank_words
from farmmap.plans.planting.outcome.costs import Costs, shown_money
from farmmap.plans.planting.outcome.order import M2_PER_HA, strainers_of
from farmmap.plans.planting.outcome.report import PlanReport, zone_figures
from farmmap.plans.planting.plan import FenceLine, PlantingPlan
from farmmap.plans.planting.recipes.rates import KINDS
from farmmap.scene.page_items import LINE_SPACING, Box, Item, Text, Type, wrapped
from farmmap.scene.page_plan import zone_letter
from farmmap.scene.page_stack import Part
from farmmap.scene.page_tables import PageTable

SEE = "farmmap plant"
THIN = "\u202f"
"""Parts the thousands, as everywhere on a page."""


def plan_tables(report: PlanReport) -> tuple[PageTable, ...]:
    """Return the tables of a planting that have rows, in the order in which they stand on the page."""
    made = (_zones(report), _order(report), _fences(report.plan), _costs(report.costs), _cover(report))
    return tuple(table for table in made if table is not None and table.cells)


def more_of_plan(report: PlanReport, type_: Type) -> tuple[PageTable | Part, ...]:
    """Return what is said where there is room for it: the work by month, and the costs line by line."""
    works = [(work.when, work.what) for work in report.calendar.works]
    calendar = (Part("calendar", lambda width, _: _calendar(works, type_, width)),) if works else ()
    lines = _cost_lines(report.costs)
    return (*calendar, *((lines,) if lines is not None else ()))


def _calendar(works: Sequence[tuple[str, str]], type_: Type, width: float) -> Box:
    """Return what is to be done when, one under the other."""
    items: list[Item] = [Text(0, type_.heading.size_mm, "Work by month", type_.heading)]
    y, step = type_.heading.size_mm * 1.75, type_.body.size_mm * LINE_SPACING
    start = min(max(type_.width(when, type_.body) for when, _ in works) + 3.0, width / 2)
    for when, what in works:
        columns = [
            wrapped(text, type_.body, room, type_.width) for text, room in ((when, start - 1.5), (what, width - start))
        ]
        for x, lines in zip((0.0, start), columns, strict=True):
            items += [Text(x, y + row * step + type_.body.size_mm, line, type_.body) for row, line in enumerate(lines)]
        y += max(map(len, columns)) * step + 0.25 * step
    return Box("calendar", 0, 0, width, y, tuple(items))


def _cost_lines(costs: Costs) -> PageTable | None:
    if not costs.rated:
        return None
    cells = [
        (
            line.words,
            f"{line.quantity:,}".replace(",", THIN) + ("" if line.unit == "each" else f" {line.unit}"),
            "–" if line.rate is None else f"{line.rate:.2f}",
            shown_money(line.cents).replace(",", THIN),
        )
        for line in costs.lines
    ]
    heads = ((f"Cost, {costs.currency}",), ("Quantity",), ("For one",), ("Together",))
    foot = ("All", "", "", shown_money(costs.total_cents).replace(",", THIN))
    return _table("cost lines", "Costs, line by line", heads, 1, cells, ("cost", "costs"), foot)


def _zones(report: PlanReport) -> PageTable:
    cells = [
        (
            f"{zone_letter(place)}   {zone.name}",
            f"{zone.area_ha:.2f}",
            f"{zone.clear_ha:.2f}",
            _whole(zone.plants),
            _whole(zone.plants_per_ha),
        )
        for place, zone in enumerate(zone_figures(report))
    ]
    area, needed = report.plan.area_m2 / M2_PER_HA, report.needed
    per_ha = needed.plants / area if area else 0.0
    foot = ("All", f"{area:.2f}", f"{needed.clear_ha:.2f}", _whole(needed.plants), _whole(per_ha))
    heads = (("Zone,", "from the water"), ("Area", "ha"), ("Planted", "ha"), ("Plants",), ("Plants", "per ha"))
    return _table("zones", "Zones", heads, 1, cells, ("zone", "zones"), foot)


def _order(report: PlanReport) -> PageTable:
    cells = [
        (
            report.called(one.species),
            one.stock or "–",
            _whole(one.plants),
            _whole(one.to_order),
            one.packs_in_words if one.pack > 1 else "–",
        )
        for one in report.to_buy
        if one.plants
    ]
    total = sum(one.to_order for one in report.to_buy)
    foot = ("All", "", _whole(report.needed.plants), _whole(total), "")
    heads = (("Species",), ("Stock",), ("Plants",), ("To", "order"), ("In packs",))
    return _table("order", "Plants to order", heads, 2, cells, ("kind of plant", "kinds of plants"), foot)


def _fences(plan: PlantingPlan) -> PageTable:
    figures = [
        (f"{bank_words(bank_of_fence(plan, fence)).capitalize()}, {place}", _of_fence(fence))
        for place, fence in enumerate(plan.fences, 1)
    ]
    sums = [sum(column) for column in zip(*(numbers for _, numbers in figures), strict=True)]
    heads = (("New fence",), ("Length", "m"), ("Strainers",), ("Posts",), ("Battens",), ("Wire", "m"), ("Gates",), ("Flood-", "gates"), ("Troughs",), ("In flood", "m"))  # fmt: skip  # noqa: E501
    always = (0, 1, 2, 4, 5)  # columns of figures that are shown even if there is nothing in them
    wanted = [place for place, total in enumerate(sums) if place in always or total >= 1]
    cells = [(name, *(_whole(numbers[place]) for place in wanted)) for name, numbers in figures]
    foot = ("All", *(_whole(sums[place]) for place in wanted)) if len(cells) > 1 else ()
    return _table("fence", "Fence", (heads[0], *(heads[place + 1] for place in wanted)), 1, cells, ("fence", "fences"), foot)  # fmt: skip  # noqa: E501


def _of_fence(fence: FenceLine) -> tuple[float, ...]:
    counts = (len(fence.gates), len(fence.floodgates), len(fence.troughs))
    return (fence.length_m, strainers_of(fence), fence.posts, fence.battens, fence.wire_m, *counts, fence.flooded_m)


def _costs(costs: Costs) -> PageTable | None:
    if not costs.rated:
        return None
    kinds = [(kind, costs.of_kind(kind)) for kind in KINDS]
    cells = [(kind.capitalize(), *_shared(of_kind)) for kind, of_kind in kinds if of_kind.lines and of_kind.rated]
    heads = ((f"Cost, {costs.currency}",), ("Together",), ("Grant",), ("In kind",), ("Own",))
    return _table("costs", "Who pays", heads, 1, cells, ("kind of cost", "kinds of cost"), ("All", *_shared(costs)))


def _shared(costs: Costs) -> Iterator[str]:
    for cents in (costs.total_cents, costs.grant_cents, costs.in_kind_cents, costs.own_cents):
        yield shown_money(cents).replace(",", THIN)


def _cover(report: PlanReport) -> PageTable | None:
    cover = report.cover
    if cover is None:
        return None
    cells = [
        (f"{year:g} year{'' if year == 1 else 's'} after planting", f"{woody:.0f}", f"{low:.0f}")
        for year, woody, low in zip(cover.years, cover.cover_percent, cover.with_low_percent, strict=True)
    ]
    heads = (("Ground under crowns",), ("Trees and", "shrubs", "%"), ("With low", "growth", "%"))
    return _table("cover", "Expected cover", heads, 1, cells, ("year", "years"))


def _table(
    name: str,
    title: str,
    heads: tuple[tuple[str, ...], ...],
    texts: int,
    cells: Sequence[tuple[str, ...]],
    row: tuple[str, str],
    foot: tuple[str, ...] = (),
) -> PageTable:
    return PageTable(name, title, heads, texts, tuple(cells), *row, SEE, foot=foot)


def _whole(number: float) -> str:
    return f"{number:,.0f}".replace(",", THIN)
