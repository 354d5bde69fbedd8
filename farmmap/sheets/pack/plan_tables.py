"""Tables of a planting: its zones, plants, fence, costs, cover to come and work."""

from __future__ import annotations

from collections.abc import Iterator

from farmmap.plans.planting.fences.crossings import bank_of_fence, bank_words
from farmmap.plans.planting.outcome.costs import CostLine, Costs, shown_money
from farmmap.plans.planting.outcome.order import M2_PER_HA, strainers_of
from farmmap.plans.planting.outcome.report import zone_figures
from farmmap.plans.planting.recipes.rates import KINDS
from farmmap.plans.planting.recipes.recipe import Pattern
from farmmap.scene.page_plan import zone_letter
from farmmap.sheets.pack.context import BEFORE, PlanOfPack
from farmmap.sheets.pack.pack_table import DASH, Column, PackTable, thin, whole

PACKS = "Packs are filled once for each species and stock; what they hold above the need is spread over its zones."


def zone_table(one: PlanOfPack, title: str) -> PackTable:
    """Return the zones, from the water outwards."""
    report = one.report
    values, cells = [], []
    for place, (zone, asked) in enumerate(zip(zone_figures(report), one.plan.recipe.zones, strict=True)):
        letter = zone_letter(place)
        spacing = DASH if asked.pattern is Pattern.NONE else f"{asked.between_m:g}"
        if asked.pattern is not Pattern.NONE and asked.within_m != asked.between_m:
            spacing += f" × {asked.within_m:g}"
        values.append(
            (letter, zone.name, spacing, zone.area_ha, zone.clear_ha, zone.plants, zone.plants_per_ha, asked.reason)
        )
        cells.append(
            (letter, zone.name, spacing, _hectares(zone.area_ha), _hectares(zone.clear_ha), whole(zone.plants),
             whole(zone.plants_per_ha), asked.reason)
        )  # fmt: skip
    area, needed = one.plan.area_m2 / M2_PER_HA, report.needed
    per_ha = needed.plants / area if area else 0.0
    foot = ("", "All", "", _hectares(area), _hectares(needed.clear_ha), whole(needed.plants), whole(per_ha), "")
    columns = (
        Column("zone", ("",), words=True, about="Letter of the zone on the map."),
        Column("name", ("Zone,", "from the water"), words=True, about="Its name."),
        Column("spacing_m", ("Spacing", "m"), words=True, about="Between rows × within a row."),
        Column("area_ha", ("Area", "ha"), about="All of its ground."),
        Column("planted_ha", ("Planted", "ha"), about="Its ground without the set-backs."),
        Column("plants", ("Plants",), about="Plants that stand in it."),
        Column("plants_per_ha", ("Plants", "per ha"), about="To the hectare of all its ground."),
        Column("reason", ("What it is for",), words=True, about="Why it is there."),
    )
    return PackTable("zones", title, columns, tuple(values), tuple(cells), foot)


def schedule_table(one: PlanOfPack, title: str) -> PackTable:
    """Return plants by zone, species and stock."""
    report = one.report
    values: list[tuple[object, ...]] = []
    cells: list[tuple[str, ...]] = []
    begins: list[int] = []
    last = -1
    for line in report.orders:
        kind = one.kinds.find(line.species)
        names = (report.called(line.species), kind.scientific if kind is not None else "")
        numbers = (line.plants, line.to_order)
        values.append((zone_letter(line.zone), line.zone_name, *names, line.stock, *numbers, line.reason))
        begins += [len(cells)] if line.zone != last else []
        zone = (zone_letter(line.zone), line.zone_name) if line.zone != last else ("", "")
        cells.append((*zone, *names, line.stock or DASH, *map(whole, numbers), line.reason))
        last = line.zone
    foot = ("", "All", "", "", "", whole(report.needed.plants), whole(sum(line.to_order for line in report.orders)), "")
    columns = (
        Column("zone", ("",), words=True, about="Letter of the zone on the map."),
        Column("zone_name", ("Zone",), words=True, about="Name of the zone."),
        Column("species", ("Species",), words=True, about="What people call it."),
        Column("scientific", ("Scientific name",), words=True, about="Scientific name, empty if not known."),
        Column("stock", ("Stock",), words=True, about="Kind of stock."),
        Column("plants", ("Plants",), about="Plants that stand in the zone."),
        Column("to_order", ("To", "order"), about="With losses, in whole packs."),
        Column("reason", ("Why there",), words=True, about="Why it stands there."),
    )
    begins_at = frozenset(begins[1:])
    return PackTable("schedule", title, columns, tuple(values), tuple(cells), foot, begins=begins_at)


