"""``farmmap thin``: thinnings from the command line, to look at, hand out as a marking list, and mark in the farm.

Nothing heavy is imported before it is needed, and no Qt unless a field sheet is printed.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from farmmap.command_parts import (
    FARM,
    SHEET_ENDINGS,
    THE_FARM,
    block_called,
    farm_argument,
    format_option,
    on_option,
    page_asked,
    page_options,
    refuse_to_write,
    say,
)
from farmmap.errors import BadInput

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.plans.thinning.result import Thinning
    from farmmap.plans.thinning.rule import CropRule
    from farmmap.sheets.page import SheetOptions

OUT_ENDINGS = (".gpx", ".csv", *SHEET_ENDINGS)
AS_MARKED = "as-marked"
RULE_NUMBERS = (
    "percent", "under_cm", "radius_m", "gap_m", "least_share_percent", "basal_area_m2_per_ha", "stems_per_ha", "every",
    "first_row", "caution_percent",
)  # fmt: skip
CROP_NUMBERS = ("anew", "target_cm", "final_per_ha", "least_m", "weights", "species")
RULE_NAMES = ("below", "release-radius", "release-contact", "basal-area", "stocking", "rows", "none", AS_MARKED)


def _pairs(_ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> dict[str, float]:
    """Return what ``NAME=NUMBER`` says, again and again."""
    out: dict[str, float] = {}
    for value in values:
        name, _, number = value.rpartition("=")
        try:
            out[name.strip()] = float(number)
        except ValueError as error:
            raise click.BadParameter(f"'{value}' is not NAME=NUMBER, such as form=3", param=param) from error
        if not name.strip():
            raise click.BadParameter(f"'{value}' is not NAME=NUMBER, such as form=3", param=param)
    return out


@click.command()
@farm_argument
@click.option("--block", "name", required=True, metavar="NAME", help="Name of the block.")
@click.option(
    "--rule",
    type=click.Choice(RULE_NAMES),
    required=True,
    help="What goes now; none: crop trees are chosen only; as-marked: the marks that the farm has.",
)
@click.option("--percent", type=float, metavar="P", help="below: share of the stems.  [default: 30]")
@click.option("--under", "under_cm", type=float, metavar="CM", help="below: all stems thinner than this instead.")
@click.option(
    "--radius", "radius_m", type=float, metavar="M",
    help="release-radius: how far each crop tree is freed.  [default: half the crown it will have at its target]",
)  # fmt: skip
@click.option(
    "--gap", "gap_m", type=float, metavar="M",
    help="release-contact: crowns that come so near go as well.  [default: 0]",
)  # fmt: skip
@click.option(
    "--least-share", "least_share_percent", type=float, metavar="P",
    help="release: leave neighbours thinner than this share of the crop tree, in %.  [default: 0]",
)  # fmt: skip
@click.option(
    "--leave-basal-area", "basal_area_m2_per_ha", type=float, metavar="G",
    help="basal-area: what is to be left, in m²/ha.  [default: 20]",
)  # fmt: skip
@click.option(
    "--leave-stems", "stems_per_ha", type=float, metavar="N",
    help="stocking: stems/ha to be left.  [default: the final stocking]",
)  # fmt: skip
@click.option("--every", type=int, metavar="N", help="rows: every n-th.  [default: 5]")
@click.option(
    "--first-row", type=int, metavar="N",
    help="rows: the first that goes, counted from the west, or from the south if rows run east.  [default: 3]",
)  # fmt: skip
@click.option(
    "--caution", "caution_percent", type=float, metavar="P",
    help="Share of the basal area from which a heavy thinning is cautioned.  [default: 35]",
)  # fmt: skip
@click.option(
    "--crop/--no-crop", "choose", default=None,
    help="Choose crop trees beside those that are marked, or keep to those alone.  [default: choose if none is marked]",
)  # fmt: skip
@click.option("--anew", is_flag=True, help="crop: trees that are marked as crop need not stay so.")
@click.option("--target", "target_cm", type=float, metavar="CM", help="crop: target diameter; else the farm's own.")
@click.option("--final", "final_per_ha", type=float, metavar="N", help="crop: final stocking, in stems/ha.")
@click.option("--least", "least_m", type=float, metavar="M", help="crop: least distance between crop trees.")
@click.option(
    "--weight", "weights", metavar="WHAT=W", multiple=True, callback=_pairs,
    help="crop: how much form, diameter, species, dominance, room, pruned or clear counts.",
)  # fmt: skip
@click.option(
    "--wanted", "species", metavar="CODE=0..1", multiple=True, callback=_pairs,
    help="crop: how much a species is wanted.",
)  # fmt: skip
@on_option
@format_option
@click.option(
    "--out", type=FARM, metavar="FILE", help="Marking list: FILE.gpx or FILE.csv; sheet: FILE.pdf or FILE.png."
)
@page_options
@click.option("--accept", is_flag=True, help="Put the marks into the farm.")
def thin(
    farm_file: Path,
    name: str,
    rule: str,
    choose: bool | None,
    day: dt.date | None,
    form: str,
    out: Path | None,
    paper: str,
    compass: bool,
    accept: bool,
    **numbers: Any,
) -> None:
    """Work out a thinning of a block: crop trees, what goes now, and the stand before and after.

    The farm is left as it is unless --accept is given, and then only trees are marked, none felled.
    """
    from farmmap.files.farm_file import read_farm, write_edit_beside
    from farmmap.files.holding import held

    if out is not None:
        refuse_to_write(out, OUT_ENDINGS, (farm_file, THE_FARM))
    page = page_asked(out, farm_file.parent, paper, compass=compass)
    choose = _chooses(rule, choose, numbers)
    hold = None
    if accept and farm_file.exists():
        hold = click.get_current_context().with_resource(held(farm_file))
    farm = read_farm(farm_file)
    made = _made(farm, block_called(farm, name), rule, choose, day, numbers)
    shown = _shown(made, form)
    said = []
    if out is not None:
        said.append(_written(farm, made, out, page))
    if accept:
        from farmmap.plans.thinning.marks import marked

        proposed = marked(farm, made)
        if hold is not None:
            hold.refresh()  # this machine may have slept, and another taken the farm over
        write_edit_beside(farm_file, proposed.edit)
        said.append(f"{farm_file}: marked {len(made.take_ids)} to take out, {len(made.crop_ids)} as crop")
    say(shown)
    for line in said:
        click.echo(line, err=form != "text")


def _chooses(rule: str, choose: bool | None, numbers: dict[str, Any]) -> bool | None:
    """Return whether crop trees are chosen, None where it depends on marks; refuse what nothing would be done with."""
    from farmmap.plans.thinning.rule import NUMBERS

    options = {param.name: param.opts[0] for param in click.get_current_context().command.params}
    read = () if rule == AS_MARKED else (*NUMBERS[rule], "caution_percent")
    for name in RULE_NUMBERS:
        if numbers[name] is not None and name not in read:
            raise click.UsageError(f"the rule {rule} does not use {options[name]}; leave it out")
    if numbers["percent"] is not None and numbers["under_cm"] is not None:
        raise click.UsageError("give --percent or --under, not both")
    asked = [options[name] for name in CROP_NUMBERS if _given(numbers[name])]
    if rule == AS_MARKED and (asked or choose):
        raise click.UsageError(f"as-marked chooses no crop trees; leave {[*asked, '--crop'][0]} out")
    if choose is False and asked:
        raise click.UsageError(f"--no-crop chooses no crop trees; leave it or {asked[0]} out")
    return True if asked else choose


def _given(value: object) -> bool:
    return not (value is None or value is False or value == {})


def _made(
    farm: Farm, block: int, rule: str, choose: bool | None, day: dt.date | None, numbers: dict[str, Any]
) -> Thinning:
    from farmmap.plans.thinning.rule import ThinningRule
    from farmmap.plans.thinning.stand import block_trees
    from farmmap.plans.thinning.thinning import thinning, thinning_as_marked

    if rule == AS_MARKED:
        return thinning_as_marked(farm, block, day)
    if choose is None:
        choose = not (block_trees(farm, block, day).marks == "crop").any()
    given = {key: numbers[key] for key in RULE_NUMBERS if numbers[key] is not None}
    return thinning(farm, block, ThinningRule(rule, **given), day, _crop(farm, numbers) if choose else None)


def _crop(farm: Farm, numbers: dict[str, Any]) -> CropRule:
    from farmmap.farm.species import SpeciesFinder
    from farmmap.plans.thinning.rule import CropRule

    finder = SpeciesFinder(farm.species)
    wanted = {finder.code_of(word): value for word, value in numbers["species"].items()}
    if finder.newly_named:
        raise BadInput(f"no species is called '{finder.newly_named[0]}'; give its code or name as the farm has it")
    return CropRule(
        numbers["target_cm"],
        numbers["final_per_ha"],
        numbers["least_m"],
        weights=numbers["weights"],
        species=wanted,
        keep_marked=not numbers["anew"],
    )


def _shown(made: Thinning, form: str) -> str:
    if form == "text":
        cautions = [f"Caution: {caution}" for caution in made.cautions]
        return "\n".join((made.table.as_text().rstrip("\n"), *(("", *cautions) if cautions else ())))
    return {"csv": made.table.as_csv, "json": made.table.as_json}[form]()


def _written(farm: Farm, made: Thinning, out: Path, page: SheetOptions | None) -> str:
    if page is not None:
        from farmmap.sheets.marking_sheet import write_marking_sheet

        sheet = write_marking_sheet(farm, made, out, page)
        return f"{out}: {sheet.words}"
    from farmmap.plans.thinning.marking_list import write_marking

    return f"{out}: {write_marking(farm, made, out)} marked trees in walking order"
