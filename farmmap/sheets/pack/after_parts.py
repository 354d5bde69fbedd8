"""Parts about what comes after: maintenance and monitoring, permissions, and how figures were worked out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.margins import margins
from farmmap.plans.planting.outcome.months import COUNT_YEARS, Work
from farmmap.scene.page_flow import Flowing
from farmmap.scene.page_plan import zone_letter
from farmmap.sheets.pack.context import PackContext, PlanOfPack
from farmmap.sheets.pack.farm_tables import BLOCK_FIGURES, FARM_FIGURES, MARGIN_FIGURES
from farmmap.sheets.pack.pack_table import Column, PackTable, whole
from farmmap.sheets.pack.plan_tables import calendar_table
from farmmap.sheets.pack.workings import PLANTING_WORKINGS, sources

MAINTENANCE_YEARS = (0, 1, 2, 3, 5, 10)


def maintenance_intro(pack: PackContext) -> str:
    """Say what is known and what is to be filled in."""
    if pack.plans:
        return (
            "What the plan itself says is filled in; what is left open is for the grower to write, with who does it "
            "and who pays."
        )
    return "For the grower to fill in: what is done each year, who does it and who pays."


def maintenance(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Calendar, maintenance by year, survival counts."""
    for one, before in pack.titled:
        yield calendar_table(one, f"{before}work by month" if before else "Work by month")
        yield _by_year(one.report.calendar.works, f"{before}maintenance by year" if before else "Maintenance by year")
        yield _survival(one, f"{before}survival counts" if before else "Survival counts")
    if not pack.plans:
        yield _by_year((), "Maintenance by year")


def _by_year(works: Sequence[Work], title: str) -> PackTable:
    rows = []
    for year in MAINTENANCE_YEARS:
        own = [work for work in works if work.year == year]
        weeds = ", ".join(work.when.partition(",")[0] for work in own if "weeds" in work.what)
        guards = "take off" if any("guards off" in work.what for work in own) else ""
        blanks = "count, replace" if any("replace" in work.what for work in own) else ""
        blanks = blanks or ("count" if any(work.what.startswith("Count") for work in own) else "")
        name = "Planting" if works and not year else f"Year {year}" if year else "Now"
        rows.append((name, weeds, guards, blanks, "", "", "", ""))
    columns = (
        Column("year", ("Year",), words=True, about="Years after planting."),
        Column("weeds", ("Weeds:", "when, how"), words=True, about="When weeds are kept down."),
        Column("guards", ("Guards",), words=True, about="What is done with guards."),
        Column("blanks", ("Blanks",), words=True, about="Counts and replanting."),
        Column("fence", ("Fence and", "flood check"), words=True, about="To fill in."),
        Column("grazing", ("Grazing",), words=True, about="To fill in."),
        Column("photo", ("Photo",), words=True, about="To fill in."),
        Column("who_pays", ("Who does it, who pays",), words=True, about="To fill in."),
    )
    return PackTable("maintenance", title, columns, tuple(rows), tuple(rows), written_on=True)


def _survival(one: PlanOfPack, title: str) -> PackTable:
    """Return rows to write survival counts into, for each zone and year in which the plan counts."""
    rows: list[tuple[object, ...]] = []
    cells: list[tuple[str, ...]] = []
    begins: list[int] = []
    zones = [(place, zone) for place, zone in enumerate(one.plan.recipe.zones) if zone.mix]
    for place, zone in zones:
        begins.append(len(rows))
        planted = sum(line.plants for line in one.report.orders if line.zone == place)
        for at, year in enumerate(COUNT_YEARS):
            name, open_ = (zone_letter(place), zone.name), ("",) * 4
            rows.append((*name, planted, year, *open_))
            cells.append((*(("", "", "") if at else (*name, whole(planted))), str(year), *open_))
    columns = (
        Column("zone", ("",), words=True, about="Letter of the zone on the map."),
        Column("zone_name", ("Zone",), words=True, about="Name of the zone."),
        Column("planted", ("Planted",), about="Plants in the zone."),
        Column("year", ("Year",), about="Years after planting."),
        Column("counted", ("Counted",), words=True, about="To fill in."),
        Column("alive", ("Alive",), words=True, about="To fill in."),
        Column("percent", ("%",), words=True, about="To fill in."),
        Column("note", ("Day, who counted, what to replace",), words=True, about="To fill in."),
    )
    return PackTable(
        "survival", title, columns, tuple(rows), tuple(cells), begins=frozenset(begins[1:]), written_on=True
    )


def workings_intro(pack: PackContext) -> str:
    """Say what holds for all figures."""
    plane = "measured on the farm's own plane" if pack.farm.grid.local else "level ground measure on the ellipsoid"
    return (
        f"Figures of {pack.farm.settings.name} are worked out from what is in its farm file. Areas and lengths are "
        f"{plane}; diameters are over bark."
    )


def workings(pack: PackContext) -> Iterator[Flowing | PackTable]:
    """Every figure that stands in the pack with its formula and source."""
    of_blocks, of_margins = BLOCK_FIGURES if pack.has_blocks else (), MARGIN_FIGURES if margins(pack.farm) else ()
    names = list(dict.fromkeys((*FARM_FIGURES, *of_blocks, *of_margins)))
    known = [CATALOGUE[name] for name in names if CATALOGUE[name].formula]
    cells = tuple(
        (f"{figure.title}{f', {figure.unit}' if figure.unit else ''}", _formula(figure.symbol, figure.formula),
         figure.source)
        for figure in known
    )  # fmt: skip
    columns = (
        Column("figure", ("Figure",), words=True, about="What it is, with its unit."),
        Column("formula", ("How it is worked out",), words=True, about="Its formula."),
        Column("source", ("Source",), words=True, about="Where formula or convention come from."),
    )
    yield PackTable("workings", "The farm, its blocks and creek margins", columns, cells, cells)
    if pack.plans:
        yield PackTable("workings_planting", "The planting", columns, PLANTING_WORKINGS, PLANTING_WORKINGS)
    yield sources(pack)


def _formula(symbol: str, formula: str) -> str:
    return f"{symbol} = {formula}" if symbol else formula