def order_table(one: PlanOfPack, title: str) -> PackTable:
    """Return plants to order by species and stock."""
    report = one.report
    bought = [line for line in report.to_buy if line.plants]
    values = tuple(
        (report.called(line.species), line.stock, line.plants, line.lost_percent, line.with_losses, line.to_order,
         line.packs, line.pack, line.pack_words if line.pack > 1 else "")
        for line in bought
    )  # fmt: skip
    cells = tuple(
        (report.called(line.species), line.stock or DASH, whole(line.plants), f"{line.lost_percent:g}",
         whole(line.with_losses), whole(line.to_order), line.packs_in_words if line.pack > 1 else DASH, "")
        for line in bought
    )  # fmt: skip
    ordered = sum(line.to_order for line in report.to_buy)
    needed = report.needed
    foot = ("All", "", whole(needed.plants), "", whole(needed.with_losses), whole(ordered), "", "")
    columns = (
        Column("species", ("Species",), words=True, about="What people call it."),
        Column("stock", ("Stock",), words=True, about="Kind of stock."),
        Column("plants", ("Plants",), about="That stand in the planting."),
        Column("lost_percent", ("Lost", "%"), about="Of those planted, allowed for."),
        Column("with_losses", ("With", "losses"), about="Plants, and those to replace the lost."),
        Column("to_order", ("To", "order"), about="In whole packs."),
        Column("packs", ("In packs",), words=True, about="Whole packs."),
        Column("plants_in_a_pack", (), about="Plants in a pack."),
        Column("pack", (), words=True, about="What a pack is, empty where plants come one by one."),
    )
    heads = (*columns[:7], Column("nursery", ("Nursery, seed source, due",), words=True))
    said = (PACKS,) if any(line.pack > 1 for line in bought) else ()
    return PackTable("order", title, columns, values, cells, foot, said, heads=heads)


def fence_table(one: PlanOfPack, title: str) -> PackTable:
    """Return the fences to be built, one a row."""
    plan = one.plan
    values = tuple(
        (f"F{place}", bank_words(bank_of_fence(plan, fence)), fence.length_m, strainers_of(fence), fence.posts,
         fence.battens, fence.wire_m, len(fence.gates), len(fence.floodgates), len(fence.troughs), fence.flooded_m)
        for place, fence in enumerate(plan.fences, 1)
    )  # fmt: skip
    cells = tuple((row[0], f"new, {row[1]}", *(whole(float(number)) for number in row[2:])) for row in values)
    sums = [sum(float(row[place]) for row in values) for place in range(2, 11)]
    foot = ("", "All", *map(whole, sums)) if len(cells) > 1 else ()
    columns = (
        Column("fence", ("Fence",), words=True, about="Its number."),
        Column("bank", ("",), words=True, about="Bank that it serves."),
        Column("length_m", ("Length", "m"), about="Gates included."),
        Column("strainers", ("Strainers",), about="Strainer posts."),
        Column("posts", ("Posts",), about="Between the strainers."),
        Column("battens", ("Battens",), about="Between posts."),
        Column("wire_m", ("Wire", "m"), about="All wires together."),
        Column("gates", ("Gates",), about="Gates in it."),
        Column("floodgates", ("Flood-", "gates"), about="Where it crosses a creek."),
        Column("troughs", ("Troughs",), about="Where stock are given water."),
        Column("in_flood_m", ("In flood", "m"), about="Its length that a flood may reach."),
    )
    return PackTable("fences_to_build", title, columns, values, cells, foot)


def materials_table(one: PlanOfPack, title: str) -> PackTable:
    """Return what is needed besides plants."""
    needed = one.report.needed
    lost = ", with losses" if needed.with_losses > needed.plants else ""
    rows = [
        ("Guards", needed.guards, "each"), ("Stakes", needed.stakes, "each"), ("Mats", needed.mats, "each"),
        ("Strainer posts", needed.strainers, "each"), ("Posts", needed.posts, "each"),
        ("Battens", needed.battens, "each"), ("Wire", needed.wire_m, "m, all wires together"),
        (f"Gates of {needed.gate_m:g} m", needed.gates, "each"), ("Floodgates", needed.floodgates, "each"),
        ("Troughs", needed.troughs, "each"),
        (f"Fence a flood may reach, {needed.floodways} in number", needed.floodway_m, "m"),
        (f"Planting{lost}", needed.hours, "hours of one person"),
    ]  # fmt: skip
    rows = [row for row in rows if row[1]]
    columns = (
        Column("what", ("What else is needed",), words=True, about="What it is."),
        Column("number", ("Number",), about="How many, or how much."),
        Column("unit", ("",), words=True, about="Its unit.", close=True),
    )
    cells = tuple((words, whole(number), unit) for words, number, unit in rows)
    return PackTable("materials", title, columns, tuple(rows), cells)


