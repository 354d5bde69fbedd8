"""A planting in words and figures: for people as text, for scripts as JSON, for the nursery as CSV."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Container, Iterable, Sequence
from decimal import Decimal

from farmmap.plans.planting.fences.crossings import bank_of_fence, bank_words
from farmmap.plans.planting.outcome.costs import CostLine, Costs, shown_money
from farmmap.plans.planting.outcome.months import Calendar
from farmmap.plans.planting.outcome.order import M2_PER_HA, strainers_of
from farmmap.plans.planting.outcome.report import LAST_WORDS, PlanReport, plan_values, zone_figures
from farmmap.plans.planting.recipes.printable import printable
from farmmap.plans.planting.recipes.rates import KINDS
from farmmap.plans.planting.recipes.recipe import Pattern


def plan_as_text(report: PlanReport) -> str:
    """Return all of it as tables for a terminal."""
    parts = [_head(report), _zones(report), _orders(report), _to_buy(report), _needed(report), _fences(report)]
    parts += [_costs(report.costs), _months(report.calendar), _cover(report)]
    parts.append("\n".join([*report.notes, *LAST_WORDS]))
    lines = "\n\n".join(part for part in parts if part).split("\n")
    return "\n".join(map(printable, lines)) + "\n"  # a farm made elsewhere may name a creek by anything


def plan_as_csv(report: PlanReport) -> str:
    """Return the order zone by zone as CSV (RFC 4180)."""
    names = ("zone", "species", "name", "stock", "plants", "to_order", "reason")
    rows = (
        (one.zone_name, one.species, report.called(one.species), one.stock, one.plants, one.to_order, one.reason)
        for one in report.orders
    )
    return _csv(names, rows)


def plan_as_json(report: PlanReport) -> str:
    """Return all of it as one JSON object (RFC 8259): areas, lengths and shares in full, money to the cent."""
    return json.dumps(plan_values(report), ensure_ascii=False, indent=1, allow_nan=False)


def _head(report: PlanReport) -> str:
    plan, needed = report.plan, report.needed
    banks = " and ".join(plan.stretch.banks) + (" bank" if len(plan.stretch.banks) == 1 else " banks")
    stretch = ""
    if plan.stretch.from_m is not None and plan.stretch.to_m is not None:
        stretch = f", from {plan.stretch.from_m:,.0f} to {plan.stretch.to_m:,.0f} m"
    km = f" ({_whole(needed.plants / plan.margin_length_m * 1000)} to the km of bank)" if plan.margin_length_m else ""
    lines = [
        f"{plan.name or plan.recipe.title or 'Planting'}: {plan.stretch.creek}, {banks}{stretch}",
        *([f"Recipe: {plan.recipe.title}"] if plan.recipe.title and plan.name else []),
        *([f"Purpose: {plan.recipe.purpose}"] if plan.recipe.purpose else []),
        "",
        f"Ground  {_hectares(plan.area_m2 / M2_PER_HA)} ha, of it planted {_hectares(needed.clear_ha)} ha",
        f"Bank    {_whole(plan.margin_length_m)} m",
        f"Plants  {_whole(needed.plants)}{km}",
        f"Fence   {_whole(needed.fence_m)} m" if needed.fence_m else "Fence   none",
    ]
    return "\n".join(lines)


def _zones(report: PlanReport) -> str:
    rows = []
    for zone, figures in zip(report.plan.recipe.zones, zone_figures(report), strict=True):
        spacing = "" if zone.pattern is Pattern.NONE else f"{zone.between_m:g}"
        if spacing and zone.within_m != zone.between_m:
            spacing += f" × {zone.within_m:g}"
        rows.append(
            [
                figures.name, zone.pattern.value, spacing, _hectares(figures.area_ha), _hectares(figures.clear_ha),
                _whole(figures.plants), _whole(figures.plants_per_ha), _whole(figures.plants_per_clear_ha),
            ]
        )  # fmt: skip
    heads = (
        "Zone, from the water",
        "Pattern",
        "Spacing m",
        "Area ha",
        "Planted ha",
        "Plants",
        "per ha",
        "per planted ha",
    )
    return aligned("Zones", heads, rows, (0, 1))


def _orders(report: PlanReport) -> str:
    rows = [
        [
            line.zone_name,
            report.called(line.species),
            line.stock,
            _whole(line.plants),
            _whole(line.to_order),
            line.reason,
        ]
        for line in report.orders
    ]
    heads = ("Zone", "Species", "Stock", "Plants", "To order", "Reason")
    return aligned("Plants by zone", heads, rows, (0, 1, 2, 5))


def _to_buy(report: PlanReport) -> str:
    rows = [
        [
            report.called(one.species), one.stock, _whole(one.plants), f"{one.lost_percent:g} %",
            _whole(one.with_losses), _whole(one.to_order), one.packs_in_words if one.pack > 1 else "",
        ]
        for one in report.to_buy
    ]  # fmt: skip
    heads = ("Species", "Stock", "Plants", "Lost", "With losses", "To order", "In packs")
    table = aligned("Plants to order", heads, rows, (0, 1, 6))
    if not table or all(one.pack == 1 for one in report.to_buy):
        return table
    said = "Packs are filled once for each species and stock; what they hold above the need is spread over its zones."
    return f"{table}\n{said}"


def _needed(report: PlanReport) -> str:
    needed = report.needed
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
    shown = [[words, _whole(number), unit] for words, number, unit in rows if number]
    return aligned("What else is needed", ("", "Number", ""), shown, (0, 2))


def _fences(report: PlanReport) -> str:
    rows = [
        [
            f"{place}, {bank_words(bank_of_fence(report.plan, fence))}",
            _whole(fence.length_m), str(strainers_of(fence)),
            f"{fence.strains_m.max(initial=0):.0f}", f"{abs(fence.angles_deg).max(initial=0):.0f}",
            str(fence.posts), str(len(fence.gates)),
        ]
        for place, fence in enumerate(report.plan.fences, 1)
    ]  # fmt: skip
    heads = ("Fence", "Length m", "Strainers", "Longest strain m", "Sharpest turn °", "Posts", "Gates")
    return aligned("Fence lines", heads, rows, (0,))


def _costs(costs: Costs) -> str:
    if not costs.rated:
        return ""
    rows = [
        [
            line.kind, line.words, f"{line.quantity:,}", line.unit,
            "–" if line.rate is None else _rate(line.rate), *_shared(line),
        ]
        for line in costs.lines
    ]  # fmt: skip
    for kind in KINDS:
        of_kind = costs.of_kind(kind)
        if len(of_kind.lines) > 1 and of_kind.rated:
            rows.append([kind, "together", "", "", "", *_shared(of_kind)])
    rows.append(["all", "together", "", "", "", *_shared(costs)])
    heads = ("Cost", "For", "Quantity", "", "Rate", f"Cost {costs.currency}", "Grant", "In kind", "Own")
    return aligned("Costs", heads, rows, (0, 1, 3))


def _shared(costs: CostLine | Costs) -> list[str]:
    cents = costs.total_cents if isinstance(costs, Costs) else costs.cents
    return [shown_money(value) for value in (cents, costs.grant_cents, costs.in_kind_cents, costs.own_cents)]


def _months(when: Calendar) -> str:
    return aligned("Calendar", ("When", "What"), [[work.when, work.what] for work in when.works], (0, 1))


def _cover(report: PlanReport) -> str:
    cover = report.cover
    if cover is None:
        return ""
    rows = [
        [f"{year:g}", f"{trees:.0f}", f"{low:.0f}"]
        for year, trees, low in zip(cover.years, cover.cover_percent, cover.with_low_percent, strict=True)
    ]
    heads = ("Years after planting", "Trees and shrubs %", "with low growth %")
    return aligned("Expected cover of the margin", heads, rows)


def aligned(title: str, heads: Sequence[str], rows: Sequence[Sequence[str]], left: Container[int] = ()) -> str:
    """Return an aligned table under its title, "" if it has no rows.

    Parameters
    ----------
    title : str
        What it shows.
    heads : sequence of str, length k
        Heads of its columns.
    rows : sequence of sequence of str, each of length k
        Its cells.
    left : container of int
        Places of the columns that hold words; numbers stand to the right.
    """
    if not rows:
        return ""
    wide = [max(map(len, cells)) for cells in zip(heads, *rows, strict=True)]
    words = [place in left for place in range(len(heads))]
    table = [heads, ["-" * width for width in wide], *rows]
    lines = [
        "  ".join(
            cell.ljust(width) if word else cell.rjust(width) for cell, width, word in zip(row, wide, words, strict=True)
        ).rstrip()
        for row in table
    ]
    return "\n".join([title, "", *lines])


def _csv(names: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(names)
    writer.writerows(rows)
    return out.getvalue()


def _hectares(area_ha: float) -> str:
    """Return an area with two decimals, a small one to the square metre."""
    return f"{area_ha:.2f}" if area_ha >= 0.1 or area_ha <= 0 else f"{area_ha:.4f}"


def _rate(rate: Decimal) -> str:
    """Return a rate as it was given, with two decimals or more, so that quantity times rate is the cost."""
    return f"{rate:,.2f}" if rate == round(rate, 2) else f"{rate.normalize():,f}"


def _whole(number: float) -> str:
    return f"{number:,.0f}"
