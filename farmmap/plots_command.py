"""``farmmap plots``: sample plots from the command line: lay them out, hand them on, take counts in, tell the result.

Nothing heavy is imported before it is needed, and no Qt unless a field sheet is printed.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from farmmap.command_parts import (
    FARM,
    SHEET_ENDINGS,
    THE_FARM,
    Day,
    block_called,
    farm_argument,
    format_option,
    on_option,
    page_asked,
    page_options,
    refuse_to_write,
    say_table,
)
from farmmap.errors import BadInput

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm
    from farmmap.figures.result import FigureTable
    from farmmap.figures.sampling.zones import PlotShape
    from farmmap.plans.sampling.layout import Layout
    from farmmap.sheets.page import SheetOptions

OUT_ENDINGS = (*SHEET_ENDINGS, ".gpx", ".csv")
ALL = "all"
LAYS_OUT = frozenset(
    (
        "number", "spacing", "bearing", "parts", "by_spread", "shape", "radius", "area", "length", "width",
        "strip_bearing", "factor", "slope", "seed", "replace",
    )
)  # fmt: skip
"""Options that only say how plots are laid out."""

USUAL_M2 = 200.0
"""Ground of a circle if nothing else is said. [m²]"""


@click.command()
@farm_argument
@click.option(
    "--block",
    "names",
    multiple=True,
    metavar="NAME",
    help="Block, or all; may be given again. Without it, all that have plots.",
)
@on_option
@format_option
@click.option("--list", "listed", is_flag=True, help="List the plots themselves instead of what they say.")
@click.option(
    "--edge",
    type=click.Choice(["as counted", "inside only"]),
    default="as counted",
    show_default=True,
    help="Trees at the edge: each counts as noted, 1 or 2; or only those inside were counted, once each.",
)
@click.option("--lay-out", "design", type=click.Choice(["random", "grid", "stratified"]), help="Lay out new plots.")
@click.option("--plots", "number", type=click.IntRange(1, 2000), metavar="N", help="How many; on a grid about so many.")
@click.option("--spacing", type=float, metavar="M", help="From plot to plot on a grid, instead of --plots.")
@click.option("--bearing", type=float, metavar="DEG", help="How a grid's rows run, or the parts follow one another.")
@click.option(
    "--parts", type=click.IntRange(2, 26), default=4, show_default=True, help="Parts of one stratified block."
)
@click.option("--by-spread", is_flag=True, help="More plots where earlier plots of a part or block differ more.")
@click.option("--shape", type=click.Choice(["circle", "strip", "angle count"]), default="circle", show_default=True)
@click.option("--radius", type=float, metavar="M", help="Level radius of a circle.")
@click.option("--area", type=float, metavar="M2", help="Ground of a circle, instead of its radius.  [default: 200]")
@click.option("--length", type=float, metavar="M", help="Level length of a strip.")
@click.option("--width", type=float, metavar="M", help="Level width of a strip.")
@click.option("--strip-bearing", type=float, default=0.0, metavar="DEG", help="How strips run, from grid north.")
@click.option("--factor", type=float, metavar="M2HA", help="Basal area factor of an angle count.")
@click.option("--slope", type=float, metavar="DEG", help="Slope that is noted with the plots.")
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), help="Draw number: the same one gives the same plots again.")
@click.option("--replace", is_flag=True, help="Plots of the block that are not measured yet make way.")
@click.option("--counts", "counts_file", type=FARM, metavar="FILE.csv", help="Take in the counts of a CSV.")
@click.option("--measured-on", type=Day(), help="Day of those counts; today if not given.")
@click.option("--accept", is_flag=True, help="Put new plots, or counts, into the farm.")
@click.option("--out", type=FARM, metavar="FILE", help="Field sheet: FILE.pdf; for a GPS: FILE.gpx; a list: FILE.csv.")
@page_options
def plots(
    farm_file: Path,
    names: tuple[str, ...],
    day: dt.date | None,
    form: str,
    listed: bool,
    edge: str,
    design: str | None,
    counts_file: Path | None,
    measured_on: dt.date | None,
    accept: bool,
    out: Path | None,
    paper: str,
    compass: bool,
    **how: Any,
) -> None:
    """Tell what sample plots say of a block, lay new ones out, print their field sheet, take their counts in.

    The farm is left as it is unless --accept is given.
    """
    from farmmap.files.farm_file import read_farm, write_edit_beside
    from farmmap.files.holding import held

    _refuse(design, counts_file, measured_on, out, farm_file)
    page = page_asked(out, farm_file.parent, paper, compass=compass)
    hold = None
    if accept and farm_file.exists():
        hold = click.get_current_context().with_resource(held(farm_file))
    farm = read_farm(farm_file)
    said: list[str] = []
    proposed = _proposed(farm, names, design, how, counts_file, measured_on)
    if proposed is not None:
        farm = proposed.edit.apply(farm)
        said += [f"{proposed.edit.name}.", *proposed.notes]
    blocks = _blocks(farm, names) or None
    table = _table(farm, day, blocks, edge, listed=listed or design is not None)
    if out is not None:
        said += _written(farm, day, blocks, out, page)
    if proposed is not None and accept:
        if hold is not None:
            hold.refresh()  # this machine may have slept, and another taken the farm over
        write_edit_beside(farm_file, proposed.edit)
        said.append(f"{farm_file}: it is now in the farm")
    elif proposed is not None:
        said.append("The farm is as it was; add --accept to put this into it.")
    say_table(table, form)
    if said and form == "text":
        click.echo("")
    for line in said:
        click.echo(line, err=form != "text")


def _refuse(
    design: str | None, counts_file: Path | None, measured_on: dt.date | None, out: Path | None, farm_file: Path
) -> None:
    """Say at once what does not go together, or would do nothing."""
    if design is not None and counts_file is not None:
        raise click.UsageError("--lay-out and --counts do not go together: lay plots out, measure them, take counts in")
    context = click.get_current_context()
    for param in context.command.params if design is None else ():
        given = context.get_parameter_source(str(param.name)) is ParameterSource.COMMANDLINE
        if given and param.name in LAYS_OUT:
            raise click.UsageError(
                f"{param.opts[0]} says how plots are laid out; add --lay-out random (grid, stratified)"
            )
    if measured_on is not None and counts_file is None:
        raise click.UsageError("--measured-on is the day of counts that are taken in; give them with --counts")
    if measured_on is not None and measured_on > dt.datetime.now().astimezone().date():
        raise click.UsageError(f"--measured-on {measured_on.isoformat()} has not come yet")
    if out is not None:
        kept = () if counts_file is None else ((counts_file, "the file of counts"),)
        refuse_to_write(out, OUT_ENDINGS, (farm_file, THE_FARM), *kept)


def _proposed(
    farm: Farm,
    names: tuple[str, ...],
    design: str | None,
    how: dict[str, Any],
    counts_file: Path | None,
    measured_on: dt.date | None,
) -> Proposed | None:
    """Return the new plots or the counts that are asked for, None if neither is."""
    if design is not None:
        from farmmap.plans.sampling.layout import plots_laid_out

        if not names:
            raise BadInput("say in which block plots are to be laid out: --block NAME, or --block all")
        return plots_laid_out(farm, _blocks(farm, names), _layout(design, how))
    if counts_file is None:
        return None
    from farmmap.plans.sampling.counting import counts_from_file

    mine = _blocks(farm, names)
    return counts_from_file(farm, counts_file, measured_on, mine[0] if len(mine) == 1 else None)


def _table(farm: Farm, day: dt.date | None, blocks: list[int] | None, edge: str, *, listed: bool) -> FigureTable:
    from farmmap.figures.sampling.tables import plot_figures, plot_list

    return plot_list(farm, day, blocks) if listed else plot_figures(farm, day, blocks, edge)


def _blocks(farm: Farm, names: tuple[str, ...]) -> list[int]:
    """Return the ids of blocks by name, "all" for all that exist."""
    found: list[int] = []
    for name in names:
        if name.strip().casefold() == ALL:
            found += farm.blocks.index[(farm.blocks["stage"] == "existing").to_numpy(bool)].tolist()
        else:
            found.append(block_called(farm, name))
    return list(dict.fromkeys(found))


def _layout(design: str, how: dict[str, Any]) -> Layout:
    import secrets

    from farmmap.plans.sampling.layout import Layout

    if how["number"] is None and not (design == "grid" and how["spacing"] is not None):
        raise click.UsageError("say how many plots: --plots N" + (" or --spacing M" if design == "grid" else ""))
    return Layout(
        design,
        how["number"],
        how["spacing"],
        math.nan if how["bearing"] is None else how["bearing"],
        how["parts"],
        how["by_spread"],
        secrets.randbelow(100_000) if how["seed"] is None else how["seed"],
        _shape(how),
        math.nan if how["slope"] is None else how["slope"],
        how["replace"],
    )


def _shape(how: dict[str, Any]) -> PlotShape:
    """Return what each new plot takes in."""
    from farmmap.figures.sampling.zones import ANGLE_COUNT, STRIP, PlotShape, circle_radius_m

    kind = how["shape"]
    if kind == ANGLE_COUNT:
        if how["factor"] is None:
            raise click.UsageError("an angle count needs its --factor, such as 2")
        return PlotShape(kind, baf_m2=how["factor"])
    if kind == STRIP:
        if how["length"] is None or how["width"] is None:
            raise click.UsageError("a strip needs its --length and --width")
        return PlotShape(kind, length_m=how["length"], width_m=how["width"], bearing_deg=how["strip_bearing"] % 360)
    if how["radius"] is not None:
        return PlotShape(kind, radius_m=how["radius"])
    area = USUAL_M2 if how["area"] is None else how["area"]
    if not area > 0:
        raise click.UsageError("a circle has more ground than none: --area 200")
    return PlotShape(kind, radius_m=circle_radius_m(area))


def _written(
    farm: Farm, day: dt.date | None, blocks: list[int] | None, out: Path, page: SheetOptions | None
) -> list[str]:
    """Write a field sheet or a list, and say what was written."""
    from farmmap.figures.sampling.sampled import block_of_each_plot

    of = block_of_each_plot(farm)
    some = blocks if blocks is not None else sorted({int(block) for block in of.tolist() if block >= 0})
    if page is None:
        from farmmap.figures.sampling.counts import how_many
        from farmmap.plans.sampling.handing_on import write_plots

        return [f"{out}: {how_many(write_plots(farm, some, out))}"]
    from farmmap.sheets.plot_sheet import compose_plots
    from farmmap.sheets.write import write_sheet

    some = [block for block in some if (of == block).any()]
    said = []
    for block in some:
        name = re.sub(r"[^\w -]+", "_", str(farm.blocks["name"].loc[block])) or f"block {block}"
        path = out if len(some) == 1 else out.with_name(f"{out.stem} {name}{out.suffix}")
        sheet = compose_plots(farm, block, day, page)
        write_sheet(sheet, path)
        said.append(f"{path}: {sheet.words}")
    if not said:
        raise BadInput("no sample plots are laid out there, so there is no sheet to print")
    return said
