"""``farmmap plant`` and ``farmmap replant``: plantings from the command line, to look at, hand on, accept, mend.

Nothing heavy is imported before it is needed, and no Qt unless a field sheet is printed.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from farmmap.command_parts import (
    FARM,
    SHEET_ENDINGS,
    THE_FARM,
    farm_argument,
    format_option,
    page_asked,
    page_options,
    refuse_to_write,
    say,
)
from farmmap.errors import BadInput

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.plans.planting.ground.stretch import Stretch
    from farmmap.plans.planting.keeping.gapping import Counted
    from farmmap.plans.planting.plan import PlantingPlan
    from farmmap.plans.planting.recipes.kinds import PlantKinds
    from farmmap.plans.planting.recipes.recipe import Recipe

OUT_ENDINGS = (".gpkg", ".gpx", ".geojson", ".csv")
BANKS = {"left": ("left",), "right": ("right",), "both": ("left", "right")}
YEARS = (1.0, 5.0, 10.0, 20.0)
"""Years after planting for which cover is told."""


@click.command()
@farm_argument
@click.option("--creek", required=True, help="Name of the creek.")
@click.option("--bank", type=click.Choice(list(BANKS)), required=True, help="Which bank, looking downstream.")
@click.option("--from", "from_m", type=float, metavar="M", help="Metres along the creek from its top; else its top.")
@click.option("--to", "to_m", type=float, metavar="M", help="Metres along the creek from its top; else its end.")
@click.option("--recipe", "recipe_file", type=FARM, metavar="RECIPE.toml", required=True, help="What is planted how.")
@click.option("--name", default="", help="What the plan is called; else as the creek.")
@format_option
@click.option("--out", type=FARM, metavar="PLAN", help="Pegging list: PLAN.gpkg, PLAN.gpx, PLAN.geojson or PLAN.csv.")
@click.option("--accept", is_flag=True, help="Put the plan into the farm as planned trees, fences and blocks.")
def plant(
    farm_file: Path,
    creek: str,
    bank: str,
    from_m: float | None,
    to_m: float | None,
    recipe_file: Path,
    name: str,
    form: str,
    out: Path | None,
    accept: bool,
) -> None:
    """Plan a planting along a creek: where each plant stands, what to order, the fence and the costs.

    The farm is left as it is unless --accept is given.
    """
    from farmmap.files.farm_file import read_farm, write_edit_beside
    from farmmap.files.holding import held
    from farmmap.plans.planting.ground.stretch import Stretch
    from farmmap.plans.planting.recipes.printable import refuse_not_printed

    refuse_not_printed(name, "the name of the plan (--name)")
    if out is not None:
        refuse_to_write(out, OUT_ENDINGS, (farm_file, THE_FARM), (recipe_file, "the recipe"))
    hold = None
    if accept and farm_file.exists():
        hold = click.get_current_context().with_resource(held(farm_file))
    farm = read_farm(farm_file)
    recipe = _recipe(farm, recipe_file)
    stretch = Stretch(_creek(farm, creek), BANKS[bank], from_m, to_m)
    plan = _plan(farm, farm_file.parent, stretch, recipe, name.strip())
    shown = _report(farm, plan, form)
    said = []
    if out is not None:
        from farmmap.plans.planting.keeping.handing_on import write_pegging

        write_pegging(plan, farm, out)
        said.append(f"{out}: {len(plan.plants)} plants to be pegged out")
    if accept:
        from farmmap.plans.planting.keeping.accept import plan_accepted

        proposed = plan_accepted(farm, plan)
        if hold is not None:
            hold.refresh()  # this machine may have slept, and another taken the farm over
        write_edit_beside(farm_file, proposed.edit)
        said += [*proposed.notes, f"{farm_file}: the plan is now in the farm, as planned"]
    say(shown)
    for line in said:
        click.echo(line, err=form != "text")


@click.command()
@farm_argument
@click.option("--plan", "name", required=True, help="Name of the plan, as the farm keeps it.")
@click.option(
    "--alive",
    "counts",
    metavar="WHAT=ALIVE/COUNTED",
    multiple=True,
    help="What was counted: a species, a zone, ZONE: SPECIES, or all. May be given again and again.",
)
@click.option("--target", type=float, default=100.0, show_default=True, metavar="PERCENT", help="To stand again.")
@click.option(
    "--out",
    type=FARM,
    metavar="FILE",
    help="Before the count, a field sheet for it: FILE.pdf or FILE.png. With --alive, what to plant again: FILE.csv.",
)
@page_options
def replant(
    farm_file: Path, name: str, counts: tuple[str, ...], target: float, out: Path | None, paper: str, *, compass: bool
) -> None:
    """Print a field sheet for a survival count, or work out from a count what to plant again and to order.

    The closest count holds for each species of each zone: 'Bank: tōtara=35/40' goes before tōtara=300/400, that
    before Bank=900/1000, and that before all=1800/2000. The farm is left as it is.
    """
    from farmmap.files.farm_file import read_farm
    from farmmap.plans.planting.keeping.gapping import gapping, write_gapping
    from farmmap.plans.planting.keeping.kept import PLANTED, plan_called, recipe_of
    from farmmap.plans.planting.outcome.costs import called
    from farmmap.plans.planting.outcome.words import aligned
    from farmmap.plans.planting.recipes.kinds import plant_kinds
    from farmmap.scene.page_plan import farm_without

    if not counts:
        if out is None:
            raise click.UsageError(
                "say what was counted with --alive WHAT=ALIVE/COUNTED, or print a sheet to count with: --out FILE.pdf"
            )
        refuse_to_write(out, SHEET_ENDINGS, (farm_file, THE_FARM))
        page = page_asked(out, farm_file.parent, paper, compass=compass)
        from farmmap.sheets.survival_sheet import write_survival_sheet

        click.echo(f"{out}: {write_survival_sheet(read_farm(farm_file), name, out, page).words}")
        return
    if out is not None:
        refuse_to_write(out, (".csv",), (farm_file, THE_FARM))
    page_asked(out, farm_file.parent, paper, compass=compass)
    farm = read_farm(farm_file)
    kept = plan_called(farm, name)
    without = farm_without(farm, kept.name)
    plan = _plan(without, farm_file.parent, kept.stretch, recipe_of(farm, kept), kept.name)
    kinds = plant_kinds(farm, plan.recipe)
    found = gapping(plan, [_counted(plan, kinds, count) for count in counts], target_percent=target)
    if out is not None:
        write_gapping(plan, found, out, farm)
    ordered = {(line.zone_name, line.species, line.stock): line.to_order for line in found.orders}
    rows = [
        [
            gap.zone, called(gap.species, kinds), gap.stock, f"{gap.planted:,}", f"{gap.alive:,}",
            f"{gap.to_replace:,}", f"{ordered.get((gap.zone, gap.species, gap.stock), 0):,}",
        ]
        for gap in found.gaps
    ]  # fmt: skip
    heads = ("Zone", "Species", "Stock", "Planted", "Alive", "Again", "To order")
    click.echo(aligned(f"{kept.name}: what to plant again", heads, rows, (0, 1, 2)))
    if kept.state != PLANTED:
        click.echo(f"\n{kept.name} is not marked as planted: all of its plants are taken to have been.")
    click.echo("\n" + "\n".join(found.notes))
    if out is not None:
        click.echo(f"{out}: {sum(gap.to_replace for gap in found.gaps)} plants to be planted again")


def _counted(plan: PlantingPlan, kinds: PlantKinds, words: str) -> Counted:
    """Return what ``WHAT=ALIVE/COUNTED`` says."""
    from farmmap.farm.species import plain
    from farmmap.plans.planting.keeping.gapping import Counted

    what, _, numbers = words.rpartition("=")
    alive, _, planted = (part.strip() for part in numbers.partition("/"))
    if not (what.strip() and alive.isdecimal() and planted.isdecimal()):
        raise click.BadParameter(f"'{words}' is no count; write it like tōtara=340/400", param_hint="--alive")
    zones = {plain(zone.name): zone.name for zone in plan.recipe.zones}
    zone, _, species = what.rpartition(":")
    if plain(what) in zones:
        zone, species = what, ""
    elif not zone and plain(species) == "all":
        species = ""
    kind = kinds.find(species) if species else None
    same = (kin.species for _, kin in plan.kinds if kind is not None and kinds.find(kin.species) == kind)
    return Counted(
        int(alive),
        int(planted),
        zones.get(plain(zone), zone.strip()) if zone.strip() else None,
        next(same, species.strip()) if species else None,
    )


def _recipe(farm: Farm, path: Path) -> Recipe:
    from farmmap.plans.planting.recipes.kinds import plant_kinds
    from farmmap.plans.planting.recipes.recipe_file import read_recipe

    return read_recipe(path, plant_kinds(farm).find)


def _creek(farm: Farm, name: str) -> str:
    """Return the creek's name as the farm writes it.

    Raises
    ------
    BadInput
        There is none of that name; the message lists those there are.
    """
    names = [known for known in dict.fromkeys(farm.creeks["name"].tolist()) if known]
    same = [known for known in names if known == name] or [
        known for known in names if known.casefold() == name.strip().casefold()
    ]
    if same:
        return same[0]
    if not names:
        raise BadInput(
            f"there is no creek '{name}', as the farm has none with a name yet; draw it or bring it in first"
        )
    raise BadInput(f"there is no creek '{name}' on this farm; there are: {', '.join(sorted(names))}")


def _plan(farm: Farm, folder: Path, stretch: Stretch, recipe: Recipe, name: str) -> PlantingPlan:
    from farmmap.plans.planting.make import make_plan
    from farmmap.scene.backdrops import find_backdrops

    heights = find_backdrops(farm, folder).heights
    return make_plan(farm, stretch, recipe, name=name, heights=heights)


def _report(farm: Farm, plan: PlantingPlan, form: str) -> str:
    from farmmap.plans.planting.outcome.cover import expected_cover
    from farmmap.plans.planting.outcome.months import latitude_deg
    from farmmap.plans.planting.outcome.report import plan_report
    from farmmap.plans.planting.outcome.words import plan_as_csv, plan_as_json, plan_as_text
    from farmmap.plans.planting.recipes.kinds import plant_kinds

    kinds = plant_kinds(farm, plan.recipe)
    report = plan_report(plan, expected_cover(farm, plan, kinds, YEARS), latitude_deg(farm, plan), kinds)
    return {"text": plan_as_text, "csv": plan_as_csv, "json": plan_as_json}[form](report)