def budget_table(one: PlanOfPack, title: str) -> PackTable:
    """Return the costs line by line, with who bears them, and sums by kind."""
    costs = one.report.costs
    values: list[tuple[object, ...]] = []
    cells: list[tuple[str, ...]] = []
    begins: list[int] = []
    for kind in KINDS:
        lines = costs.of_kind(kind).lines
        begins += [len(cells)] if lines else []
        for place, line in enumerate(lines):
            values.append((kind, line.words, line.quantity, line.unit, line.rate, *_in_money(line)))
            rate = DASH if line.rate is None else _rate(line)
            shares = (thin(shown_money(cents)) for cents in _cents(line))
            name = kind.capitalize() if place == 0 else ""
            cells.append((name, line.words, thin(f"{line.quantity:,}"), line.unit, rate, *shares))
    foot = ("All", "", "", "", "", *(thin(shown_money(cents)) for cents in _cents(costs))) if costs.rated else ()
    money = f", {costs.currency}" if costs.currency else ""
    columns = (
        Column("kind", ("Activity",), words=True, about="Kind of cost."),
        Column("what", ("",), words=True, about="What is paid for."),
        Column("quantity", ("Quantity",), about="How much of it."),
        Column("unit", ("Unit",), words=True, about="What it is counted in.", close=True),
        Column("unit_cost", ("Unit", "cost"), about=f"Money for one{money}; empty where the recipe gives none."),
        Column("grant", ("Grant",), about=f"The grant's part{money}."),
        Column("own_cash", ("Own", "cash"), about=f"What the grower pays{money}."),
        Column("in_kind", ("In", "kind"), about=f"Own work and materials, valued{money}."),
        Column("total", (f"Total{money}",), about=f"All of it{money}."),
    )
    begins_at = frozenset(begins[1:])
    return PackTable("budget", title, columns, tuple(values), tuple(cells), foot, costs.notes, begins_at)


def kinds_of_cost_table(one: PlanOfPack, title: str) -> PackTable:
    """Return the costs by kind."""
    costs = one.report.costs
    kinds = [(kind, costs.of_kind(kind)) for kind in KINDS]
    kinds = [(kind, of_kind) for kind, of_kind in kinds if of_kind.rated]
    values = tuple((kind, *(None if cents is None else cents / 100 for cents in _cents(of))) for kind, of in kinds)
    cells = tuple((kind.capitalize(), *(thin(shown_money(cents)) for cents in _cents(of))) for kind, of in kinds)
    foot = ("All", *(thin(shown_money(cents)) for cents in _cents(costs)))
    money = f", {costs.currency}" if costs.currency else ""
    columns = (
        Column("kind", (f"Cost{money}",), words=True, about="Kind of cost."),
        Column("grant", ("Grant",), about=f"The grant's part{money}."),
        Column("own_cash", ("Own cash",), about=f"What the grower pays{money}."),
        Column("in_kind", ("In kind",), about=f"Own work and materials, valued{money}."),
        Column("total", ("Total",), about=f"All of it{money}."),
    )
    return PackTable("who_pays", title, columns, values, cells, foot)


def cover_table(one: PlanOfPack, title: str) -> PackTable:
    """Return the cover of the planting's ground today and later."""
    cover = one.cover
    rows = [
        (year, woody, low)
        for year, woody, low in zip(cover.years, cover.cover_percent, cover.with_low_percent, strict=True)
        if year != 0.0
    ]
    cells = tuple((_year(year), f"{woody:.0f}", f"{low:.0f}") for year, woody, low in rows)
    values = tuple((None if year == BEFORE else year, woody, low) for year, woody, low in rows)
    columns = (
        Column("years_after_planting", ("Ground under crowns",), words=True, about="Empty for before planting."),
        Column("cover_percent", ("Trees and", "shrubs", "%"), about="Ground under trees and shrubs."),
        Column("cover_with_low_growth_percent", ("With low", "growth", "%"), about="The same with low growth."),
    )
    return PackTable("cover", title, columns, values, cells, notes=cover.notes)


def calendar_table(one: PlanOfPack, title: str) -> PackTable:
    """Return what is to be done when."""
    works = one.report.calendar.works
    columns = (
        Column("when", ("When",), words=True, about="Month and year."),
        Column("what", ("What",), words=True, about="What is to be done."),
    )
    rows = tuple((work.when, work.what) for work in works)
    cells = tuple((when, thin(what)) for when, what in rows)
    return PackTable("calendar", title, columns, rows, cells)


def _cents(costs: CostLine | Costs) -> Iterator[int | None]:
    """Grant, own cash, in kind and total."""
    total = costs.total_cents if isinstance(costs, Costs) else costs.cents
    yield from (costs.grant_cents, costs.own_cents, costs.in_kind_cents, total)


def _in_money(line: CostLine) -> tuple[float | None, ...]:
    return tuple(None if cents is None else cents / 100 for cents in _cents(line))


def _rate(line: CostLine) -> str:
    """Return a rate with two decimals or more, so that quantity times rate is the cost."""
    assert line.rate is not None
    return thin(f"{line.rate:,.2f}" if line.rate == round(line.rate, 2) else f"{line.rate.normalize():,f}")


def _year(year: float) -> str:
    if year == BEFORE:
        return "Before planting"
    return f"{year:g} year{'' if year == 1 else 's'} after planting"


def _hectares(area_ha: float) -> str:
    """Return an area with two decimals, a small one to the square metre, as ``farmmap plant`` does."""
    return f"{area_ha:.2f}" if area_ha >= 0.1 or area_ha <= 0 else f"{area_ha:.4f}"
