"""``farmmap plant``: a planting along a creek from the command line, to look at, hand on and accept.

Nothing heavy is imported before it is needed, and no Qt at all.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from farmmap.errors import BadInput

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.plans.planting.ground.stretch import Stretch
    from farmmap.plans.planting.plan import PlantingPlan
    from farmmap.plans.planting.recipes.recipe import Recipe

OUT_ENDINGS = (".gpkg", ".gpx", ".geojson", ".csv")
BANKS = {"left": ("left",), "right": ("right",), "both": ("left", "right")}
YEARS = (1.0, 5.0, 10.0, 20.0)
"""Years after planting for which cover is told."""

_FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.argument("farm_file", metavar="FARM.gpkg", type=_FILE)
@click.option("--creek", required=True, help="Name of the creek.")
@click.option("--bank", type=click.Choice(list(BANKS)), required=True, help="Which bank, looking downstream.")
@click.option("--from", "from_m", type=float, metavar="M", help="Metres along the creek from its top; else its top.")
@click.option("--to", "to_m", type=float, metavar="M", help="Metres along the creek from its top; else its end.")
@click.option("--recipe", "recipe_file", type=_FILE, metavar="RECIPE.toml", required=True, help="What is planted how.")
@click.option("--name", default="", help="What the plan is called; else as the creek.")
@click.option("--format", "form", type=click.Choice(["text", "csv", "json"]), default="text", show_default=True)
@click.option("--out", type=_FILE, metavar="PLAN", help="Pegging list: PLAN.gpkg, PLAN.gpx, PLAN.geojson or PLAN.csv.")
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

    if out is not None:
        _may_write(out, farm_file, recipe_file)
    hold = None
    if accept and farm_file.exists():
        hold = click.get_current_context().with_resource(held(farm_file))
    farm = read_farm(farm_file)
    recipe = _recipe(farm, recipe_file)
    stretch = Stretch(_creek(farm, creek), BANKS[bank], from_m, to_m)
    plan = _plan(farm, farm_file.parent, stretch, recipe, name.strip(), recipe_file)
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
    click.echo(shown.rstrip("\r\n"))
    for line in said:
        click.echo(line, err=form != "text")


def _may_write(out: Path, farm_file: Path, recipe_file: Path) -> None:
    """Say at once if the file to write would be of no use, or would be written over what must stay."""
    if out.suffix.lower() not in OUT_ENDINGS:
        raise click.BadParameter(f"{out} ends in none of {', '.join(OUT_ENDINGS)}", param_hint="--out")
    for other, words in ((farm_file, "the farm itself"), (recipe_file, "the recipe")):
        if out.resolve() == other.resolve() or (out.exists() and other.exists() and out.samefile(other)):
            raise click.BadParameter(f"{out} is {words}; give the plan another name", param_hint="--out")
    if not out.resolve().parent.is_dir():
        raise click.BadParameter(f"the folder of {out} is not there; make it first", param_hint="--out")


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


def _plan(farm: Farm, folder: Path, stretch: Stretch, recipe: Recipe, name: str, recipe_file: Path) -> PlantingPlan:
    from farmmap.plans.planting.make import make_plan
    from farmmap.plans.planting.recipes.recipe_file import own_rules_beside
    from farmmap.plans.planting.recipes.rules import rule_sets
    from farmmap.scene.backdrops import find_backdrops

    heights = find_backdrops(farm, folder).heights
    rules = rule_sets(own_rules_beside(recipe_file))
    return make_plan(farm, stretch, recipe, name=name, heights=heights, rule_sets=rules)


def _report(farm: Farm, plan: PlantingPlan, form: str) -> str:
    from farmmap.plans.planting.outcome.cover import expected_cover
    from farmmap.plans.planting.outcome.months import latitude_deg
    from farmmap.plans.planting.outcome.report import plan_report
    from farmmap.plans.planting.outcome.words import plan_as_csv, plan_as_json, plan_as_text
    from farmmap.plans.planting.recipes.kinds import plant_kinds

    kinds = plant_kinds(farm, plan.recipe)
    report = plan_report(plan, expected_cover(farm, plan, kinds, YEARS), latitude_deg(farm, plan))
    return {"text": plan_as_text, "csv": plan_as_csv, "json": plan_as_json}[form](report)
