"""How the figures of a planting are worked out, and where the values come from that they rest on."""

from __future__ import annotations

from collections.abc import Iterator

from farmmap.editing.words import listed
from farmmap.plans.planting.outcome.months import (
    COUNT_YEARS,
    FENCE_MONTHS_BEFORE,
    GROUND_MONTHS_BEFORE,
    ORDER_MONTHS_BEFORE,
    WEED_SEASONS,
    WEEDS_MONTHS_AFTER,
)
from farmmap.plans.planting.recipes.rules import rule_sets
from farmmap.sheets.pack.context import PackContext, PlanOfPack
from farmmap.sheets.pack.pack_table import Column, PackTable

PRACTICE = "common practice"

PLANTING_WORKINGS = (
    ("Ground of a zone, ha", "Strip of the zone's width along the bank, level measure on the ellipsoid", PRACTICE),
    ("Planted ground, ha", "Ground of the zone less the set-backs from crowns, fences, tracks and lines", PRACTICE),
    ("Plants", "Places of the zone's pattern and spacing that lie on planted ground, counted one by one", PRACTICE),
    ("Plants per ha", "Plants ÷ ground of the zone", PRACTICE),
    (
        "With losses",
        "Plants ÷ (1 − share lost), rounded up: each that dies is replaced until one lives there",
        PRACTICE,
    ),
    (
        "To order",
        (
            "With losses, rounded up to whole packs once for each species and stock; zones share the packs by largest "
            "remainder of their plants"
        ),
        PRACTICE,
    ),
    ("Fence, m", "Level length, straight from strainer to strainer, gates in it", PRACTICE),
    (
        "Strainers",
        "One at each end, on both sides of each gate, and where the fence turns or a strain ends",
        PRACTICE,
    ),
    ("Posts", "Strain ÷ distance between posts, rounded up, less one, for each strain; none in a gate", PRACTICE),
    ("Battens", "Bays between posts × battens in a bay; none in a gate", PRACTICE),
    ("Wire, m", "Length of fence without gates × number of wires", PRACTICE),
    ("In flood, m", "Length of fence on ground less than the recipe's height above the creek beside it", PRACTICE),
    ("Guards, stakes, mats", "Plants × number for one, rounded up for each kind of stock", "numbers in the recipe"),
    ("Planting, hours", "Plants with losses × minutes for one ÷ 60", "the grower's own minutes in the recipe"),
    ("Total of a line", "Quantity as printed × unit cost, rounded half up to the cent", PRACTICE),
    (
        "Grant, own cash, in kind",
        "Total × the share of each, to the cent, by largest remainder so that they add up to the total",
        "shares in the recipe",
    ),
    (
        "Cover, %",
        (
            "100 × area(union of crowns on the planting's ground) ÷ its area; crowns are discs of the diameter that "
            "each kind has at that age, straight lines between the ages given"
        ),
        "sizes by age as listed below; the union as for riparian cover",
    ),
    (
        "Cover of margins, %",
        "The same for the whole ground of each creek margin, with the crowns that stand there and those planted",
        "as for riparian cover",
    ),
    (
        "Months",
        (
            f"Counted from the first month of planting: order {ORDER_MONTHS_BEFORE} months before, fence "
            f"{FENCE_MONTHS_BEFORE} and ground {GROUND_MONTHS_BEFORE} months before, weeds {WEEDS_MONTHS_AFTER} months "
            f"after for {WEED_SEASONS} seasons; survival after {listed(list(map(str, COUNT_YEARS)))} years"
        ),
        "common practice; counts: Oregon State University Extension, seedling survival survey",
    ),
)
"""Figure, how it is worked out, and its source."""


ESTIMATES = "Forecasts of growth, cover and cost are estimates and no advice."


def sources(pack: PackContext) -> PackTable:
    """Return where values come from that figures rest on: crowns of species, growth of plants, widths, set-backs."""
    rows = dict.fromkeys((*_of_species(pack), *(row for one in pack.plans for row in _of_plan(one))))
    columns = (
        Column("value", ("Value",), words=True, about="What it is."),
        Column("source", ("Where it comes from",), words=True, about="Its source."),
    )
    grouped: dict[tuple[str, str], list[str]] = {}
    for what, name, source in rows:
        grouped.setdefault((what, source), []).append(name)
    cells = tuple(
        (f"{what}{': ' if any(names) else ''}{', '.join(name for name in names if name)}", source)
        for (what, source), names in grouped.items()
    )
    return PackTable("sources", "Values that these rest on", columns, cells, cells, notes=(ESTIMATES,))


def _of_species(pack: PackContext) -> Iterator[tuple[str, str, str]]:
    there = set(pack.without.trees["species"].tolist())
    table = pack.farm.species
    for code, name, source in zip(table["code"], table["name"], table["source"], strict=True):
        if code in there and source:
            yield "Crown estimated from the stem", str(name or code), str(source)


def _of_plan(one: PlanOfPack) -> Iterator[tuple[str, str, str]]:
    recipe = one.plan.recipe
    for width in recipe.widths:
        if width.rule_set:
            rule = rule_sets().get(width.rule_set)
            yield "Width of the planting", "", width.rule_set if rule is None else rule.words()
    for thing, source in recipe.set_backs.source.items():
        yield "Set-back from", thing.replace("_", " ").removesuffix(" m"), source
    for line in one.report.orders:
        kind = one.kinds.find(line.species)
        if kind is not None and kind.source:
            yield "Crown and height by age", one.report.called(line.species), kind.source
